package location

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

// Each case says where the fault lies, how sure that must be at least, and
// what must stay open, with the source of that expectation.
func TestScenarios(t *testing.T) {
	quiet5 := []build.Build{build.Meter(10, 30), build.Level(0, 30, 5.1, 0.004)}
	quiet20 := func(hz float64) []build.Build {
		return []build.Build{build.Meter(hz, 60), build.Level(0, 1, 5.1, 0.01), build.Level(1, 60, 20, 0.004)}
	}
	plateau := draw.Figures{UsualA: 1.9, MostA: 1.9, Dip: build.Ref(1.0), SpreadA: build.Ref(0.3), At5A: build.Ref(0.02), Starts: 1, SinceS: build.Ref(38.0)} // of the levels
	charging := []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 2, 20.05, 0.03), build.Level(2.6, 40, 19.7, 1.9), build.Figures(plateau), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}
	resets := []float64{1, 3, 5, 7, 9, 11}
	tests := []struct {
		name     string
		builds   []build.Build
		readings []string
		want     rules.Location
		least    float64
		open     []rules.Location
		source   string
	}{
		{"nothing at all", nil, nil, rules.Undetermined, 0, []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy}, "no evidence, no verdict"},
		{"quiet 5 V on a meter", quiet5, nil, rules.Undetermined, 0, []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort}, "two repair texts name main rail and controller firmware about equally"},
		{"quiet 5 V, main rail 0.3 ohm", quiet5, []string{"main-rail-ohm=0.3ohm"}, rules.BehindPort, 0.9, nil, "below 5 ohm is a short: common practice"},
		{"quiet 5 V, VBUS 0.5 ohm", quiet5, []string{"vbus-ohm=0.5ohm"}, rules.AtPort, 0.6, nil, "below 10 ohm a failed clamp or capacitor: common practice"},
		{"quiet 5 V, rail sound, other port works", quiet5, []string{"main-rail-ohm=20kohm", "vbus-ohm=open", "other-port=different"}, rules.AtPort, 0.8, nil, "each port has its own controller and contacts: common practice"},
		{"quiet 5 V, known-good charger works", quiet5, []string{"known-good-charger=different"}, rules.BeforePort, 0.6, nil, "what goes with the charger lies in it: common practice"},
		{"offer never acknowledged", append([]build.Build{build.Messages(80, 0), build.Attempts(negotiation.StepAcknowledge, 1)}, quiet5...), nil, rules.AtPort, 0.7, nil, "USB PD R3.2 V1.1 table 6.68 (tReceive): the controller's hardware acknowledges"},
		{"offer never acknowledged, messages alone", []build.Build{build.Messages(80, 0), build.Attempts(negotiation.StepAcknowledge, 1)}, nil, rules.AtPort, 0.68, nil, "as above; a cable whose VBUS is broken does the same"},
		{"70 of 120 messages damaged, then a contract", []build.Build{build.Messages(80, 40), build.Damaged(40, 30), build.Attempts(negotiation.StepRequest, 6), build.Contract(12, 20000, 3250)}, nil, rules.Undetermined, 0, []rules.Location{rules.BeforePort, rules.AtPort}, "plug and receptacle share the contact; which step fails is chance: common practice"},
		{"acknowledged, never requested", []build.Build{build.Messages(80, 40), build.Attempts(negotiation.StepRequest, 15)}, nil, rules.AtPort, 0.6, nil, "hears and does not decide: data sheet SLVSES1D"},
		{"each Request answered 46 ms late", []build.Build{build.Messages(80, 40), build.Attempts(negotiation.StepUnknown, 5), build.LateAnswersOf(0.046, 5)}, nil, rules.BeforePort, 0.6, nil, "tReceiverResponse is 15 ms, and a sink waits 33 ms at most: USB PD R3.2 V1.1 table 6.68"},
		{"a charger that offers 5 V only, messages alone", []build.Build{build.Messages(10, 6), build.Offered(5000), build.Contract(0.9, 5000, 3000)}, nil, rules.Undetermined, 0, []rules.Location{rules.AtPort, rules.BehindPort, rules.Healthy}, "the machine takes what there is: USB PD R3.2 V1.1 section 6.4.2.3"},
		{"accepted, no PS_RDY", []build.Build{build.Messages(80, 40), build.Attempts(negotiation.StepPowerReady, 10)}, nil, rules.BeforePort, 0.6, nil, "USB PD R3.2 V1.1 table 6.68 (tPSTransition)"},
		{"hiccup at 20 V, then nothing", []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 30, 20, 0.005), build.Pulses(1.2, 4.8, 0.51, 0.5, 8, nil)}, nil, rules.BehindPort, 0.89, nil, "data sheets SLUSDU3 and SLUSE65A"},
		{"hiccup at 5 V", []build.Build{build.Meter(100, 30), build.Level(0, 30, 5.1, 0.005), build.Pulses(1.2, 4.8, 0.51, 0.5, 8, nil)}, nil, rules.BehindPort, 0.6, nil, "data sheets SLUSDU3 and SLUSE65A"},
		{"20 V and no draw, 1 Hz", quiet20(1), nil, rules.BehindPort, 0.6, []rules.Location{rules.BehindPort, rules.AtPort, rules.Healthy}, "open switch, latched charger or full battery look alike, and the latched charger is the commonest: common practice"},
		{"a charge at 20 V beside a list without a message", []build.Build{build.Meter(50, 40), build.Level(0, 40, 19.7, 1.9), build.Messages(0, 0)}, nil, rules.Healthy, 0.6, nil, "the contract is older than the list: USB PD R3.2 V1.1 table 7.25 (vSafe5V)"},
		{"20 V and standby", []build.Build{build.Meter(10, 60), build.Level(0, 1, 5.1, 0.01), build.Level(1, 60, 20, 0.04)}, nil, rules.Undetermined, 0, []rules.Location{rules.BehindPort, rules.Healthy}, "0.3 to 1 W off with a full battery, or a board that does not start: common practice"},
		{"normal charging", charging, nil, rules.Healthy, 0.72, nil, "a ramp to a plateau within the contract: common practice"},
		{"normal charging, meter alone", charging[:5], nil, rules.Healthy, 0.72, nil, "as above"},
		{"14 V where 20 V was agreed, at half the current", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(2, 40, 14, 1.6), build.Messages(10, 6), build.Offered(5000, 9000, 20000), build.Contract(0.9, 20000, 3250)}, nil, rules.BeforePort, 0.6, nil, "vSrcNew at 20 V is 19 to 21 V up to the contract's current: USB PD R3.2 V1.1 table 7.23"},
		{"23.5 V where 20 V was agreed", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(2, 40, 23.5, 0.4), build.Messages(10, 6), build.Offered(5000, 9000, 20000), build.Contract(0.9, 20000, 3250)}, nil, rules.BeforePort, 0.6, nil, "only the source raises VBUS: USB PD R3.2 V1.1 table 7.23"},
		{"VBUS slides from 20 V to 14 V, meter alone", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 5, 20, 1.6), build.Level(6, 40, 14, 1.6), build.Slide(5, 6)}, nil, rules.Undetermined, 0, []rules.Location{rules.BeforePort, rules.Healthy}, "a source that gives way, or a programmable contract: common practice"},
		{"taper", []build.Build{build.Meter(2, 1800), build.Level(0, 2, 5.1, 0.02), build.Level(2, 1800, 19.8, 0.8), build.Taper(40, 1500)}, nil, rules.Healthy, 0.85, nil, "constant-voltage phase: common practice"},
		{"VBUS gives way at a third of the contract", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.6, 19.9, 0.9), build.Level(1.6, 2.4, 0.1, 0), build.Level(2.4, 3, 5.1, 0), build.Level(3, 3.6, 19.9, 0.9), build.Collapses(1.14, 1.6, 3.6, 5.6, 7.6), build.Messages(60, 30), build.Lost(resets...)}, nil, rules.BeforePort, 0.6, nil, "a source that cannot give what it promised: USB PD R3.2 V1.1 section 7.1.7"},
		{"VBUS gives way above the contract", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.6, 19.9, 0.9), build.Level(1.6, 2.4, 0.1, 0), build.Level(2.4, 3, 5.1, 0), build.Level(3, 3.6, 19.9, 0.9), build.Collapses(3.6, 1.6, 3.6, 5.6, 7.6), build.Messages(60, 30), build.Lost(resets...)}, nil, rules.BehindPort, 0.6, nil, "an overload trips a sound source: common practice"},
		{"no VBUS, quiet", []build.Build{build.Meter(10, 20), build.Level(0, 20, 0.05, 0)}, nil, rules.Undetermined, 0, []rules.Location{rules.BeforePort, rules.AtPort}, "VBUS stays cold without Rd: USB Type-C R2.0 section 4.5.2.2"},
		{"no VBUS, ticks each second", []build.Build{build.Meter(100, 20), build.Level(0, 20, 0.3, 0.02), build.Pulses(1, 19, 0.985, 2.5, 19, nil)}, nil, rules.AtPort, 0.6, nil, "a source into a short tries again each 985 ms: data sheet SLVSDJ5D"},
		{"staircase that falls again and again", []build.Build{build.Meter(10, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 60, 20, 0.6), build.Stairs(6, nil), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}, nil, rules.BehindPort, 0.8, nil, "an overload that no search settles: open embedded-controller firmware"},
		{"VBUS held at 0.6 V with 3.2 A", []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.6, 19.9, 0.9), build.Level(1.6, 2.4, 0.1, 0), build.Level(2.4, 3, 5.1, 0), build.Level(3, 3.6, 19.9, 0.9), build.Collapses(0.8, 1.6, 3.6, 5.6), build.Held(0.6, 3.2), build.Messages(60, 30), build.Lost(resets...)}, nil, rules.BehindPort, 0.6, nil, "only a short takes current below a converter's lockout: data sheet SLUSE65A"},
		{"climbs to the end of the recording", []build.Build{build.Meter(10, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 20, 0.6), build.Climbing(), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}, nil, rules.Undetermined, 0, []rules.Location{rules.BehindPort, rules.Healthy}, "it may settle or fall yet: open embedded-controller firmware"},
		{"works in ramps of 2 s and stops, again and again", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 20, 0.6), build.Ramps(8), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}, nil, rules.BehindPort, 0.5, []rules.Location{rules.AtPort, rules.BehindPort}, "a switch or a pack that lets go and tries again, or a charge that is held: common practice"},
		{"leak seen from 5 V on", []build.Build{build.Meter(50, 40), build.Level(0, 2, 5.1, 0.09), build.Level(2, 40, 20, 0.33), build.Exponent(1, 60)}, nil, rules.AtPort, 0.6, nil, "the switches are open before the contract: common practice"},
		{"display alone, quiet 5 V", nil, []string{"display-v=5.1V", "display-a=0.02A", "display-pattern=steady"}, rules.Undetermined, 0, []rules.Location{rules.AtPort, rules.BehindPort, rules.BeforePort}, "as the quiet 5 V on a meter"},
		{"display alone, working", nil, []string{"display-v=20.0V", "display-a=1.8A", "display-pattern=steady"}, rules.Healthy, 0.6, nil, "63 W off and charging is usual: common practice"},
		{"display alone, no VBUS and a shorted port", nil, []string{"display-v=0.0V", "vbus-ohm=0.4ohm"}, rules.AtPort, 0.9, nil, "common practice"},
		{"rail short alone", nil, []string{"main-rail-ohm=0.3ohm"}, rules.BehindPort, 0.9, nil, "below 5 ohm is a short: common practice"},
		{"rail short by diode alone", nil, []string{"main-rail-diode-v=0.002V"}, rules.BehindPort, 0.9, nil, "0.000 to 0.02 V is a short: common practice"},
		{"port short alone", nil, []string{"vbus-ohm=0.5ohm"}, rules.AtPort, 0.6, nil, "common practice"},
		{"cc lines differ, plug turned over works", nil, []string{"cc1-ohm=5.1kohm", "cc2-ohm=40ohm", "plug-flipped=different"}, rules.AtPort, 0.75, nil, "one contact is gone: common practice"},
		{"cable swapped, works", nil, []string{"other-cable=different", "known-good-charger=same"}, rules.BeforePort, 0.6, nil, "common practice"},
		{"contract, charger input dead", quiet20(10), []string{"charger-input-v=0.02V", "charger-input-ohm=15kohm", "vbus-ohm=open"}, rules.AtPort, 0.8, nil, "VBUS stops at the switches: common practice"},
		{"contract, rail dead, input present", quiet20(10), []string{"charger-input-v=19.8V", "main-rail-v=0.0V", "main-rail-ohm=30kohm"}, rules.BehindPort, 0.7, nil, "fed and not converting: common practice"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.NotEmpty(t, tt.source)
			got := Locate(evidence(t, tt.readings, tt.builds...))
			v := got.Verdict
			assert.Equal(t, tt.want, v.Location, "%v\n%s", v.Locations, v.Summary)
			assert.GreaterOrEqual(t, v.Probability, tt.least, v.Summary)
			for _, l := range tt.open {
				assert.Contains(t, v.Open, l, "%v", v.Locations)
			}
			assert.NotEmpty(t, v.Summary)
			if v.Location == rules.Undetermined {
				assert.NotEmpty(t, got.Next)
				assert.Empty(t, got.Locate)
			} else if v.Location != rules.Healthy {
				assert.NotEmpty(t, got.Locate)
			}
		})
	}
}

