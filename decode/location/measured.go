package location

import (
	"math"
	"slices"
)

// measured is what the bench read. The two CC lines count as one node, and as
// a pair where both are known.
func (m model) measured(p picture) []observation {
	var out []observation
	pairs := map[string]bool{}
	asked := slices.Concat(coldMeasurements(), ccMeasurements(nil), poweredMeasurements(p.shown()), trials(p.Readings))
	for _, q := range secondLooks(asked, p.Readings) {
		r, known := find(p.Readings, q.reading)
		if !known {
			continue
		}
		if outcome, tells := q.outcome(r); tells {
			out = append(out, m.observe(q.topic, exactly(outcome), r.Name+" reads "+r.Text))
		}
		if o, ok := m.ccPairs(p, q.reading, pairs); ok {
			out = append(out, o)
		}
	}
	return out
}

func (m model) ccPairs(p picture, reading string, done map[string]bool) (observation, bool) {
	var kind string
	switch reading {
	case "cc1-ohm", "cc2-ohm":
		kind = "ohm"
	case "cc1-diode-v", "cc2-diode-v":
		kind = "diode-v"
	default:
		return observation{}, false
	}
	a, hasA := figure(p.Readings, "cc1-"+kind)
	b, hasB := figure(p.Readings, "cc2-"+kind)
	if done[kind] || !hasA || !hasB {
		return observation{}, false
	}
	done[kind] = true
	outcome := ccPair(a, b)
	if c, d := p.ccOhms(); kind == "diode-v" && outcome == ccPair(c, d) { // the same lines again
		return observation{}, false
	}
	text := "cc1 and cc2 read alike"
	if outcome == unlike {
		text = "cc1 and cc2 differ by more than 10 percent"
	}
	return m.observe(ccPairTopic(), exactly(outcome), text), true
}

// ccOhms are the two CC lines in ohms, NaN where not read.
func (p picture) ccOhms() (cc1, cc2 float64) {
	a, hasA := figure(p.Readings, "cc1-ohm")
	b, hasB := figure(p.Readings, "cc2-ohm")
	if !hasA || !hasB {
		return math.NaN(), math.NaN()
	}
	return a, b
}
