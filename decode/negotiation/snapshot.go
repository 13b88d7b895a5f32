package negotiation

import (
	"cmp"
	"slices"
)

// Result is what the messages so far say. The tracker goes on after it, and
// shares nothing with it.
func (t *Tracker) Result() *Result {
	r := t.result
	r.Offers = append([]Offer{}, t.result.Offers...)
	r.Software = t.clock.software
	r.ResolutionS = t.clock.resolution()
	if t.clock.begun {
		r.FirstS, r.LastS = known(t.clock.first), known(t.clock.last)
	}
	t.acknowledgements(&r)
	now := stamp{s: t.clock.last}
	if t.clock.software {
		now.late = softwareSpreadS
	}

	var left [3]int
	r.Phases, left[0] = t.phaseList(now)
	r.Contracts, left[1] = t.contractList()
	r.Attempts, _ = t.attemptList(now)
	r.LeftOut = left[0] + left[1]
	r.Resets, _ = t.resets.list()
	r.Mismatches, _ = t.mismatches.list()
	r.Refusals, _ = t.refusals.list()
	r.PPSMissed, _ = t.missed.list()
	r.VBUS, _ = t.vbus.list()
	r.Attaches, _ = t.attaches.list()
	r.Detaches, _ = t.detaches.list()
	return &r
}

// acknowledgements are judged only for a side whose GoodCRCs the recorder
// shows at all.
func (t *Tracker) acknowledgements(r *Result) {
	count := func(s side) int {
		if s.shown {
			return s.reported + s.without
		}
		return s.reported
	}
	r.CRCErrors.UnacknowledgedSink = count(t.sides[1])
	r.CRCErrors.UnacknowledgedSource = count(t.sides[2])
	r.CRCErrors.RepeatedSink, r.CRCErrors.RepeatedSource = t.sides[1].again, t.sides[2].again
}

// phaseList ends with what is under way.
func (t *Tracker) phaseList(now stamp) ([]Phase, int) {
	var open []phase
	if t.contract.open {
		open = append(open, phase{Phase: Phase{Phase: phaseContract, StartS: t.contract.StartS}, over: never})
	}
	if t.wait.phase != "" {
		open = append(open, t.wait.done(nil, t.wait.over(now)))
	}
	kept, left := t.phases.list(open...)
	list := make([]Phase, len(kept))
	// A contract is added when it ends, after what went on inside it.
	slices.SortStableFunc(kept, func(a, b phase) int { return cmp.Compare(*a.StartS, *b.StartS) })
	slack := t.slack()
	for i, p := range kept {
		list[i] = p.Phase
		list[i].Late = p.over > slack
	}
	return list, left
}

func (t *Tracker) contractList() ([]Contract, int) {
	if t.contract.open {
		return t.contracts.list(t.contract.Contract)
	}
	return t.contracts.list()
}

func (t *Tracker) attemptList(now stamp) ([]Attempt, int) {
	if t.attempt.open {
		if a, ok := t.ended(now, byEnd); ok {
			return t.attempts.list(a)
		}
	}
	return t.attempts.list()
}