// A quiet 5 V without a contract is never called sound, whatever the machine's
// battery: most machines on the bench are there because they are dead.
func TestQuiet5VIsNeverSound(t *testing.T) {
	got := Locate(evidence(t, nil, build.Meter(10, 30), build.Level(0, 30, 5.1, 0.004)))
	assert.Less(t, got.Verdict.Locations[rules.Healthy], 0.3)
}

// "No pulses seen" says much at 100 samples a second and almost nothing at
// one: data sheet SLUSDU3 (10 ms on) against the sampling.
func TestWhatTheMeterCannotSeeSaysNothing(t *testing.T) {
	share := func(hz float64) float64 {
		m := newModel()
		return m.weigh(m.observations(signs.Look(evidence(t, nil, build.Meter(hz, 60), build.Level(0, 1, 5.1, 0.01), build.Level(1, 60, 20, 0.004)))))[m.index(railShort)]
	}
	assert.Greater(t, share(1), 1.5*share(100))
	assert.Less(t, share(100), share(10))
}

// Without a messages file the absence of messages is no evidence; with one it
// is.
func TestWhatWasNotRecordedSaysNothing(t *testing.T) {
	quiet := []build.Build{build.Meter(10, 30), build.Level(0, 30, 5.1, 0.004)}
	without := Locate(evidence(t, nil, quiet...))
	with := Locate(evidence(t, nil, append([]build.Build{build.Messages(0, 0)}, quiet...)...))
	assert.Greater(t, with.Verdict.Locations[rules.BeforePort], without.Verdict.Locations[rules.BeforePort])
	nothing := Locate(signs.Evidence{})
	m := newModel()
	for i, l := range locations() {
		assert.InDelta(t, grouped(m.prior, m.share)[i], nothing.Verdict.Locations[l], 1e-12)
	}
}

