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

// What a contact alone can do weighs more than what a recording shows on the whole.
func TestBouncesWeighMore(t *testing.T) {
	m := newModel()
	most := func(builds []build.Build) float64 {
		p := signs.Look(evidence(t, nil, builds...))
		pattern, text := p.DrawSeen()
		o, ok := m.drawObservation(p, pattern, text)
		require.True(t, ok)
		return o.cap
	}
	assert.Greater(t, most(build.Bounced(2)), most(build.Bounced(0)))
}

// nodes are the topics that a recording speaks to.
func nodes(t *testing.T, builds ...build.Build) []string {
	t.Helper()
	m := newModel()
	var out []string
	for _, o := range m.recorded(signs.Look(evidence(t, nil, builds...))) {
		out = append(out, o.node)
	}
	return out
}

// VBUS that swings with the mains rests nowhere and is known all the same. Common practice.
func TestHumIsKnown(t *testing.T) {
	bench := []build.Build{build.Meter(1000, 40), build.Level(0, 1, 0.02, 0)}
	for at := 1.0; at < 39; at += 0.1 {
		bench = append(bench, build.Level(at, at+0.05, 20, 0.9), build.Level(at+0.05, at+0.1, 17, 0.9))
	}
	hum := append(slices.Clone(bench), func(f *rules.Facts) {
		f.Draw.Hum = &draw.Hum{StartS: 1, EndS: 39, Hz: 100, AmpV: 1.2, AtA: 0.9, Windows: 180}
	})
	strange := func(b []build.Build) float64 { w, _ := signs.Look(evidence(t, nil, b...)).Strange(); return w }
	assert.Greater(t, strange(bench), 0.5)
	assert.Zero(t, strange(hum))
	r := Locate(evidence(t, nil, hum...))
	assert.Equal(t, rules.BeforePort, r.Verdict.Location)
}

// A resistor's draw comes and stays, and says nothing of the machine behind it.
func TestResistorAlone(t *testing.T) {
	resistor := []build.Build{build.Meter(100, 60), build.Level(0, 2, 9.07, 0.002), build.Level(2, 20, 9.06, 0.453), build.Level(20, 22, 15.1, 0.002), build.Level(22, 60, 15, 0.75)}
	machine := append(slices.Clone(resistor[:4]), build.Level(22, 60, 15, 1.1))
	assert.NotContains(t, nodes(t, resistor...), "draw")
	assert.Contains(t, nodes(t, resistor...), "resistance of the draw")
	assert.Contains(t, nodes(t, machine...), "draw")
	assert.NotContains(t, nodes(t, machine...), "resistance of the draw")
}

// TestCCWaits: the source owes VBUS within tVBUSON, 275 ms, once it sees Rd (USB Type-C R2.1
// tables 4-29 to 4-31): nothing behind the meter keeps it away but a short, which takes a current.
func TestCCWaits(t *testing.T) {
	waiting := func(seconds float64) build.Build {
		return func(f *rules.Facts) { f.Draw.CC.Waits = draw.CCStood{Seconds: seconds, Volts: 1.68} }
	}
	before := func(builds ...build.Build) float64 {
		e := evidence(t, nil, append([]build.Build{build.Meter(1000, 30), build.Level(0, 30, 0.01, 0)}, builds...)...)
		return Locate(e).Verdict.Locations[rules.BeforePort]
	}
	assert.Greater(t, before(waiting(20)), 0.8)
	assert.Less(t, before(), 0.6)
	assert.InDelta(t, before(), before(waiting(0.5)), 1e-9, "as while a plug is on its way in")
}

// TestWeakLeadThatCarries: 0.45 ohm take 0.9 V at 2 A, less than the 1.28 V that a charger
// circuit regulates to (data sheet SLUSE65A), and keep a machine from nothing; 0.65 ohm take
// all of it.
func TestWeakLeadThatCarries(t *testing.T) {
	healthy := func(ohm float64) float64 {
		works := []build.Build{build.Meter(100, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 15, 19.3, 1.5), build.Level(15, 40, 19.1, 2), build.Series(ohm)}
		return Locate(evidence(t, nil, works...)).Verdict.Locations[rules.Healthy]
	}
	assert.Greater(t, healthy(0.45), 0.4*healthy(0.1))
	assert.Less(t, healthy(0.65), 0.3*healthy(0.1))
}

// TestTriesUnderAWeakLead: 1.2 ohm take 1.2 V at 1 A, and tries that end there tell nothing of the board.
func TestTriesUnderAWeakLead(t *testing.T) {
	before := func(ohm float64) float64 {
		tries := func(f *rules.Facts) {
			f.Draw.Pulses = []draw.Pulses{{StartS: 2, EndS: 38, Count: 15, PeriodS: build.Ref(2.4), PeakA: 1, OnS: build.Ref(0.5)}}
			f.Draw.Sampling.MaxA = 1
		}
		return Locate(evidence(t, nil, build.Meter(100, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 19.9, 0.05), build.Series(ohm), tries)).Verdict.Locations[rules.BeforePort]
	}
	assert.Greater(t, before(1.2), 0.6)
	assert.Less(t, before(0.1), 0.3)
}

