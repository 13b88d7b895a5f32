package signs

import (
	"fmt"

	"portside/decode/negotiation"
)

// roughFrom is how many failed starts make a rough one: a plug that is moved
// makes one.
const roughFrom = 2

// Starts tells a power-up that stands at once from one that needed several. Where
// contracts are lost again and again, starts that fail in between still tell: an overload
// waits for its contract.
func (p Picture) Starts() (Seen, string) {
	if !p.Contract || p.Cold || p.Garbled() { // the same damage
		return nil, ""
	}
	failed := p.failedStarts()
	switch {
	case failed >= roughFrom && p.BreaksDown():
		return Exactly(StartRough), fmt.Sprintf("%d starts come to no contract", failed)
	case failed >= roughFrom && failed <= p.lostAtFirst(): // told as losses
		return nil, ""
	case failed >= roughFrom && p.listensLate():
		return Exactly(StartLate), fmt.Sprintf("%d starts end with offers that get no answer, and the next one stands", failed)
	case failed >= roughFrom:
		return Exactly(StartRough), fmt.Sprintf("%d starts fail before it stands", failed)
	case p.BreaksDown():
		return nil, ""
	}
	return Exactly(StartSmooth), "the power-up stands at the first or second start"
}

// glimpseEveryS is how close rows must lie to show a contract that is lost at once:
// common practice.
const glimpseEveryS = 0.05

// stoodS is how long VBUS stands above 5 V for a start that came to something: what ends
// it later is a plug that is pulled, or told as a loss. Common practice.
const stoodS = 2.0

// failedStarts counts attempts that came to no contract. A meter alone shows VBUS that
// goes off again; where contracts break down it must be quick enough to have seen them.
func (p Picture) failedStarts() int {
	failed := 0
	if n := p.Facts.Negotiation; n != nil {
		for _, a := range n.Attempts {
			if !a.Beginning && a.Missing != negotiation.StepDone && a.Missing != negotiation.StepLeft {
				failed++
			}
		}
		return failed
	}
	d := p.Meter()
	if d == nil || p.BreaksDown() && d.Sampling.IntervalS > glimpseEveryS {
		return 0
	}
	stood := 0.0 // above 5 V
	for i, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV:
			stood += l.EndS - l.StartS + d.Sampling.IntervalS
		case l.NominalV == 0 && i > 0:
			if stood == 0 || stood < stoodS && !p.BreaksDown() {
				failed++
			}
			stood = 0
		}
	}
	return failed
}

// lateMost is how many starts a machine that boots without its battery may miss: a Hard Reset
// comes each 1.5 s or so, and a controller boots within a few seconds. Common practice.
const lateMost = 4

// listensLate reports starts that fail before the first contract alone, and each because the
// offers were not acknowledged, or by the controller's hardware alone.
func (p Picture) listensLate() bool {
	n := p.Facts.Negotiation
	if n == nil || p.BreaksDown() {
		return false
	}
	missed := 0
	for _, a := range n.Attempts {
		switch {
		case a.Missing == negotiation.StepDone:
			return missed > 0 && missed <= lateMost
		case a.Missing != negotiation.StepAcknowledge && a.Missing != negotiation.StepRequest:
			return false
		}
		missed++
	}
	return false
}
