package negotiation

import "portside/pd"

// attempt is a try at a contract that is not over yet.
type attempt struct {
	Attempt
	open     bool
	standing bool // a contract stands meanwhile
	optional bool // an offer that was asked for: no Request need follow

	heard    bool    // the last offer was acknowledged
	unheard  bool    // an offer is known not to have been acknowledged
	offerS   float64 // start of the last offer
	ackDueS  float64 // when a listening sink would have acknowledged one
	refusedS float64
	putOffs  int     // Waits in it
	askedS   float64 // end of the Request, or of its GoodCRC, once it was accepted
	again    int     // repeats of the last Request
	vbus     bool    // VBUS was seen to come in it
	fromHard bool    // it began with a Hard Reset
	fromEPR  bool    // which ended EPR mode
	sinkAnew bool    // a Soft_Reset of the sink ends it
}

func (t *Tracker) open(at stamp) {
	t.attempt = attempt{Attempt: Attempt{StartS: at.s}, open: true, standing: t.contract.open}
}

// offered counts an offer of the attempt that is not just a retry.
func (t *Tracker) offered(at, end stamp) {
	a := &t.attempt
	a.Offers++
	a.offerS = at.s
	switch {
	case t.pending.failed:
		a.unheard = true
	case t.sides[pd.Source].reported > 0:
		a.heard = true // the recorder tells what was not
	}
	// One offer without a listener is normal at attach, so an acknowledgement is
	// due when the second has had its time, or when no second comes.
	switch a.Offers {
	case 1:
		a.ackDueS = end.s + t.limits.offerRepeat.s
	case 2:
		a.ackDueS = at.s + t.limits.soonestRepeatS
	}
}

// close ends the attempt and its open phase at a moment, and keeps both.
func (t *Tracker) close(at stamp, by string) {
	if !t.attempt.open {
		return
	}
	if a, ok := t.ended(at, by); ok {
		t.attempts.add(a)
	}
	t.abandon(at)
	t.attempt = attempt{}
}

// ended is the attempt as it would end now; ok is false where it left nothing
// worth keeping: a renewal inside a contract that went well or never began.
func (t *Tracker) ended(at stamp, by string) (a Attempt, ok bool) {
	a = t.attempt.Attempt
	a.EndS, a.EndedBy = max(at.s, a.StartS), by
	a.Missing, a.DueS = t.missing(at, by)
	plain := a.Missing == StepLeft || a.Missing == StepDone
	return a, !(t.attempt.standing && plain && (a.Offers == 0 || t.attempt.optional))
}

const (
	byEnd      = "end-of-recording"
	byHard     = "hard-reset"
	bySoft     = "soft-reset"
	byDetach   = "detach"
	byVBUSOff  = "vbus-off"
	byOffer    = "new-offer"
	byRequest  = "new-request"
	byContract = "new-contract"
	bySwap     = "role-swap"
	byRestart  = "restart"
)

// putOffMost is how often a source may put a Request off until it is a refusal: one that shares its
// power settles within moments. Common practice.
const putOffMost = 5

// missing is the first step that the attempt lacks when it ends so, and when
// that step was due. Nothing is missing before it was due; where a reset came
// earlier than that, the step cannot be told.
func (t *Tracker) missing(at stamp, by string) (Step, *float64) {
	if by == byEnd && t.attempt.putOffs >= putOffMost {
		return StepRefused, known(t.attempt.refusedS)
	}
	switch t.stage {
	case forCapabilities:
		return t.missingOffer(at, by)
	case forSoftAccept:
		if t.attempt.again >= t.limits.repeats && by == byHard {
			return StepLeft, nil // nobody hears the reset: it is the attempt before that tells
		}
		return early(by), nil
	case forRequest:
		if step, due := t.missingAck(at, by); step != StepDone {
			return step, due
		}
		if t.attempt.optional {
			return StepLeft, nil
		}
		if by == bySoft && t.attempt.sinkAnew {
			return StepBegunAnew, nil
		}
		return t.missingReply(StepRequest, at, by)
	case forAnswer:
		onTheLine := t.sides[pd.Source].shown && !t.clock.sink
		if t.attempt.Heard == HeardUnknown && (t.sides[pd.Sink].shown || onTheLine) {
			t.attempt.Heard = Unacknowledged // others are shown
		}
		if t.attempt.again >= t.limits.repeats && (by == bySoft || by == byHard) { // it gave up, and waited for no answer
			return StepAnswer, known(t.wait.from.s + t.limits.ackS)
		}
		return t.missingReply(StepAnswer, at, by)
	case forReady:
		return t.missingReady(at, by)
	case refused:
		return StepRefused, known(t.attempt.refusedS)
	case putOff:
		// Wait puts the sink off: it may ask again, or the source offers anew.
		asksAgain := t.attempt.refusedS + t.limits.afterWaitS
		if by == byOffer || by == byEnd && at.s <= asksAgain {
			return StepLeft, nil
		}
		return StepRefused, known(t.attempt.refusedS)
	default:
		return StepLeft, nil
	}
}

