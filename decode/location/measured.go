package location

import (
	"math"
	"slices"

	"portside/decode/probe"
	"portside/decode/signs"
)

// measured is what the bench read. The two CC lines count as one node, and as
// a pair where both are known.
func (m model) measured(p signs.Picture) []observation {
	var out []observation
	pairs := map[string]bool{}
	asked := slices.Concat(coldMeasurements(pathOf(p)), ccMeasurements(nil), poweredMeasurements(pathOf(p)), trials(p.Readings))
	for _, q := range secondLooks(asked, p.Readings) {
		r, known := probe.Find(p.Readings, q.reading)
		if !known {
			continue
		}
		if outcome, tells := q.outcome(r); tells {
			out = append(out, m.observe(q.topic, signs.Exactly(outcome), r.Name+" reads "+r.Text))
		}
		if o, ok := m.ccPairs(p, q.reading, pairs); ok {
			out = append(out, o)
		}
	}
	return out
}

func (m model) ccPairs(p signs.Picture, reading string, done map[string]bool) (observation, bool) {
	var kind string
	switch reading {
	case "cc1-ohm", "cc2-ohm":
		kind = "ohm"
	case "cc1-diode-v", "cc2-diode-v":
		kind = "diode-v"
	default:
		return observation{}, false
	}
	a, hasA := probe.Figure(p.Readings, "cc1-"+kind)
	b, hasB := probe.Figure(p.Readings, "cc2-"+kind)
	if done[kind] || !hasA || !hasB {
		return observation{}, false
	}
	done[kind] = true
	outcome := ccPair(a, b)
	if c, d := ccOhms(p.Readings); kind == "diode-v" && outcome == ccPair(c, d) { // the same lines again
		return observation{}, false
	}
	text := "cc1 and cc2 read alike"
	if outcome == unlike {
		text = "cc1 and cc2 differ by more than 10 percent"
	}
	return m.observe(ccPairTopic(), signs.Exactly(outcome), text), true
}

// ccOhms are the two CC lines in ohms, NaN where not read.
func ccOhms(given []probe.Reading) (cc1, cc2 float64) {
	a, hasA := probe.Figure(given, "cc1-ohm")
	b, hasB := probe.Figure(given, "cc2-ohm")
	if !hasA || !hasB {
		return math.NaN(), math.NaN()
	}
	return a, b
}
