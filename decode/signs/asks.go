package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
)

// What a machine asks for that takes 5 V though more is offered.
const (
	AsksPart  = "a-part-of-5v"
	AsksAll   = "all-of-5v"
	AsksBelow = "less-than-it-knows"
	KnowsFive = "knows-no-more"
)

// Asks tells what a contract at 5 V was asked with, where the source offers more and the
// machine does not complain.
func (p Picture) Asks() (Seen, string) {
	n := p.Facts.Negotiation
	if n == nil || len(n.Offers) == 0 || len(n.Contracts) == 0 || !offersMore(n) || p.State[Contract5V] == 0 || p.State[ContractHigh] > 0 {
		return nil, ""
	}
	c := n.Contracts[len(n.Contracts)-1]
	if c.Mismatch || c.CurrentMA == nil || millivolts(c) == 0 {
		return nil, ""
	}
	asked := fmt.Sprintf("the machine asks for %.2g A at %.4g V", float64(*c.CurrentMA)/1000, float64(millivolts(c))/1000)
	full := offeredMA(n, c)
	switch most := n.SinkMV; {
	case most > millivolts(c):
		return Exactly(AsksBelow), fmt.Sprintf("%s, and its own capabilities go up to %.4g V", asked, float64(most)/1000)
	case most > 0:
		return Exactly(KnowsFive), asked + ", and its own capabilities name no higher voltage"
	case full == 0:
		return nil, ""
	case float64(*c.CurrentMA) < allShare*float64(full):
		return Exactly(AsksPart), asked + ", less than is offered there"
	}
	return Exactly(AsksAll), asked + ", all that is offered there"
}

// allShare of the offered current is all of it: objects and requests are rounded apart.
const allShare = 0.95

// offeredMA is the current of the object that a contract was made on, 0 where it is not known.
func offeredMA(n *negotiation.Result, c negotiation.Contract) int {
	for _, o := range n.Offers {
		if o.Position == c.Position && o.CurrentMA != nil {
			return *o.CurrentMA
		}
	}
	return 0
}

// Whether the machine keeps what it asked for.
const (
	KeepsHigh = "keeps-it"
	StepsBack = "steps-back"
)

// backFrom is how often the machine goes back for more than a change of mind: common practice.
const backFrom = 3

// GoesBack tells a sink that asks for 5 V again after contracts that it did not draw from,
// while the offer stands.
func (p Picture) GoesBack() (Seen, string) {
	n, d := p.Facts.Negotiation, p.Meter()
	if n == nil || d != nil && drewAtAll(d) {
		return nil, ""
	}
	if less, _ := turns(n); less > 0 { // the source took it back
		return nil, ""
	}
	count, high, first := 0, false, 0.0
	for _, c := range n.Contracts {
		mv := millivolts(c)
		if high && mv > 0 && float64(mv)/1000 < contractV {
			count++
			if count == 1 && c.StartS != nil {
				first = *c.StartS
			}
		}
		high = float64(mv)/1000 >= contractV && c.EndedBy == "new-contract"
	}
	if count < backFrom {
		return nil, ""
	}
	return Exactly(StepsBack), fmt.Sprintf("the machine itself goes back to 5 V %d times, first at %.2f s, and draws nothing before", count, first)
}

// drewAtAll reports a draw that was more than a standby for a moment.
func drewAtAll(d *draw.Result) bool {
	return slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && *q.CurrentA > standbyA && q.EndS-q.StartS >= beganS
	})
}