// missingReady judges what came between Accept and PS_RDY.
func (t *Tracker) missingReady(at stamp, by string) (Step, *float64) {
	if t.attempt.AnswerHeard == Unacknowledged && (by == bySoft || by == byHard) {
		return StepAnswerHeard, known(t.wait.from.s + t.limits.ackS)
	}
	if by == byHard && t.sinkGaveUp(at) {
		return StepAnswerHeard, known(t.wait.from.s)
	}
	step, due := t.missingReply(StepPowerReady, at, by)
	if step == StepUnknown && by == byHard {
		return StepCutShort, nil
	}
	return step, due
}

// sinkGaveUp reports a moment at which the sink's wait for an answer to its Request runs out.
func (t *Tracker) sinkGaveUp(at stamp) bool {
	if t.attempt.askedS == 0 || at.software {
		return false
	}
	after, off := at.s-t.attempt.askedS, t.limits.ackS+t.slack()
	return after >= pd.TSenderResponse.Limits(t.revision).MinSI()-off && after <= giveUp(t.revision).s+off
}

// early is what can be said of an attempt that ended before anything was due.
func early(by string) Step {
	switch by {
	case byHard, bySoft, byOffer, byRequest:
		return StepUnknown
	default:
		return StepLeft
	}
}

// missingOffer judges a wait for capabilities. A sink that asks anew with
// Soft_Reset did not listen before, and what it missed is not missing.
func (t *Tracker) missingOffer(at stamp, by string) (Step, *float64) {
	if by == bySoft {
		return StepLeft, nil
	}
	w := t.wait
	due := w.from.s + w.limit.s + w.slack
	switch {
	case w.limit.s <= 0:
		return early(by), nil
	case by == byEnd && w.phase == phaseCapabilities:
		// A sink that listens late is no fault of the source.
		if at.s-w.from.s <= t.limits.sinkWait.s+spread(w.from, at)+t.slack() {
			return StepLeft, nil
		}
		return StepCapabilities, known(due)
	case by == byHard && t.attempt.fromHard && !t.attempt.vbus:
		// Between two Hard Resets without VBUS being seen: the second comes when
		// the sink has waited in vain, or for another reason before.
		due = t.attempt.StartS + t.limits.soonestResetS
	}
	if at.s-due > spread(w.from, at)+t.slack() {
		return StepCapabilities, known(due)
	}
	if by == byHard && t.attempt.fromHard && at.s-t.attempt.StartS <= pd.TPSHardReset.Limits(t.revision).MaxSI() {
		return StepLeft, nil // VBUS still stands: both sides gave up the attempt before
	}
	return early(by), nil
}

// missingAck judges whether anyone listened; StepDone says someone may have.
func (t *Tracker) missingAck(at stamp, by string) (Step, *float64) {
	a := &t.attempt
	if a.heard || !a.unheard && !t.sides[pd.Source].shown {
		return StepDone, nil
	}
	due := a.ackDueS
	if by != byEnd && a.Offers == 1 {
		due = a.offerS + t.limits.soonestRepeatS
	}
	if at.s-due > at.late+t.slack() {
		return StepAcknowledge, known(due)
	}
	return early(by), nil
}

// missingReply judges what the partner owed. At the end of a recording it is
// missing only once the other side would have given up.
func (t *Tracker) missingReply(step Step, at stamp, by string) (Step, *float64) {
	w := t.wait
	if w.limit.s <= 0 {
		return early(by), nil
	}
	due := w.from.s + w.limit.s + w.slack
	until := due
	if by == byEnd {
		patience := giveUp(t.revision)
		if step == StepPowerReady {
			patience = t.limits.sinkPatience
			if t.epr {
				patience = t.limits.sinkPatienceEPR
			}
		}
		until = max(due, w.from.s+patience.s+w.slack)
	}
	if at.s-until > spread(w.from, at)+t.slack() {
		return step, known(due)
	}
	return early(by), nil
}
