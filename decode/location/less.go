package location

import (
	"fmt"
	"slices"

	"portside/decode/negotiation"
	"portside/pd"
)

// Whether the source goes on to offer what it offered at first.
const (
	offersOn   = "offers-on"
	offersLess = "offers-less"
	offersFive = "offers-5v-only"
	offersThin = "offers-5v-only-and-less-than-asked"
	offersTurn = "offers-less-again-and-again"
	offersGone = "takes-back-all-but-5v"
	offersNone = "offers-no-current"
)

// lessTopic: no contact and no load takes objects out of an offer. A charger that shares
// its power takes back a part for another port; one that grows too hot, or whose mains or
// stage gives out, does the same.
func lessTopic() topic {
	return topic{name: "offer", cap: recordingCap, rows: []row{
		{offersOn, "the source keeps to an offer above 5 V", 99, like{source: 91, mains: 98, cable: 98, healthyPart: 93.5}, "an offer goes by the charger's rating", practice},
		{offersFive, "it offers 5 V and no more", 0.8, like{source: 5, mains: 1, cable: 1.5, healthyPart: 2.5}, "a charger that is too small for the machine, or one that has lost its higher voltages", practice},
		{offersThin, "it offers 5 V and no more, and the machine wants more", 0.5, like{source: 7, mains: 1, cable: 1.5, healthyPart: 1.5}, "a charger that is too small for the machine, or one that has lost its higher voltages", "USB PD R3.2 V1.1 section 6.4.2.3 (Capability Mismatch); " + practice},
		{offersNone, "it offers 5 V and no current", 0.02, like{source: 4, mains: 0.4, cable: 0.05, healthyPart: 0.03}, "whoever has nothing to give says so: a charger that has switched its stage off", "USB PD R3.2 V1.1 section 6.4.1 (Source_Capabilities); " + practice},
		{offersTurn, "the source takes back a part of its offer again and again", 0.05, like{source: 3, mains: 0.8, cable: 0.1, healthyPart: 0.05}, "whoever shares its power settles on a share", "USB PD R3.2 V1.1 section 6.4.1 (Source_Capabilities, sent anew when they change); " + practice},
		{offersGone, "the source takes back all but 5 V", 0.1, like{source: 4, mains: 0.8, cable: 0.2, healthyPart: 0.5}, "a share of a sound charger's power leaves more than 15 W", "USB PD R3.2 V1.1 section 6.4.1; " + practice},
		{offersLess, "the source takes back a part of its offer", 0.5, like{source: 9, mains: 1.5, cable: 0.7, healthyPart: 4}, "power shared with another port, or a charger that limits itself", "USB PD R3.2 V1.1 section 6.4.1 (Source_Capabilities, sent anew when they change); " + practice},
	}}
}

// offerTopic is the same for what is seen: one that comes and goes again and again has hardly
// another reason.
func (p picture) offerTopic() topic {
	t := lessTopic()
	if n := p.Facts.Negotiation; n != nil {
		if count, _ := turns(n); count >= turnsFrom {
			t.cap = physicsCap
		}
	}
	return t
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

// offered is what the source makes of its offer, in words; nil where it is as usual.
func (p picture) offered() (seen, string) {
	n := p.Facts.Negotiation
	if n == nil || len(n.Offers) == 0 {
		return nil, ""
	}
	if count, first := turns(n); count >= turnsFrom {
		return exactly(offersTurn), fmt.Sprintf("the source takes back its higher voltages %d times, first at %.2f s, and gives them back in between", count, first)
	}
	var first negotiation.Attempt
	last := lastOffer(n)
	for _, a := range n.Attempts {
		switch {
		case a.OfferMW == 0:
		case first.OfferMW == 0:
			first = a
		case above5V(first) && !above5V(last):
			return exactly(offersGone), fmt.Sprintf("the source offers %s at first and %s at %.2f s", offer(first), offer(last), last.StartS)
		case a.OfferMV < first.OfferMV, a.OfferMW < first.OfferMW && a.OfferMW < ratedMW:
			return exactly(offersLess), fmt.Sprintf("the source offers %s at first and %s at %.2f s", offer(first), offer(a), a.StartS)
		}
	}
	if !n.BeginsInside && !offersMore(n) {
		if !slices.ContainsFunc(n.Offers, func(o negotiation.Offer) bool { return o.CurrentMA == nil || *o.CurrentMA > 0 }) {
			return exactly(offersNone), "the source offers 5 V and no current"
		}
		if len(n.Mismatches) > 0 {
			return exactly(offersThin), "the source offers 5 V and no more, and the machine wants more"
		}
		return exactly(offersFive), "the source offers 5 V and no more"
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
