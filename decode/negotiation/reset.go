package negotiation

import (
	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// hardReset takes a Hard Reset. The ordered set does not say who sent it; what
// was waited for does, where it was due.
func (t *Tracker) hardReset(at stamp) {
	t.result.HardResets++
	if !t.decided {
		t.decided, t.result.BeginsInside = true, true
	}
	t.keptAlive(at)
	r := Reset{TimeS: at.s, Hard: true}
	r.By, r.Cause = t.cause(at)
	t.resets.add(r)
	t.missedAck()
	epr := t.epr
	t.close(at, byHard)
	t.endContract(at, byHard)
	t.forget()
	t.open(at)
	t.attempt.fromHard, t.attempt.fromEPR = true, epr
	t.stage = forCapabilities
	on := t.limits.resetOn
	if epr {
		on = t.limits.resetOnEPR
	}
	t.beginAt(phaseHardReset, at, on)
}

// cause is who most likely sent the Hard Reset and why; empty where what was
// waited for was not due yet.
func (t *Tracker) cause(at stamp) (by, cause string) {
	if !t.attempt.open {
		return "", ""
	}
	unheard := t.pending.failed || t.pending.open && t.sides[t.pending.from].shown
	if t.stage == forSoftAccept && (unheard || t.wait.over(at) > 0) {
		return t.lastSoftBy(), "soft-reset-failed"
	}
	step, _ := t.missing(at, byHard)
	switch step {
	case StepCapabilities:
		return sinkWord, "no-capabilities"
	case StepRequest:
		return sourceWord, "no-request"
	case StepAnswer:
		return sinkWord, "no-answer"
	case StepPowerReady:
		return sinkWord, "no-power-ready"
	default:
		return "", ""
	}
}

const (
	sourceWord = "source"
	sinkWord   = "sink"
)

func (t *Tracker) lastSoftBy() string {
	if n := len(t.resets.items); n > 0 {
		return t.resets.items[n-1].By
	}
	return ""
}

// forget drops what a reset of both sides ends; the offers that were made stay
// published.
func (t *Tracker) forget() {
	t.repeats.Forget()
	t.offers.Forget()
	t.speakers = message.Speakers{}
	t.revision, t.epr, t.deal, t.fresh = 0, false, deal{}, true
	t.pending = pending{}
	t.counters, t.restart = [3]counter{}, restart{}
}

// softReset takes a Soft_Reset: the counters start anew and so does the
// negotiation, while VBUS stays.
func (t *Tracker) softReset(from pd.PowerRole, at, end stamp) {
	t.result.SoftResets++
	r := Reset{TimeS: at.s}
	switch from {
	case pd.Source:
		r.By = sourceWord
	case pd.Sink:
		r.By = sinkWord
	}
	t.resets.add(r)
	t.attempt.sinkAnew = from == pd.Sink
	t.close(at, bySoft)
	t.endContract(at, bySoft)
	t.fresh = true
	t.offers.Forget()
	t.open(at)
	t.stage = forSoftAccept
	t.begin(phaseSoftReset, end, answer(t.revision), pd.SoftReset)
}

// marker takes what a recorder notes besides messages.
func (t *Tracker) marker(k captures.Marker, at stamp) {
	t.decided, t.fresh = true, true // what follows is a whole connection, or none
	switch k {
	case captures.Attach:
		t.attaches.add(at.s)
		t.attach(at)
	case captures.Detach:
		t.detaches.add(at.s)
		t.leave(at, byDetach)
	case captures.VBUSOn:
		t.vbus.add(VBUSNote{at.s, true})
		t.vbusOn(at)
	case captures.VBUSOff:
		t.vbus.add(VBUSNote{at.s, false})
		t.vbusGone(at)
	}
}

func (t *Tracker) attach(at stamp) {
	if t.result.AttachS == nil {
		t.result.AttachS = known(at.s)
	}
	switch {
	case t.contract.open || t.stage >= forRequest:
		t.leave(at, byDetach) // the recorder did not note it
	case t.stage != idle:
		return // VBUS was noted first
	}
	t.open(at)
	t.stage = forVBUS
	t.beginAt(phaseAttach, at, t.limits.turnOn)
}

func (t *Tracker) vbusOn(at stamp) {
	switch t.stage {
	case forVBUS:
		t.arrive(at)
	case forCapabilities:
		if t.wait.phase == phaseHardReset {
			t.arrive(at)
		}
	case idle:
		if t.contract.open {
			return
		}
		t.open(at)
	default:
		return
	}
	t.attempt.vbus = true
	t.stage = forCapabilities
	t.beginAt(phaseCapabilities, at, t.limits.firstOffer)
}

// vbusGone ends everything, unless a Hard Reset or a swap turns VBUS off.
func (t *Tracker) vbusGone(at stamp) {
	if t.stage == forVBUS || t.wait.phase == phaseHardReset || t.speakers.Swapping() {
		return
	}
	t.leave(at, byVBUSOff)
}

func (t *Tracker) leave(at stamp, by string) {
	t.close(at, by)
	t.endContract(at, by)
	t.forget()
	t.stage = idle
}
