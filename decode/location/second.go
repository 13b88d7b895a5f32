package location

import (
	"math"
	"strings"

	"portside/decode/probe"
)

// An ohm and a diode reading of one node are nearly one fact. Where the ohms show a
// sound node the diode range shows it again, whatever hides from the ohms: it tells
// nothing, unless it differs. Where they show a short or a leak, the second range
// says that the probe did not slip. Common practice.
const (
	diodeA     = 0.001 // of the range: data sheets of hand-held meters, 0.7 to 1 mA
	diodeSlack = 3.0   // how far the drop may be off what the ohms foresee
	leastDropV = 0.010 // below it a display tells nothing apart
)

// twiceCap is how far two readings of one node carry that both show a fault: a slip
// comes once in some hundreds, and its like again once in some ten. Common practice.
const twiceCap = 3000

const agrees, differs = "agrees", "differs"

// secondLooks turns the diode readings of nodes whose ohms are known into second
// looks at the same.
func secondLooks(list []measurement, given []probe.Reading) []measurement {
	first := map[string]measurement{}
	for _, q := range list {
		first[q.reading] = q
	}
	out := make([]measurement, 0, len(list))
	for _, q := range list {
		ohms, diode := first[strings.TrimSuffix(q.reading, "-diode-v")+"-ohm"], strings.HasSuffix(q.reading, "-diode-v")
		r, known := probe.Find(given, ohms.reading)
		if !diode || !known {
			out = append(out, q)
			continue
		}
		if outcome, tells := ohms.outcome(r); tells {
			q = q.second(ohms.topic, outcome, r.Value)
		}
		out = append(out, q)
	}
	return out
}

// second is a diode reading after the ohms of its node.
func (m measurement) second(ohms topic, outcome string, ohm float64) measurement {
	m.again, m.table = true, nil
	i := ohms.index(outcome)
	switch {
	case outcome == short || outcome == leaky:
		limit := max(leastDropV, diodeSlack*diodeA*ohm)
		m.bands = []band{upTo(limit, agrees), above(differs)}
		m.topic, m.again = secondTopic(ohms, i), false
	case m.bands == nil: // one of a pair whose ohms are known: told below
	default:
		m.bands = append([]band{}, m.bands...)
		for k, b := range m.bands {
			if b.outcome == sound || b.outcome == leaky && !math.IsInf(ohm, 1) && diodeA*ohm < b.below {
				m.bands[k].outcome = ""
			}
		}
	}
	return m
}

// How often the other range agrees, in percent, with a fault of the node and with a
// slip of the probe. Common practice.
const (
	faultAgrees = 95.0
	slipAgrees  = 8.0
)

// secondTopic: a fault of the node shows in the other range as the ohms foresee; a
// slip of the probe hardly comes twice. A part that reads so no more often than any
// other does so by a slip.
func secondTopic(ohms topic, outcome int) topic {
	first := ohms.rows[outcome]
	yes, no := like{}, like{}
	for p, x := range first.by {
		slips := min(1, first.others/x)
		yes[p] = slipAgrees*slips + faultAgrees*(1-slips)
		no[p] = 100 - yes[p]
	}
	return topic{name: ohms.name, cap: twiceCap, rows: []row{
		{agrees, "what the ohms foresee", slipAgrees, yes, "a short or a leak is there in every range", practice},
		{differs, "more than the ohms foresee", 100 - slipAgrees, no, "the probe slipped, or what the ohms show is no resistance", practice},
	}}
}
