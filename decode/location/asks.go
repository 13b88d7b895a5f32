package location

import (
	"fmt"
	"slices"

	"portside/decode/draw"
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

// Whether the machine keeps what it asked for.
const (
	keepsHigh = "keeps-it"
	stepsBack = "steps-back"
)

// backTo5Topic: whoever gets what it asked for, and asks for 5 V again and again before it
// draws, does not see it arrive.
func backTo5Topic() topic {
	return topic{name: "asks for 5 V again", cap: recordingCap, rows: []row{
		{keepsHigh, "keeps what it asked for", 99.9, like{inputSwitch: 98, controller: 97.5, supply: 99, ccContact: 99.8, chargerIC: 99.5, sequence: 99.7, healthyPart: 99.95}, "a sink asks for less where it needs less", "USB PD R3.2 V1.1 section 6.4.2 (Request); " + practice},
		{stepsBack, "goes back to 5 V again and again, and has not drawn", 0.1, like{inputSwitch: 2, controller: 2.5, supply: 1, ccContact: 0.2, chargerIC: 0.5, sequence: 0.3, healthyPart: 0.05}, "a controller that misreads VBUS, or an input switch behind which nothing arrives", "USB PD R3.2 V1.1 section 6.4.2 (Request); " + practice},
	}}
}

// backFrom is how often the machine goes back for more than a change of mind: common practice.
const backFrom = 3

// goesBack tells a sink that asks for 5 V again after contracts that it did not draw from,
// while the offer stands.
func (p picture) goesBack() (seen, string) {
	n, d := p.Facts.Negotiation, p.meter()
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
	return exactly(stepsBack), fmt.Sprintf("the machine itself goes back to 5 V %d times, first at %.2f s, and draws nothing before", count, first)
}

// drewAtAll reports a draw that was more than a standby for a moment.
func drewAtAll(d *draw.Result) bool {
	return slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && *q.CurrentA > standbyA && q.EndS-q.StartS >= beganS
	})
}
