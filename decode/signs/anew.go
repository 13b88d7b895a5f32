package signs

import (
	"fmt"
	"slices"

	"portside/decode/negotiation"
	"portside/pd"
)

const (
	softResetSeen  = 3 // Soft Resets of the sink, for it to be a habit: common practice
	keepsSeen      = 2 // keep-alives of a programmable contract that did not come: common practice
	askedAgainSeen = 8 // Requests for a fixed contract that stands: common practice
)

// renewedShare is how often a contract that nothing is wrong with is asked for again and again: some
// software does. Common practice.
const renewedShare = 0.015

// asksAgain reports Requests for the contract that stands, again and again.
func (p Picture) asksAgain() bool {
	n := p.Facts.Negotiation
	return n != nil && n.AskedAgain >= askedAgainSeen
}

// beginsAnew reports a sink that resets the talk again and again.
func (p Picture) beginsAnew() string {
	n := p.Facts.Negotiation
	if n == nil || len(n.Contracts) == 0 { // else it asks for the answer that it did not get
		return ""
	}
	if p.asksAgain() {
		return fmt.Sprintf("the sink asks %d times more for the contract that stands", n.AskedAgain)
	}
	if text := p.lapses(); text != "" {
		return text
	}
	count, first := 0, 0.0
	for _, r := range n.Resets {
		if !r.Hard && !r.Cable && r.By == "sink" {
			if count == 0 {
				first = r.TimeS
			}
			count++
		}
	}
	if count < softResetSeen {
		return ""
	}
	return fmt.Sprintf("the sink sends %d Soft_Resets, first at %.2f s", count, first)
}

// lapses reports a sink that does not keep its programmable contract alive: the source has to
// reset it. One that comes late to a source that waits for it loses nothing.
func (p Picture) lapses() string {
	n := p.Facts.Negotiation
	if n == nil || len(n.PPSMissed) == 0 {
		return ""
	}
	missed := n.PPSMissed
	switch {
	case len(missed) >= keepsSeen && len(lostContracts(n)) > 0:
		return fmt.Sprintf("the sink lets its contract lapse %d times, first at %.2f s", len(missed), missed[0].TimeS)
	case resetAfterLapse(n):
		return fmt.Sprintf("the sink lets its contract lapse at %.2f s, and the source has to reset it", missed[0].TimeS)
	}
	return ""
}

// lapsesMostly is the same where at least half of the contracts that were lost are.
func (p Picture) lapsesMostly() string {
	text := p.lapses()
	if n := p.Facts.Negotiation; text == "" || 2*len(n.PPSMissed) < len(lostContracts(n)) {
		return ""
	}
	return text
}

// resetAfterLapse reports a Hard Reset as soon after the first keep-alive that did not come as
// a source waits for it: a recorder that missed the message would show none.
func resetAfterLapse(n *negotiation.Result) bool {
	due := n.PPSMissed[0].TimeS
	wait := pd.TPPSTimeout.Limits(pd.Revision32).MaxSI() - pd.TPPSRequest.Limits(pd.Revision32).MaxSI() + lapseSlackS
	return slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool {
		return c.EndedBy == "hard-reset" && c.EndS != nil && *c.EndS > due && *c.EndS < due+wait
	})
}

// lapseSlackS is how far VBUS may be from the PS_RDY and the Hard Reset that it is timed by:
// common practice.
const lapseSlackS = 0.5

// lapsesUnheard is the same on a meter alone: each contract at what no fixed supply gives
// stands for as long as a source waits for the next Request, and ends.
func (p Picture) lapsesUnheard() string {
	d := p.Meter()
	if d == nil || p.Agreed() {
		return ""
	}
	if level, known := lastLevel(d, true); !known || level.Fixed() {
		return ""
	}
	lengths := heldLevels(d)
	limits := pd.TPPSTimeout.Limits(pd.Revision32)
	slack := lapseSlackS + 2*d.Sampling.IntervalS
	for _, s := range lengths {
		if s < limits.MinSI()-slack || s > limits.MaxSI()+slack {
			return ""
		}
	}
	if len(lengths) < keepsSeen {
		return ""
	}
	return fmt.Sprintf("%d times VBUS goes away after %.0f s, as where the sink lets a programmable contract lapse", len(lengths), middle(lengths))
}