// With the battery out nothing charges: a draw that leaps to the contract's
// limit and stays is a load. source: common practice.
func TestBatteryDisconnected(t *testing.T) {
	flat := []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 2, 20.05, 0.03), build.Level(2, 40, 19.5, 3.09), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}
	with := Locate(evidence(t, nil, flat...))
	out := Locate(evidence(t, []string{"battery=disconnected"}, flat...))
	assert.Contains(t, with.Verdict.Open, rules.BehindPort)
	assert.Equal(t, rules.BehindPort, out.Verdict.Location, "%v", out.Verdict.Locations)
}

// What the recording was made with cannot have shown the fault.
func TestRecordedWithKnownGood(t *testing.T) {
	quiet := []build.Build{build.Meter(10, 30), build.Level(0, 30, 5.1, 0.004)}
	plain := Locate(evidence(t, nil, quiet...))
	good := Locate(evidence(t, []string{"recorded-charger=known-good", "recorded-cable=known-good"}, quiet...))
	assert.Less(t, good.Verdict.Locations[rules.BeforePort], plain.Verdict.Locations[rules.BeforePort]/3)
	same := Locate(evidence(t, []string{"recorded-charger=customer", "recorded-port=left"}, quiet...))
	assert.Equal(t, plain.Verdict.Locations, same.Verdict.Locations)
}

