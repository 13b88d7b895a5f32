package location

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/negotiation"
	"portside/decode/rules"
)

// renewed are connections with a programmable contract that is asked for anew each 4 s, as the
// sink must within 10 s (tPPSRequest), and that a Hard Reset ends so long after the first.
func renewed(heldS float64, times int) []build {
	return []build{meter(10, 100), level(0, 1, 5.1, 0.01), level(1, 100, 9.5, 2), messages(200, 100), func(f *rules.Facts) {
		mv, ma := 9500, 3000
		for i := range times {
			at := 1 + (heldS+2)*float64(i)
			for from := 0.0; from < heldS; from += 4 {
				c := negotiation.Contract{StartS: ref(at + from), EndS: ref(at + min(from+4, heldS)), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma, EndedBy: "new-contract"}
				if from+4 >= heldS {
					c.EndedBy = "hard-reset"
				}
				f.Negotiation.Contracts = append(f.Negotiation.Contracts, c)
			}
		}
	}}
}

// unrenewed are the same without a Request after the first.
func unrenewed(heldS float64, times int) []build {
	return append(renewed(heldS, 0), func(f *rules.Facts) {
		mv, ma := 9500, 3000
		for i := range times {
			at := 1 + (heldS+2)*float64(i)
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: ref(at), EndS: ref(at + heldS), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma, EndedBy: "hard-reset"})
		}
	})
}

// lapsedOnce is a programmable contract whose next Request is due at 14 s, and ends by a Hard
// Reset so long after that.
func lapsedOnce(after float64, by string) []build {
	return []build{meter(10, 60), level(0, 1, 5.1, 0.01), level(1, 60, 9.5, 2), messages(40, 40), func(f *rules.Facts) {
		mv, ma := 9500, 3000
		f.Negotiation.PPSMissed = []negotiation.Moment{{TimeS: 14}}
		f.Negotiation.Contracts = []negotiation.Contract{
			{StartS: ref(4.0), EndS: ref(14 + after), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma, EndedBy: by},
			{StartS: ref(30.0), Kind: "pps", VoltageMV: &mv, CurrentMA: &ma},
		}
	}}
}

// startsBy are attempts at a contract that each end where they say, one after the other.
func startsBy(missing ...negotiation.Step) []build {
	return []build{meter(50, 60), level(0, 5, 5.1, 0.01), level(5, 60, 20, 1), messages(80, 40), offered(5000, 20000), contract(5, 20000, 3000), func(f *rules.Facts) {
		for _, m := range missing {
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{Missing: m})
		}
	}}
}

// A source waits for a Request of a programmable contract for 12 to 15 s and resets it then
// (tPPSTimeout, USB PD R3.2 V1.1 table 6.68); what it answers begins that time anew.
func TestRenewal(t *testing.T) {
	const timer = "tPPSTimeout: USB PD R3.2 V1.1 table 6.68"
	ignored := said(picture.ignores)
	lapses := said(picture.lapses)
	const heard, unheard = negotiation.StepDone, negotiation.StepAcknowledge
	starts := func(p picture) string {
		m := newModel()
		for _, o := range m.start(p) {
			if o.node == startTopic().name {
				for _, r := range startTopic().rows {
					if slices.Equal(m.observe(startTopic(), exactly(r.outcome), "").like, o.like) {
						return r.outcome
					}
				}
			}
		}
		return ""
	}
	showSigns(t, []sign{
		{"reset 13.5 s after the first, three times", renewed(13.5, 3), ignored, "yes", timer},
		{"of which no second came", unrenewed(13.5, 3), ignored, "", "then the source has waited for one: as the first"},
		{"once", renewed(13.5, 1), ignored, "", "common practice"},
		{"30 s after it", renewed(30, 3), ignored, "", "as the first"},
		{"3 s after it, before a second was due", renewed(3, 3), ignored, "", "as the first"},

		{"no Request in 10 s, and a Hard Reset 4 s later", lapsedOnce(4, "hard-reset"), lapses, "yes", timer},
		{"9 s later", lapsedOnce(9, "hard-reset"), lapses, "", "it was asked in between, and the recorder missed it"},
		{"and the plug is pulled then", lapsedOnce(4, "detach"), lapses, "", "as above"},

		{"two starts without an answer, and then a contract", startsBy(unheard, unheard, heard), starts, startLate, "a controller boots without its battery within some seconds: common practice"},
		{"six of them", startsBy(unheard, unheard, unheard, unheard, unheard, unheard, heard), starts, startRough, "common practice"},
		{"acknowledged, and no Request", startsBy(negotiation.StepRequest, unheard, heard), starts, startLate, "hardware acknowledges: USB PD R3.2 V1.1 table 6.68 (tReceive)"},
		{"two that end after the Request", startsBy(negotiation.StepAnswer, negotiation.StepAnswer, heard), starts, startRough, "who asks has booted: common practice"},
		{"none", startsBy(heard), starts, startSmooth, "common practice"},
	})
}

// A lapse of the contract is what ends a draw that climbs, and no overload.
func TestLapseEndsTheClimb(t *testing.T) {
	climbing := append(lapsedOnce(4, "hard-reset"), stairs(3, nil))
	pattern := func(builds []build) string {
		s, _ := look(evidence(t, nil, builds...)).climbs(look(evidence(t, nil, builds...)).meter())
		return largest(s)
	}
	assert.Empty(t, pattern(climbing))
	assert.Equal(t, drawStairsFall, pattern(append(lapsedOnce(9, "hard-reset"), stairs(3, nil))))
}
