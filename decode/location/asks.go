package location

import (
	"fmt"

	"portside/decode/negotiation"
)

// What a machine asks for that takes 5 V though more is offered.
const (
	asksPart  = "a-part-of-5v"
	asksAll   = "all-of-5v"
	asksBelow = "less-than-it-knows"
	knowsFive = "knows-no-more"
)

// asksTopic: a small machine asks for the current that it needs. One whose controller has
// lost its settings, or waits for its board, asks for what is there, and may still say
// that it knows more.
func asksTopic() topic {
	return topic{name: "asked at 5 V", cap: recordingCap, rows: []row{
		{asksPart, "part of the current that 5 V offers", 58, whatWaits(12), "a small machine names what it needs", "USB PD R3.2 V1.1 section 6.4.2 (Operating Current); " + practice},
		{asksAll, "all the current that 5 V offers", 14, whatWaits(58), "a machine that needs as much takes a higher voltage", "USB PD R3.2 V1.1 section 6.4.2 (Operating Current); " + practice},
		{asksBelow, "5 V, and its own capabilities name more", 8, whatWaits(25), "a machine that knows higher voltages asks for them once its controller may", "USB PD R3.2 V1.1 section 6.4.1.3 (Sink_Capabilities); " + practice},
		{knowsFive, "5 V, and its own capabilities name no more", 20, whatWaits(5), "a machine made for 5 V, or a controller that has lost its settings", "USB PD R3.2 V1.1 section 6.4.1.3 (Sink_Capabilities); " + practice},
	}}
}

// whatWaits are the parts that keep a machine at 5 V that would take more; beside every other
// fault it is a small one.
func whatWaits(percent float64) like {
	by := like{}
	for _, p := range []part{controller, supply, railShort, railLeak, inputShort, chargerIC, downstream, sequence, battery} {
		by[p] = percent
	}
	return by
}

// asks tells what a contract at 5 V was asked with, where the source offers more and the
// machine does not complain.
func (p picture) asks() (seen, string) {
	n := p.Facts.Negotiation
	if n == nil || len(n.Offers) == 0 || len(n.Contracts) == 0 || !offersMore(n) || p.state[contract5V] == 0 || p.state[contractHigh] > 0 {
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
		return exactly(asksBelow), fmt.Sprintf("%s, and its own capabilities go up to %.4g V", asked, float64(most)/1000)
	case most > 0:
		return exactly(knowsFive), asked + ", and its own capabilities name no higher voltage"
	case full == 0:
		return nil, ""
	case float64(*c.CurrentMA) < allShare*float64(full):
		return exactly(asksPart), asked + ", less than is offered there"
	}
	return exactly(asksAll), asked + ", all that is offered there"
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