// A fault that no pattern of a sound machine carries is never called sound.
func TestAFaultIsNeverSound(t *testing.T) {
	e := evidence(t, nil, build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 19.7, 1.9), build.Messages(10, 6), build.Contract(0.9, 20000, 3250), build.Series(0.1))
	e.Findings = append(e.Findings, rules.Finding{Rule: "vbus-out-of-range", Severity: rules.Fault, Text: "VBUS stands at 22 V", Values: map[string]any{"voltage_v": 22.0, "nominal_v": 20.0}})
	got := Locate(e)
	assert.NotEqual(t, rules.Healthy, got.Verdict.Location)
}

// Whatever else is known, a fault leaves at most a half to a sound machine.
func TestAFaultLeavesHalfToSound(t *testing.T) {
	m := newModel()
	c := opinion{model: m, Picture: signs.Picture{Evidence: signs.Evidence{Findings: []rules.Finding{{Severity: rules.Fault}}}}}
	p := make([]float64, len(m.classes))
	p[m.index(healthyPart)], p[m.index(unknownPart)] = 0.9, 0.1
	p = c.settle(p)
	assert.InDelta(t, 0.5, p[m.index(healthyPart)], 1e-12)
	assert.InDelta(t, 0.5, p[m.index(unknownPart)], 1e-12)
}

