package charger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// begun attaches, brings VBUS up and leaves the cable to be read before the offer.
func begun() *rig {
	r := newRig()
	r.now += 0.5
	r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
	r.ramp(r.now-0.001, r.now, 5)
	return r
}

// keptAlone are recordings that just keep the clause that one of brokenAlone breaks.
var keptAlone = []struct {
	name, check string
	make        func() *rig
	source      string
}{
	{"5 V fixed, then a variable one", "capabilities-first-5v", func() *rig {
		return offering(fixed(5000, 3000), variable(4750, 5500, 3000))
	}, "USB PD R3.2 V1.1, section 6.4.1.4"},
	{"fixed, then PPS, each rising", "capabilities-order", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 2660), pps(3300, 11_000, 3000), pps(3300, 16_000, 2650))
	}, "USB PD R3.2 V1.1, section 6.4.1.4"},
	{"two PPS objects of different ranges", "capabilities-duplicates", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 2660), pps(3300, 11_000, 2660), pps(3300, 16_000, 2660))
	}, "USB PD R3.2 V1.1, section 6.4.1.6"},
	{"flags in the first object", "capabilities-flags", func() *rig {
		return offering(flagged(5000, 3000, pd.FixedSupply{UnconstrainedPower: true}), fixed(9000, 2000))
	}, "USB PD R3.2 V1.1, table 6.9"},
	{"EPR capable, bit 23 of the first object, is not reserved", "capabilities-reserved-bits", func() *rig {
		return offering(fixed(5000, 3000)|1<<23, fixed(9000, 2000))
	}, "USB PD R3.2 V1.1, table 6.9"},
	{"the whole of 65 W and no step more", "power-rule-fixed", func() *rig {
		return says(65, fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 3250))
	}, "USB PD R3.2 V1.1, table 10.2 and section 10.1"},
	{"PPS of 27 W in R3.2", "power-rule-pps", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 3000), pps(5000, 11_000, 3000))
	}, "USB PD R3.2 V1.1, table 10.11"},
	{"SPR AVS with the current of the 15 V object", "power-rule-avs", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), avs(3000, 0))
	}, "USB PD R3.2 V1.1, table 6.14"},
	{"28 V with the whole current of 140 W", "power-rule-epr", func() *rig {
		return inEPR(offer140SPR, offer140EPR)
	}, "USB PD R3.2 V1.1, table 10.12"},
	{"5 A after the cable answered at the third question", "cable-limit", func() *rig {
		r := begun().toCable(false, identity(pd.REQ)).toCable(false, identity(pd.REQ))
		r.readCable(cable5A)
		r.now += 0.05
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 4.4"},
	{"3 A over a cable of 3 A", "cable-identity", func() *rig {
		r := begun().readCable(cable3A)
		r.now += 0.05
		return r.source(pd.SourceCapabilities, fixed(5000, 3000), fixed(9000, 3000)).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 4.4"},
	{"two retries", "retry-count", func() *rig {
		r := begun()
		r.now += 0.05
		for range 3 {
			r.unheard(pd.Source, pd.SourceCapabilities, offer65...).wait("retry", 0.0009, 0.001295)
		}
		r.now += 0.145
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, table 6.70"},
	{"a MessageID left out for a message that was given up", "message-id", func() *rig {
		r := offering(offer65...)
		r.ids[pd.Source] = (r.ids[pd.Source] + 1) % 8
		r.now += 0.02
		return r.source(pd.GetSinkCap)
	}, "USB PD R3.2 V1.1, section 6.7.1"},
	{"UFP after a DR_Swap", "header-roles", func() *rig {
		r := offering(offer65...)
		r.now += 0.02
		r.sink(pd.DRSwap).wait("answer", 0.001, 0.015).source(pd.Accept)
		r.dfp = false
		r.now += 0.02
		return r.source(pd.GetSinkCap)
	}, "USB PD R3.2 V1.1, section 6.2.1.1.6"},
	{"revision 2 after a Request of revision 2", "revision-kept", func() *rig {
		r := newRig().plug(offer65...)
		r.wait("request", 0.001, 0.015)
		r.rev = pd.Revision20
		r.sink(pd.Request, ask(1, 500)).wait("answer", 0.001, 0.015).source(pd.Accept)
		r.now += 0.1
		return r.source(pd.PSRDY)
	}, "USB PD R3.2 V1.1, section 6.2.1.1.5"},
	{"a Hard Reset before the answer was due: another cause", "answer-missing", func() *rig { return unanswering(0.0235) },
		"USB PD R3.2 V1.1, table 6.68 and R3.0 V1.1, table 6-53, tSenderResponse from 24 ms"},
}

// unanswering lets a Request go without an answer until a Hard Reset.
func unanswering(waited float64) *rig {
	r := newRig().plug(offer65...)
	r.now += 0.01
	r.sink(pd.Request, ask(1, 500))
	r.now += waited - 0.002 // which the rig itself waits
	return r.hard(false).wait("first offer", 0.005, 0.25).source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
}

func TestKeptAlone(t *testing.T) {
	for _, x := range keptAlone {
		t.Run(x.name, func(t *testing.T) {
			r := x.make().result()
			c := find(t, r, x.check)
			assert.Equal(t, charger.Pass, c.Result, "%s: %s", x.source, c.Text)
			assert.Empty(t, failures(r))
		})
	}
}

// TestJustBroken breaks a wait by as little as its uncertainty allows.
func TestJustBroken(t *testing.T) {
	assert.Equal(t, []string{"answer-missing"}, failures(unanswering(0.0245).result()))
}

// TestEveryCheckHasAPair: each check is shown to fail by what breaks it alone, and to
// pass by what just keeps it.
func TestEveryCheckHasAPair(t *testing.T) {
	breaks, keeps := map[string]bool{}, map[string]bool{}
	for _, m := range mutations { // these go through the limit, from one side to the other
		breaks[m.check], keeps[m.check] = true, true
	}
	for _, x := range brokenAlone {
		breaks[x.check] = true
	}
	for _, x := range keptAlone {
		keeps[x.check] = true
	}
	for _, x := range frameCases {
		breaks[x.breaks], keeps[x.keeps] = true, true
	}
	for _, c := range charger.New(charger.Options{}).Finish().Checks {
		assert.True(t, breaks[c.Check], "nothing breaks %s alone", c.Check)
		assert.True(t, keeps[c.Check], "nothing just keeps %s", c.Check)
	}
}
