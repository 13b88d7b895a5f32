package location

import "slices"

// measured is what the bench read. The two CC lines count as one node, and as
// a pair where both are known.
func (m model) measured(p picture) []observation {
	var out []observation
	pairs := map[string]bool{}
	list := measurements(p.shown(), nil)
	for _, q := range list {
		r, known := find(p.Readings, q.reading)
		if !known {
			continue
		}
		outcome, tells := q.outcome(r)
		if !tells || p.foreseen(q.reading, outcome) {
			continue
		}
		o := m.observe(q.topic, exactly(outcome), r.Name+" reads "+r.Text)
		if outcome == short && p.shortTwice(list, q) {
			o.cap = twiceCap
		}
		out = append(out, o)
		if o, ok := m.ccPairs(p, q.reading, pairs); ok {
			out = append(out, o)
		}
	}
	return out
}

// twiceCap is how far two readings of one node carry that both show a short: a
// slip of the probe does not come twice in two ranges of a meter. Common
// practice.
const twiceCap = 1000

// shortTwice reports a node that another reading shows shorted as well.
func (p picture) shortTwice(list []measurement, q measurement) bool {
	return slices.ContainsFunc(list, func(other measurement) bool {
		r, known := find(p.Readings, other.reading)
		if !known || other.reading == q.reading || other.topic.name != q.topic.name {
			return false
		}
		outcome, tells := other.outcome(r)
		return tells && outcome == short
	})
}

// unclearOhm is from where a rail may be sound and yet take the 1 mA of a diode
// range at less than a junction's drop: up to there the ohm range has told it.
const unclearOhm = 50

// foreseen reports a diode reading that the resistance of the node makes by
// itself: it tells nothing more.
func (p picture) foreseen(reading, outcome string) bool {
	ohm, known := figure(p.Readings, "main-rail-ohm")
	return reading == "main-rail-diode-v" && outcome == leaky && known && ohm >= unclearOhm && ohm < 1000
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
	text := "cc1 and cc2 read alike"
	if outcome == unlike {
		text = "cc1 and cc2 differ by more than 10 percent"
	}
	return m.observe(ccPairTopic(), exactly(outcome), text), true
}
