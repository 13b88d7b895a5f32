package signs

import (
	"fmt"
	"slices"

	"portside/decode/negotiation"
	"portside/pd"
)

// Whether the source goes on to offer what it offered at first.
const (
	OffersOn   = "offers-on"
	OffersLess = "offers-less"
	OffersFive = "offers-5v-only"
	OffersThin = "offers-5v-only-and-less-than-asked"
	OffersTurn = "offers-less-again-and-again"
	OffersGone = "takes-back-all-but-5v"
	OffersNone = "offers-no-current"
)

// TakesBack reports a source that takes back all but 5 V, whatever the machine makes of it.
func (p Picture) TakesBack() bool {
	s, _ := p.Offered()
	return s[OffersGone] > 0
}

// TurnsOften reports an offer that comes down again and again.
func (p Picture) TurnsOften() bool {
	n := p.Facts.Negotiation
	if n == nil {
		return false
	}
	count, _ := turns(n)
	return count >= turnsFrom
}

// ratedMW is what a cable that says nothing of itself carries at 20 V: an offer that comes
// down to it may go by a cable that did not answer this time.
const ratedMW = int(pd.SPRAVSMaxVoltage) * int(pd.CableCurrentDefault) / 1000

// sprMostMV is the highest fixed voltage outside the extended power range.
const sprMostMV = int(pd.SPRAVSMaxVoltage)

// turnsFrom is how often an offer comes down to speak for more than a plug beside it.
// Common practice.
const turnsFrom = 3

// turns is how often the source comes down with its offer, after it had given back what it
// took, and when it first does.
func turns(n *negotiation.Result) (count int, firstS float64) {
	last := 0
	for _, a := range n.Attempts {
		if a.OfferMV == 0 {
			continue
		}
		offered := min(a.OfferMV, sprMostMV) // beyond it lies the extended range, which each reset leaves
		if offered < last {
			count++
			if count == 1 {
				firstS = a.StartS
			}
		}
		last = offered
	}
	return count, firstS
}

// Offered is what the source makes of its offer, in words; nil where it is as usual.
func (p Picture) Offered() (Seen, string) {
	n := p.Facts.Negotiation
	if n == nil || len(n.Offers) == 0 {
		return nil, ""
	}
	if count, first := turns(n); count >= turnsFrom {
		return Exactly(OffersTurn), fmt.Sprintf("the source takes back its higher voltages %d times, first at %.2f s, and gives them back in between", count, first)
	}
	var first negotiation.Attempt
	last := lastOffer(n)
	for _, a := range n.Attempts {
		switch {
		case a.OfferMW == 0:
		case first.OfferMW == 0:
			first = a
		case above5V(first) && !above5V(last):
			return Exactly(OffersGone), fmt.Sprintf("the source offers %s at first and %s at %.2f s", offer(first), offer(last), last.StartS)
		case a.OfferMV < first.OfferMV, a.OfferMW < first.OfferMW && a.OfferMW < ratedMW:
			return Exactly(OffersLess), fmt.Sprintf("the source offers %s at first and %s at %.2f s", offer(first), offer(a), a.StartS)
		}
	}
	if !n.BeginsInside && !offersMore(n) {
		if !slices.ContainsFunc(n.Offers, func(o negotiation.Offer) bool { return o.CurrentMA == nil || *o.CurrentMA > 0 }) {
			return Exactly(OffersNone), "the source offers 5 V and no current"
		}
		if len(n.Mismatches) > 0 {
			return Exactly(OffersThin), "the source offers 5 V and no more, and the machine wants more"
		}
		return Exactly(OffersFive), "the source offers 5 V and no more"
	}
	return nil, ""
}

func above5V(a negotiation.Attempt) bool { return float64(a.OfferMV)/1000 >= contractV }

// lastOffer is the last attempt that holds one.
func lastOffer(n *negotiation.Result) (last negotiation.Attempt) {
	for _, a := range n.Attempts {
		if a.OfferMV > 0 {
			last = a
		}
	}
	return last
}

func offer(a negotiation.Attempt) string {
	return fmt.Sprintf("%.4g V and %.0f W", float64(a.OfferMV)/1000, float64(a.OfferMW)/1000)
}
