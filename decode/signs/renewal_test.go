package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// renewed are connections with a programmable contract that is asked for anew each 4 s, as the
// sink must within 10 s (tPPSRequest), and that a Hard Reset ends so long after the first.
func renewed(heldS float64, times int) []build.Build {
	return []build.Build{build.Meter(10, 100), build.Level(0, 1, 5.1, 0.01), build.Level(1, 100, 9.5, 2), build.Messages(200, 100), func(f *rules.Facts) {
		mv, ma := 9500, 3000
		for i := range times {
			at := 1 + (heldS+2)*float64(i)
			for from := 0.0; from < heldS; from += 4 {
				c := negotiation.Contract{StartS: build.Ref(at + from), EndS: build.Ref(at + min(from+4, heldS)), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma, EndedBy: "new-contract"}
				if from+4 >= heldS {
					c.EndedBy = "hard-reset"
				}
				f.Negotiation.Contracts = append(f.Negotiation.Contracts, c)
			}
		}
	}}
}

// unrenewed are the same without a Request after the first.
func unrenewed(heldS float64, times int) []build.Build {
	return append(renewed(heldS, 0), func(f *rules.Facts) {
		mv, ma := 9500, 3000
		for i := range times {
			at := 1 + (heldS+2)*float64(i)
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: build.Ref(at), EndS: build.Ref(at + heldS), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma, EndedBy: "hard-reset"})
		}
	})
}

// lapsedOnce is a programmable contract whose next Request is due at 14 s, and ends by a Hard
// Reset so long after that.
func lapsedOnce(after float64, by string) []build.Build {
	return []build.Build{build.Meter(10, 60), build.Level(0, 1, 5.1, 0.01), build.Level(1, 60, 9.5, 2), build.Messages(40, 40), func(f *rules.Facts) {
		mv, ma := 9500, 3000
		f.Negotiation.PPSMissed = []negotiation.Moment{{TimeS: 14}}
		f.Negotiation.Contracts = []negotiation.Contract{
			{StartS: build.Ref(4.0), EndS: build.Ref(14 + after), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma, EndedBy: by},
			{StartS: build.Ref(30.0), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma},
		}
	}}
}

// startsBy are attempts at a contract that each end where they say, one after the other.
func startsBy(missing ...negotiation.Step) []build.Build {
	return []build.Build{build.Meter(50, 60), build.Level(0, 5, 5.1, 0.01), build.Level(5, 60, 20, 1), build.Messages(80, 40), build.Offered(5000, 20000), build.Contract(5, 20000, 3000), func(f *rules.Facts) {
		for _, m := range missing {
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{Missing: m})
		}
	}}
}

// A source waits for a Request of a programmable contract for 12 to 15 s and resets it then
// (tPPSTimeout, USB PD R3.2 V1.1 table 6.68); what it answers begins that time anew.
func TestRenewal(t *testing.T) {
	const timer = "tPPSTimeout: USB PD R3.2 V1.1 table 6.68"
	ignored := said(Picture.ignores)
	lapses := said(Picture.lapses)
	const heard, unheard = negotiation.StepDone, negotiation.StepAcknowledge
	starts := func(p Picture) string { s, _ := p.Starts(); return one(s) }
	showSigns(t, []sign{
		{"reset 13.5 s after the first, three times", renewed(13.5, 3), ignored, "yes", timer},
		{"of which no second came", unrenewed(13.5, 3), ignored, "", "then the source has waited for one: as the first"},
		{"once", renewed(13.5, 1), ignored, "", "common practice"},
		{"30 s after it", renewed(30, 3), ignored, "", "as the first"},
		{"3 s after it, before a second was due", renewed(3, 3), ignored, "", "as the first"},

		{"no Request in 10 s, and a Hard Reset 4 s later", lapsedOnce(4, "hard-reset"), lapses, "yes", timer},
		{"9 s later", lapsedOnce(9, "hard-reset"), lapses, "", "it was asked in between, and the recorder missed it"},
		{"and the plug is pulled then", lapsedOnce(4, "detach"), lapses, "", "as above"},

		{"two starts without an answer, and then a contract", startsBy(unheard, unheard, heard), starts, StartLate, "a controller boots without its battery within some seconds: common practice"},
		{"six of them", startsBy(unheard, unheard, unheard, unheard, unheard, unheard, heard), starts, StartRough, "common practice"},
		{"acknowledged, and no Request", startsBy(negotiation.StepRequest, unheard, heard), starts, StartLate, "hardware acknowledges: USB PD R3.2 V1.1 table 6.68 (tReceive)"},
		{"two that end after the Request", startsBy(negotiation.StepAnswer, negotiation.StepAnswer, heard), starts, StartRough, "who asks has booted: common practice"},
		{"none", startsBy(heard), starts, StartSmooth, "common practice"},
	})
}

// A lapse of the contract is what ends a draw that climbs, and no overload.
func TestLapseEndsTheClimb(t *testing.T) {
	climbing := append(lapsedOnce(4, "hard-reset"), build.Stairs(3, nil))
	pattern := func(builds []build.Build) string {
		s, _ := seeing(builds...).climbs(seeing(builds...).Meter())
		return largest(s)
	}
	assert.Empty(t, pattern(climbing))
	assert.Equal(t, DrawStairsFall, pattern(append(lapsedOnce(9, "hard-reset"), build.Stairs(3, nil))))
}
