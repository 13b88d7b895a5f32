package negotiation

import (
	"portside/decode/message"
	"portside/pd"
)

// The phases by their published names.
const (
	phaseAttach       = "attach"
	phaseCapabilities = "source-capabilities"
	phaseRequest      = "request"
	phaseAnswer       = "answer"
	phaseReady        = "power-ready"
	phaseContract     = "contract"
	phaseHardReset    = "hard-reset"
	phaseSoftReset    = "soft-reset"
)

// capabilities takes an offer.
func (t *Tracker) capabilities(p pd.Message, from pd.PowerRole, asked pd.MessageType, at, end stamp) {
	epr := p.Type() == pd.EPRSourceCapabilities
	if x, ok := p.ExtendedHeader(); ok && x.RequestChunk() {
		return
	}
	if epr && t.result.BeginsInside && !t.fresh {
		t.epr = true // it was entered before the recording
	}
	if from != pd.Source || epr != t.epr {
		return // what a dual-role sink could offer, or the offers of the other mode: for information only
	}
	if t.stage == forAnswer || t.stage == forReady || t.stage == refused || t.stage == putOff {
		t.close(at, byOffer)
	}
	t.fresh = true
	t.arriveOffer(at)
	if !t.offers.Take(p) {
		return // a part of it
	}
	t.result.Offers = offerList(&t.offers)
	t.revision = p.Header.Revision()
	t.result.SourceRev = sourceRevision(t.revision)
	if !t.attempt.open {
		t.open(at)
		t.attempt.optional = t.contract.open && asked == pd.GetSourceCap
	}
	t.stage = forRequest
	t.attempt.heard = false
	t.offered(at, end)
	t.attempt.OfferMV, t.attempt.OfferMW = most(&t.offers)
	t.begin(phaseRequest, end, answer(t.revision), p.Type())
	t.wait.unjudged = t.attempt.optional
}

// arriveOffer closes the wait for an offer. What a sink's own software did not
// hear before it listened says nothing about the source.
func (t *Tracker) arriveOffer(at stamp) {
	if t.stage != forCapabilities && t.stage != forSoftAccept && t.stage != forVBUS {
		return
	}
	switch {
	case t.wait.phase == phaseHardReset:
		t.wait.limit = t.limits.resetOffer
		if t.attempt.fromEPR {
			t.wait.limit = t.limits.resetOfferEPR
		}
	case t.stage != forCapabilities:
		t.drop()
	case t.clock.sink:
		t.wait.unjudged = true
	}
	t.arrive(at)
}

func sourceRevision(r pd.Revision) string {
	switch r {
	case pd.Revision20, pd.Revision3x:
		return r.String()
	default:
		return ""
	}
}

func (t *Tracker) request(p pd.Message, at, end stamp) {
	switch t.stage {
	case forRequest:
		t.arrive(at)
	case refused:
		t.close(at, byRequest)
	default:
		t.drop()
	}
	if !t.attempt.open {
		t.open(at)
		t.attempt.Beginning = t.result.BeginsInside && !t.fresh && !t.contract.open
	}
	if p.Type() == pd.EPRRequest {
		t.epr = true // it is sent in no other mode
	}
	t.attempt.heard = true // it was, since it is answered
	if t.revision == 0 || p.Header.Revision() < t.revision {
		t.revision = p.Header.Revision()
	}
	t.deal = deal{message.NewDeal(p, &t.offers, t.revision)}
	if t.deal.Mismatch {
		t.mismatches.add(Moment{at.s})
	}
	a := &t.attempt
	a.RequestAt, a.Heard, a.again = t.deal.Position, HeardUnknown, 0
	if t.pending.failed {
		a.Heard = Unacknowledged
	}
	a.RequestMV, a.RequestMA, a.Mismatch = int(t.deal.Voltage), int(t.deal.Current), t.deal.Mismatch
	t.stage = forAnswer
	t.begin(phaseAnswer, end, answer(t.revision), p.Type())
}

func (t *Tracker) accept(asked pd.MessageType, at, end stamp) {
	switch {
	case t.stage == forAnswer:
		t.attempt.askedS = t.wait.from.s
		t.arrive(at)
		t.toReady(end)
	case t.stage == forSoftAccept && (asked == pd.SoftReset || asked == 0):
		t.arrive(at)
		t.stage = forCapabilities
		t.begin(phaseCapabilities, end, t.limits.firstOffer, pd.Accept)
	case t.stage == idle && asked == 0 && t.result.BeginsInside && !t.contract.open:
		t.open(at)
		t.attempt.Beginning = true
		t.deal = deal{}
		t.toReady(end)
		t.wait.unjudged = true // it may answer something else than a Request
	}
}

func (t *Tracker) toReady(end stamp) {
	t.stage = forReady
	if t.pending.failed {
		t.attempt.AnswerHeard = Unacknowledged
	}
	t.begin(phaseReady, end, ready(t.revision, t.contract.standing(), t.deal), pd.Accept)
}

func (t *Tracker) refuse(kind pd.MessageType, at, end stamp) {
	if t.stage != forAnswer {
		return
	}
	t.arrive(at)
	if t.contract.open {
		t.refusals.add(Moment{at.s})
		t.attempt = attempt{}
		t.stage = settled
		return
	}
	t.attempt.refusedS = at.s
	t.stage = refused
	t.attempt.Waited = kind == pd.Wait
	if t.attempt.Waited {
		t.stage = putOff
		t.attempt.putOffs++
		t.attempt.refusedS = end.s
	}
}

// powerReady takes a PS_RDY: the end of a transition, or a step of a swap.
func (t *Tracker) powerReady(from pd.PowerRole, swapping bool, at, end stamp) {
	if swapping {
		if !t.speakers.Swapping() {
			t.rolesSwapped(at, end)
		}
		return
	}
	switch t.stage {
	case forReady:
		accepted := t.wait.from.s
		t.arrive(at)
		t.agree(at, !t.deal.Known)
		if c := &t.contract.Contract; *c.StartS == at.s {
			c.AcceptS = known(accepted)
		}
	case forAnswer:
		t.drop() // the Accept was not recorded
		t.agree(at, false)
	case forRequest, forCapabilities:
		if t.contract.open || from != pd.Source {
			return
		}
		t.drop() // neither was the Request
		t.deal = deal{}
		t.agree(at, true)
	case idle:
		if t.result.BeginsInside && !t.contract.open && from == pd.Source {
			t.deal = deal{}
			t.agree(at, true)
		}
	}
}

// rolesSwapped starts afresh after a PR_Swap: the old contract is void and the
// new source offers.
func (t *Tracker) rolesSwapped(at, end stamp) {
	t.close(at, bySwap)
	t.endContract(at, bySwap)
	t.repeats.Forget()
	t.offers.Forget()
	t.revision, t.epr, t.fresh = 0, false, true
	t.counters, t.restart = [3]counter{}, restart{}
	t.open(at)
	t.stage = forCapabilities
	t.begin(phaseCapabilities, end, t.limits.firstOffer, pd.PSRDY)
}

// eprMode follows entering and leaving EPR mode: after either, the source
// offers anew while the contract stands.
func (t *Tracker) eprMode(p pd.Message, at, end stamp) {
	if p.NumObjects() == 0 {
		return
	}
	switch pd.EPRMDO(p.Object(0)).Action() {
	case pd.EPREnterSucceeded:
		t.epr = true
	case pd.EPRExit:
		t.epr = false
	default:
		return
	}
	t.close(at, byOffer)
	t.open(at)
	t.stage = forCapabilities
	t.begin(phaseCapabilities, end, t.limits.firstOffer, pd.EPRMode)
}