// VBUS that goes with the draw and the contract that is lost by it are one
// fact: how it ends carries it, and no pattern of the draw counts beside it.
func TestALostContractCountsOnce(t *testing.T) {
	m := newModel()
	e := evidence(t, nil, build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.6, 19.9, 0.9), build.Level(1.6, 2.4, 0.1, 0), build.Level(3, 3.6, 19.9, 0.9),
		build.Collapses(1.14, 1.6, 3.6, 5.6), build.Messages(60, 30), build.Lost(1, 3, 5, 7))
	var nodes []string
	for _, o := range m.observations(signs.Look(e)) {
		nodes = append(nodes, o.node)
	}
	assert.Contains(t, nodes, "power-up")
	assert.Contains(t, nodes, "ending")
	assert.NotContains(t, nodes, "draw")
}

// The excluded and the suspects name their evidence by its time.
func TestReasonsNameTheEvidence(t *testing.T) {
	got := Locate(evidence(t, nil, build.Meter(100, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 30, 20, 0.005), build.Pulses(1.2, 4.8, 0.51, 0.5, 8, nil)))
	require.NotEmpty(t, got.Verdict.Excluded)
	for _, x := range got.Verdict.Excluded {
		assert.Regexp(t, `\d s`, x.Why, x.Location)
	}
	assert.Contains(t, got.Suspects[0].Why, "pulses")
	assert.Equal(t, railShort, got.Suspects[0].Part)
}

