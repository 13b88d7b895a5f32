package clocks

import (
	"math"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// A machine goes beyond what it was allowed after the PS_RDY that allows more, most 40 ms to
// 1.2 s after it (common practice), some far later. Earlier it is only with a sink that does
// not keep to its contract. So the truth is a second around one second after PS_RDY, and the
// uncertainty stays at that however many of one machine's contracts agree: its charger waits
// alike after each.
const (
	followsS = 1.0
	followsU = 1.0
	overDeal = 1.1 // share of a contract's current that a rise may reach: a meter's gain and a sink's ripple, common practice
	overA    = 0.1 // amperes that a rise goes beyond what was allowed: zero and digits of any meter, common practice
)

// ofCurrent aligns by the draw where VBUS tells nothing: a contract at 5 V moves no
// voltage, but lets a machine draw more. Each rise must have its contract and each contract
// its rise: machines draw when they like, so that any more is no evidence.
func ofCurrent(d *draw.Result, n *negotiation.Result) (Alignment, bool) {
	var all []Match
	low, high := math.Inf(-1), math.Inf(1)
	grants := grants(n)
	rises := rises(d, grants)
	if len(rises) == 0 || len(rises) != len(grants) {
		return Alignment{}, false
	}
	for i, r := range rises {
		g := grants[i]
		if r.to > g.amps*overDeal {
			return Alignment{}, false
		}
		low, high = max(low, g.at-followsS-r.when.Hi), min(high, g.at+followsS-r.when.Lo)
		all = append(all, Match{MeterS: r.when.middle(), MessagesS: g.at, What: "PS_RDY, after which the current rose"})
	}
	if low > high { // no wait is that uneven
		return Alignment{}, false
	}
	first, last := all[0], all[len(all)-1]
	offset := (low+high)/2 + followsS
	a := Alignment{
		Determined: true, ByCurrent: true, Matched: all, MiddleS: (first.MeterS + last.MeterS) / 2,
		OffsetS: offset, Uncertainty: math.Hypot(followsU, d.Sampling.IntervalS/2),
	}
	a.sure = sure{offsets: Span{math.Inf(-1), math.Inf(1)}, first: first.MeterS, last: last.MeterS}
	return a, true
}

// grant is a PS_RDY that allows more than before it.
type grant struct {
	at           float64
	before, amps float64
}

// grants are those of the contracts whose current is known. Before the first one a sink
// stands by.
func grants(n *negotiation.Result) []grant {
	standby := pd.ISnkStdby.Limits(pd.Revision32).MaxSI()
	before := standby
	t := talkOf(n)
	var out []grant
	for _, c := range n.Contracts {
		if c.StartS == nil || c.CurrentMA == nil || c.Implied || t.lost(*c.StartS) {
			before = math.Inf(1)
			continue
		}
		amps := float64(*c.CurrentMA) / 1000
		if amps > before+overA && len(out) < maxSteps {
			out = append(out, grant{*c.StartS, before, amps})
		}
		before = max(amps, standby)
		if !stays(c.EndedBy) {
			before = standby
		}
	}
	return out
}

// rise is the draw going beyond what was allowed.
type rise struct {
	when Span
	to   float64
}

// rises are those beyond what each grant in turn allowed before: from a steady draw within
// it to one above it.
func rises(d *draw.Result, grants []grant) []rise {
	var out []rise
	var last *draw.Plateau
	for i := range d.Plateaus {
		p := &d.Plateaus[i]
		if p.CurrentA == nil {
			continue
		}
		if k := min(len(out), len(grants)-1); last != nil && k >= 0 {
			was := grants[k].before
			if *last.CurrentA <= was && *p.CurrentA > was+overA {
				out = append(out, rise{Span{last.EndS, p.StartS}, *p.CurrentA})
			}
		}
		last = p
	}
	return out
}