// TestLossesThatCCTells: what takes the pull-up away stands before the meter.
func TestLossesThatCCTells(t *testing.T) {
	odds := func(builds ...build.Build) float64 {
		e := evidence(t, nil, append(append(build.Tripping(0.4, 1.2, 2), build.Level(20, 60, 20, 1.25)), builds...)...)
		e.Facts.MeterAt = "device"
		p := Locate(e).Verdict.Locations[rules.BeforePort]
		return p / (1 - p)
	}
	assert.Greater(t, odds(build.CCEnded(0, 3, 0)), 2*odds())
}

// What a source that took back all but 5 V makes of the machine tells nothing of the machine.
func TestAnOfferTakenBackIsToldOnce(t *testing.T) {
	gone := func(watts ...int) []build.Build {
		return []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 20, 20, 1), build.Level(20, 60, 5.1, 0.02), build.Messages(20, 10), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000), func(f *rules.Facts) {
			for i, w := range watts {
				mv := 20000
				if w <= 15 {
					mv = 5000
				}
				f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: float64(19 * i), EndS: float64(19*i + 1), Missing: negotiation.StepDone, OfferMV: mv, OfferMW: 1000 * w})
			}
		}}
	}
	assert.Contains(t, nodes(t, gone(65, 15)...), "offer")
	assert.NotContains(t, nodes(t, gone(65, 15)...), "draw")
	assert.Contains(t, nodes(t, gone(65, 65)...), "draw")
}

// A short that holds VBUS down shows where the source limits: no resistance of a lead.
func TestAShortHasNoLead(t *testing.T) {
	held := []build.Build{build.Meter(200, 30), build.Level(1, 2, 5.1, 0.005), build.Level(2, 3, 0.02, 0), build.Series(2), build.Collapses(0.4, 2, 2.5), build.Held(0.4, 1.6)}
	assert.Contains(t, nodes(t, held...), "held down")
	assert.NotContains(t, nodes(t, held...), "series resistance")
	assert.Contains(t, nodes(t, held[:4]...), "series resistance")
}

// A recording that cannot be says by what was found of its outcomes as little as by its tables.
func TestStrangeFadesWhatWasFound(t *testing.T) {
	m := newModel()
	m.found = Found{"draw: none": {Behind: 6}}
	fact := observation{node: "draw", cap: 20, seen: true, like: slices.Repeat([]float64{1}, len(m.classes)), shows: []portion{{"draw: none", 1}}}
	kept := m.estranged([]observation{fact}, 0.5, "strange")
	assert.InDelta(t, math.Pow(10, 0.3), m.told(kept[0])[m.index(railShort)], 1e-9)
	assert.Len(t, m.estranged([]observation{fact}, 1, "strange"), 1, "nothing of it is left")
	assert.InDelta(t, 1, fact.shows[0].of, 0, "and the fact itself stays")
}

// Facts of one node bring what was found of each.
func TestFoundOfOneNode(t *testing.T) {
	m := newModel()
	m.found = Found{"a: x": {Behind: 3}, "b: y": {Behind: 2}}
	ones := slices.Repeat([]float64{1}, len(m.classes))
	both := joined([]observation{
		{node: "n", cap: 20, seen: true, like: ones, shows: []portion{{"a: x", 1}}},
		{node: "n", cap: 20, seen: true, like: ones, shows: []portion{{"b: y", 1}}},
	})
	require.Len(t, both, 1)
	assert.InDelta(t, math.Pow(10, 0.5), m.told(both[0])[m.index(railShort)], 1e-9)
}

// TestLeadThatCarries: 0.5 ohm takes 0.75 V at 1.5 A, and a charger circuit regulates to 1.28 V below
// (data sheet SLUSE65A): a machine that works on behind it is as good as sound. Where contracts break
// down, the source's limit may look like a lead.
func TestLeadThatCarries(t *testing.T) {
	m := newModel()
	series := func(builds ...build.Build) observation {
		for _, o := range m.recorded(signs.Look(evidence(t, nil, builds...))) {
			if o.node == "series resistance" {
				return o
			}
		}
		return observation{}
	}
	shows := func(o observation, outcome string) float64 {
		for _, s := range o.shows {
			if s.outcome == "series resistance: "+outcome {
				return s.of
			}
		}
		return 0
	}
	lead := []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 6, 19.2, 1.5), build.Series(0.5)}
	works := series(append(slices.Clone(lead), build.Level(6, 12, 19.4, 1.2), build.Level(12, 20, 19, 1.9), build.Level(20, 30, 19.3, 1.3))...)
	rests := series(append(slices.Clone(lead), build.Level(6, 30, 19.98, 0.04))...)
	breaks := series(append(slices.Clone(lead), build.Collapses(1.5, 6, 12, 18), build.Messages(60, 30), build.Lost(1, 7, 13), build.Ended(5, "hard-reset"))...)
	assert.Greater(t, shows(works, signs.SeriesCarries), 0.9)
	assert.Greater(t, shows(rests, signs.SeriesFar), 0.9)
	assert.Greater(t, shows(breaks, signs.SeriesFar), 0.9)
	sound := func(o observation) float64 { return o.like[m.index(healthyPart)] / o.like[m.index(cable)] }
	assert.Greater(t, sound(breaks), 2*sound(rests), "a source in its limit looks like a lead")
}
