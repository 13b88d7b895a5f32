package negotiation

import "portside/pd"

// openContract is the contract that stands.
type openContract struct {
	Contract
	deal deal
	open bool
}

// standing is the deal in force, the zero deal where none is known.
func (c *openContract) standing() deal {
	if !c.open {
		return deal{}
	}
	return c.deal
}

// agree makes the contract that the last Request asked for.
func (t *Tracker) agree(at stamp, implied bool) {
	if t.attempt.open {
		a := t.attempt
		a.EndS, a.EndedBy, a.Missing = max(at.s, a.StartS), "", StepDone
		if !a.standing || a.Offers > 0 {
			t.attempts.add(a.Attempt)
		}
	}
	implied = implied || t.deal.Kind == 0 && t.result.BeginsInside
	t.attempt = attempt{}
	t.stage = settled
	if t.contract.open && t.deal.Known && t.contract.deal.same(t.deal) {
		if t.deal.Kind == pd.KindFixed {
			t.result.AskedAgain++
		}
		return // kept alive
	}
	t.endContract(at, byContract)
	t.contract = openContract{Contract: t.deal.contract(at.s, implied), deal: t.deal, open: true}
}

func (t *Tracker) endContract(at stamp, by string) {
	if !t.contract.open {
		return
	}
	c := t.contract.Contract
	c.EndS, c.EndedBy = known(at.s), by
	t.contracts.add(c)
	t.phases.add(phase{Phase: Phase{Phase: phaseContract, StartS: c.StartS, EndS: c.EndS}, over: never})
	t.contract = openContract{}
}