func TestSummaryOfAnOpenVerdict(t *testing.T) {
	got := Locate(evidence(t, []string{"known-good-charger=same", "other-cable=same", "recorded-charger=customer"}, build.Meter(100, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 30, 20, 0.004)))
	s := got.Verdict.Summary
	assert.Contains(t, s, "not the charger or cable")
	assert.Contains(t, s, "at the port")
	assert.Contains(t, s, "behind the port")
	require.NotEmpty(t, got.Next)
	assert.Contains(t, s, got.Next[0].Test)
}

// What every modelled fault finds surprising drifts to unknown, and from 0.2
// on the result says so.
func TestSurpriseIsUnknown(t *testing.T) {
	got := Locate(evidence(t, []string{
		"main-rail-ohm=0.1ohm", "vbus-ohm=0.1ohm", "controller-supply-ohm=0.1ohm", "known-good-charger=different", "other-port=different", "always-on-rail-ohm=0.1ohm",
	}))
	var unknown float64
	for _, s := range got.Suspects {
		if s.Part == unknownPart {
			unknown = s.Probability
			assert.Nil(t, s.Location)
		}
	}
	assert.Greater(t, unknown, 0.2)
	assert.NotEmpty(t, got.NotSeen)
	assert.Empty(t, Locate(signs.Evidence{}).NotSeen)
}

// The contract is told of a hard reset loop at 5 V: VBUS going off and on
// follows from it and counts once.
func TestResetsCountOnce(t *testing.T) {
	loop := func(f *rules.Facts) {
		for i := range 10 {
			f.Negotiation.Resets = append(f.Negotiation.Resets, negotiation.Reset{TimeS: 1 + float64(i), Hard: true})
		}
	}
	list := []build.Build{build.Messages(80, 40), build.Attempts(negotiation.StepRequest, 15), loop}
	cycling := append([]build.Build{build.Meter(50, 25), build.Level(0, 0.3, 5, 0.02), build.Level(0.3, 1.1, 0, 0), build.Level(1.1, 4.5, 5, 0.02)}, list...)
	cycling = append(cycling, build.Pulses(0, 25, 0.99, 0.5, 22, func(p *draw.Pulses) { p.WithVBUS = true }))
	m := newModel()
	there := func(builds []build.Build) float64 {
		return grouped(m.weigh(m.observations(signs.Look(evidence(t, nil, builds...)))), m.share)[slices.Index(locations(), rules.AtPort)]
	}
	assert.InDelta(t, there(list), there(cycling), 0.02)
}

// At 5 V a draw of up to 0.3 A may be that of always-on rails, however long it stands; from
// half an ampere on a machine charges, which a charger that should give more lets it do as
// well as a plain one. Common practice.
func TestALittleAt5VIsNoCharge(t *testing.T) {
	healthyShare := func(amps float64) float64 {
		facts := build.Logged(10, func(t float64) (float64, float64) {
			if t < 3 {
				return 0, 0
			}
			return 5.05 + 0.01*math.Mod(t, 0.3), amps + 0.005*math.Mod(t, 0.5)
		})
		return Locate(evidence(t, nil, facts)).Verdict.Locations[rules.Healthy]
	}
	before := 0.0
	for _, amps := range []float64{0.12, 0.2, 0.28} {
		before = healthyShare(amps)
		assert.Less(t, before, namedFrom, "%g A", amps)
	}
	for _, amps := range []float64{0.34, 0.4, 0.46, 0.6} {
		now := healthyShare(amps)
		assert.Greater(t, now, before, "%g A", amps)
		before = now
	}
	assert.Greater(t, before, 0.5)
}
