package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

func (p Picture) byContract(n *negotiation.Result) (Seen, string) {
	if len(n.Contracts) == 0 || endInTheNext(n) {
		return nil, ""
	}
	best := n.Contracts[0]
	for _, c := range n.Contracts {
		if millivolts(c) > millivolts(best) {
			best = c
		}
	}
	text := contractText(best)
	if lapsed := p.lapses(); lapsed != "" { // what follows is the source's duty
		return Exactly(ContractAnew), text + ", and " + lapsed
	}
	if times := readyUnheardTimes(n); times > 0 && p.Meter() == nil {
		return Seen{ReadyUnheard: 1, ContractLost: timedChance}, fmt.Sprintf("%s, and %d times a Hard Reset follows as if the sink had not heard the PS_RDY", text, times)
	} else if times > 0 && p.Meter().Sampling.MaxA < burstA {
		return Exactly(ReadyUnheard), fmt.Sprintf("%s, and %d times a Hard Reset follows as if the sink had not heard the PS_RDY", text, times)
	}
	if rule, lost := p.losesContracts(); lost {
		return Exactly(ContractLost), text + ", and " + p.Text(rule)
	}
	if anew := p.beginsAnew(); anew != "" {
		s := Exactly(ContractAnew)
		if p.asksAgain() {
			s[ContractHigh] = renewedShare
		}
		return s, text + ", and " + anew
	}
	if mv := millivolts(best); mv > 0 && float64(mv)/1000 < contractV {
		if !offersMore(n) { // the machine took all there is
			return Seen{Contract5V: 1, ContractHigh: 1}, text + ", and the source offers no more, so CC, port controller and its supply work"
		}
		return Exactly(Contract5V), text
	}
	return Exactly(ContractHigh), text + ", so CC, port controller and its supply work"
}

// endInTheNext reports contracts that end, again and again, in the try at another one: the step
// that is missing there tells more than the loss.
func endInTheNext(n *negotiation.Result) bool {
	resets, within := 0, 0
	for _, c := range n.Contracts {
		if c.EndedBy != "hard-reset" || c.EndS == nil {
			continue
		}
		resets++
		if slices.ContainsFunc(n.Attempts, func(a negotiation.Attempt) bool {
			return a.EndS == *c.EndS && (a.Missing == negotiation.StepPowerReady || a.Missing == negotiation.StepAnswer)
		}) {
			within++
		}
	}
	return within >= gaveUp() && float64(within) >= timedShare*float64(resets)
}

// losesContracts reports contracts that are lost again and again, or in which VBUS gives
// way: one that ends without a reset may be a plug that was pulled, but not under load each
// time.
func (p Picture) losesContracts() (rule string, lost bool) {
	for _, rule := range []string{"contract-lost", "hard-reset-loop"} {
		if p.Is(rule, rules.Fault) {
			return rule, true
		}
	}
	return "vbus-collapse", p.Is("vbus-collapse", rules.Fault) && fallsFromContract(p.Meter()) >= glimpses
}

// Agreed reports messages that hold a contract.
func (p Picture) Agreed() bool {
	n := p.Facts.Negotiation
	return n != nil && len(n.Contracts) > 0
}

const (
	timedFrom   = 3    // contracts that end so: one may be a chance. Common practice
	timedShare  = 0.8  // of all that a Hard Reset ends
	timedChance = 0.05 // that what breaks down by itself does so just then each time
	timedS      = 0.01 // what stamps and a sink's timer are off
)

// readyUnheardTimes is how many contracts a Hard Reset ends for want of a PS_RDY that was
// said: the sink does not acknowledge it, or its wait for it runs out; 0 where that may be chance.
func readyUnheardTimes(n *negotiation.Result) int {
	wait := pd.TPSTransitionSPR.Limits(pd.Revision32)
	hits, resets := 0, 0
	for _, c := range n.Contracts {
		if c.EndedBy != "hard-reset" {
			continue
		}
		resets++
		if c.Unheard {
			hits++
			continue
		}
		if c.AcceptS == nil || c.EndS == nil {
			continue
		}
		if after := *c.EndS - *c.AcceptS; after >= wait.MinSI()-timedS && after <= wait.MaxSI()+timedS {
			hits++
		}
	}
	if hits < timedFrom || float64(hits) < timedShare*float64(resets) {
		return 0
	}
	return hits
}

// offersMore reports an object above 5 V in the last offer, or no offer that was seen.
func offersMore(n *negotiation.Result) bool {
	if len(n.Offers) == 0 {
		return true
	}
	return slices.ContainsFunc(n.Offers, func(o negotiation.Offer) bool {
		return o.VoltageMV == nil || float64(*o.VoltageMV)/1000 >= contractV
	})
}

func millivolts(c negotiation.Contract) int {
	if c.VoltageMV == nil {
		return 0
	}
	return *c.VoltageMV
}

func contractText(c negotiation.Contract) string {
	text := "a contract"
	if mv := millivolts(c); mv > 0 {
		text = fmt.Sprintf("a contract at %.4g V", float64(mv)/1000)
	}
	if c.StartS != nil {
		text += fmt.Sprintf(" stands from %.2f s", *c.StartS)
	} else {
		text += " stands"
	}
	return text
}

// lostContracts are those above 5 V that ended in a reset, or in both sides beginning anew.
func lostContracts(n *negotiation.Result) []negotiation.Contract {
	if n == nil {
		return nil
	}
	var lost []negotiation.Contract
	for _, c := range n.Contracts {
		small := millivolts(c) > 0 && float64(millivolts(c))/1000 < contractV
		if c.StartS != nil && c.EndS != nil && !small && slices.Contains([]string{"hard-reset", "restart", "detach", "vbus-off"}, c.EndedBy) {
			lost = append(lost, c)
		}
	}
	return lost
}

// lostLengths is how long each of them stood, in seconds.
func lostLengths(n *negotiation.Result) []float64 {
	var lengths []float64
	for _, c := range lostContracts(n) {
		lengths = append(lengths, *c.EndS-*c.StartS)
	}
	return lengths
}

// middle is the median, NaN of none.
func middle(lengths []float64) float64 {
	if len(lengths) == 0 {
		return math.NaN()
	}
	slices.Sort(lengths)
	return lengths[len(lengths)/2]
}
