package bench

import (
	"math"

	"portside/pd"
)

// Times of the source's policy in seconds, chosen inside the limits of USB PD R3.2
// V1.1 tables 6.68 and 7.23 and USB Type-C R2.1 table 4-31.
const (
	sourceDebounceFromS, sourceDebounceToS = 0.115, 0.165   // tCCDebounce
	firstOfferFromS, firstOfferToS         = 0.095, 0.215   // tFirstSourceCap, as recorded sources do
	offerAgainFromS, offerAgainToS         = 0.146, 0.155   // tTypeCSendSourceCap
	answerFromS, answerToS                 = 0.002, 0.007   // tReceiverResponse
	senderResponseFromS, senderResponseToS = 0.0285, 0.0315 // tSenderResponse
	transitionFromS, transitionToS         = 0.0265, 0.033
	readyFromS, readyToS                   = 0.008, 0.030 // settled to PS_RDY, within tSrcTransReq
	smallFromS, smallToS                   = 0.001, 0.005 // both waits of a programmable supply's small step, within tPpsSrcTransSmall
	hardResetOffFromS, hardResetOffToS     = 0.027, 0.033 // tPSHardReset
	recoverFromS, recoverToS               = 0.70, 0.86   // tSrcRecover
)

// overloadedShare of the set voltage is where a source takes its output for
// overloaded, current limit or not. Common practice.
const overloadedShare = 0.8

// sourcePolicy is the charger's side: attach, offer, accept, move the voltage,
// say so, and protect itself.
type sourcePolicy struct {
	b       *bench
	speaker speaker
	toCable speaker // the same port on SOP'
	cableA  float64 // what the cable is known to carry
	epoch   int     // a reset or a trip makes pending steps void
	offers  int     // Source_Capabilities since VBUS came up
	trips   int
	answer  int // counts requests, to call off the wait for one
	held    int // voltage changes since VBUS came up
	epr     bool
	unwatch func()
}

func newSourcePolicy(b *bench) *sourcePolicy {
	s := &sourcePolicy{b: b, unwatch: func() {}}
	s.speaker = speaker{
		set: pd.SOP, role: pd.Source, data: pd.DFP, rate: b.uniform(296e3, 306e3),
		alive: func() bool { return b.p.SourcePD }, receive: s.receive, reset: s.resetHeard,
	}
	s.toCable = speaker{
		set: pd.SOPPrime, rate: s.speaker.rate,
		alive: func() bool { return b.p.SourcePD }, receive: s.cableAnswered, reset: nothing,
	}
	return s
}

// later does something after d unless a reset or a trip comes first.
func (s *sourcePolicy) later(d float64, do func()) {
	epoch := s.epoch
	s.b.after(d, func() {
		if epoch == s.epoch {
			do()
		}
	})
}

// attach begins once Rd is seen, which takes CC through cable and receptacle.
func (s *sourcePolicy) attach() {
	if s.b.p.SourceDead || s.b.p.CCOpen {
		return
	}
	s.later(s.b.uniform(sourceDebounceFromS, sourceDebounceToS), s.turnOn)
}

func (s *sourcePolicy) turnOn() {
	rise := s.b.p.SourceTurnOnMS / 1000
	s.b.c.sourceOn = true
	s.b.c.set = ramp{from: 0, to: s.b.p.Offers[0].Volts, at: s.b.now, rate: s.b.p.Offers[0].Volts / rise}
	s.epr, s.held = false, 0
	s.offers = 0
	s.later(rise, s.guard)
	if !s.b.p.SourcePD {
		return
	}
	epoch := s.epoch
	s.b.when(func(_ float64, y *state) bool { return epoch != s.epoch || y[nodeSource] >= onVolts() }, func() {
		if epoch == s.epoch {
			s.prepareOffer()
		}
	})
}

// prepareOffer waits for the moment of the first offer and uses the wait to
// read the cable where the offer depends on it.
func (s *sourcePolicy) prepareOffer() {
	wait := s.b.uniform(firstOfferFromS, firstOfferToS)
	due := s.b.now + wait
	s.cableA = silentCableA
	if s.wantsCable() {
		s.later(s.b.uniform(vconnFromS, vconnToS), func() { s.askCable(due) })
	}
	s.later(wait, s.offer)
}

// offer sends the capabilities, again and again until somebody acknowledges.
func (s *sourcePolicy) offer() {
	s.offers++
	started := s.b.now
	s.b.line.send(&s.speaker, &s.b.sink.speaker, pd.SourceCapabilities, offerObjectsOf(&s.b.p, s.offered()), func(ok bool) {
		switch {
		case ok:
			s.awaitRequest()
		case s.offers < count(pd.NCapsCount):
			s.later(s.b.uniform(offerAgainFromS, offerAgainToS)-(s.b.now-started), s.offer)
		}
	})
}

func (s *sourcePolicy) awaitRequest() {
	answer := s.answer
	s.later(s.b.uniform(senderResponseFromS, senderResponseToS), func() {
		if answer == s.answer {
			s.hardReset()
		}
	})
}

func (s *sourcePolicy) receive(m pd.Message) {
	switch {
	case m.Type() == pd.SoftReset:
		s.softResetHeard()
		return
	case m.Type() == pd.Accept: // of the source's own Soft_Reset
		s.offerAnew()
		return
	case s.receiveEPR(m) || m.Type() != pd.Request || m.NumObjects() == 0:
		return
	}
	s.answer++
	asked, ok := s.asked(pd.RDO(m.Object(0)))
	s.later(s.b.uniform(answerFromS, answerToS), func() {
		if !ok || s.b.p.SourceRefuses {
			s.say(pd.Reject, nothing)
			return
		}
		s.say(pd.Accept, func() { s.transition(asked) })
	})
}

// asked is the supply that a Request names; ok is false where there is none.
func (s *sourcePolicy) asked(r pd.RDO) (o Offer, ok bool) {
	offers := s.offered()
	switch position := r.Position(); {
	case position >= 1 && position <= len(offers):
		return offers[position-1], true
	case position == len(offers)+1 && s.b.p.PPSMaxV > 0:
		q := r.PPS()
		return Offer{q.Voltage.Volts(), q.OperatingCurrent.Amps()}, true
	default:
		return Offer{}, false
	}
}

func nothing() {}

func (s *sourcePolicy) say(kind pd.MessageType, acknowledged func()) {
	s.b.line.send(&s.speaker, &s.b.sink.speaker, kind, nil, func(ok bool) {
		if ok {
			acknowledged()
			return
		}
		s.softReset()
	})
}

// softReset follows a message that nobody acknowledged; a Hard Reset follows
// where it is not acknowledged either: USB PD R3.2 V1.1 section 6.8.
func (s *sourcePolicy) softReset() {
	s.speaker.nextID = 0
	s.b.line.send(&s.speaker, &s.b.sink.speaker, pd.SoftReset, nil, func(ok bool) {
		if !ok {
			s.hardReset()
		}
	})
}

// softResetHeard answers it and offers anew.
func (s *sourcePolicy) softResetHeard() {
	s.speaker.nextID = 0
	s.later(s.b.uniform(answerFromS, answerToS), func() { s.say(pd.Accept, s.offerAnew) })
}

func (s *sourcePolicy) offerAnew() {
	s.offers = 0
	s.later(s.b.uniform(answerFromS, answerToS), s.offer)
}

// transition moves the voltage and says PS_RDY once it has settled. A source
// that cannot leaves both out.
func (s *sourcePolicy) transition(o Offer) {
	if !s.b.p.SourcePowerReady {
		return
	}
	waitFrom, waitTo, readyFrom, readyTo := transitionFromS, transitionToS, readyFromS, readyToS
	if s.smallStep(o) {
		waitFrom, waitTo, readyFrom, readyTo = smallFromS, smallToS, smallFromS, smallToS
	}
	s.later(s.b.uniform(waitFrom, waitTo), func() {
		s.unwatch()
		c := &s.b.c
		to := o.Volts
		if gain := s.b.p.SourceSetGain; gain > 0 && to > s.b.p.Offers[0].Volts {
			to *= gain
		}
		c.set = ramp{from: c.set.value(s.b.now), to: to, at: s.b.now, rate: s.b.p.SourceSlewVPerS}
		settle := c.set.end() - s.b.now
		s.later(settle, s.guard)
		s.later(settle+s.b.uniform(readyFrom, readyTo), s.ready)
		s.held++
		if drop := s.b.p.SourceDropS; drop > 0 && s.held == 1 {
			s.later(drop*s.b.uniform(0.7, 1.3), s.trip)
		}
		if reset := s.b.p.SourceResetS; reset > 0 && s.held == 1 {
			s.later(reset*s.b.uniform(0.7, 1.3), s.hardReset)
		}
	})
}

// ready says that the voltage has settled, which what pulls it down keeps from coming true.
func (s *sourcePolicy) ready() {
	if !s.overloaded(s.b.now, &s.b.y) {
		s.say(pd.PSRDY, nothing)
	}
}

// smallStep reports a move of a programmable supply that must be over soon.
func (s *sourcePolicy) smallStep(o Offer) bool {
	step := math.Abs(o.Volts - s.b.c.set.value(s.b.now))
	return s.b.p.PPSMaxV > 0 && s.held > 0 && step <= limits(pd.VPpsSmallStep).MaxSI()
}

// hardReset is the source's own; resetHeard is the sink's.
func (s *sourcePolicy) hardReset() {
	end := s.b.line.hardReset(&s.speaker, &s.b.sink.speaker)
	s.restart(end - s.b.now)
}

func (s *sourcePolicy) resetHeard() { s.restart(0) }

// restart takes VBUS down after the pause of a Hard Reset and brings it back.
func (s *sourcePolicy) restart(ended float64) {
	s.epoch++
	s.unpowerCable()
	s.unwatch()
	s.later(ended+s.b.uniform(hardResetOffFromS, hardResetOffToS), func() {
		s.b.c.sourceOn = false
		epoch := s.epoch
		s.b.when(func(_ float64, y *state) bool { return epoch != s.epoch || y[nodeSource] <= offVolts() }, func() {
			if epoch == s.epoch {
				s.later(s.b.uniform(recoverFromS, recoverToS), s.turnOn)
			}
		})
	})
}

// unpowerCable takes VCONN away: the plug counts anew.
func (s *sourcePolicy) unpowerCable() {
	s.toCable.nextID, s.b.cable.speaker.nextID = 0, 0
}

// detach is CC that opens: VBUS goes, and the next attach counts its messages
// anew.
func (s *sourcePolicy) detach() {
	s.epoch++
	s.speaker.nextID = 0
	s.unpowerCable()
	s.unwatch()
	s.b.line.epoch++
	s.b.c.sourceOn = false
}

// guard watches for overload: the current limit, or a voltage far below what
// is set.
func (s *sourcePolicy) guard() {
	s.unwatch()
	if s.b.p.SourceTripMS == 0 {
		return
	}
	s.unwatch = s.b.when(s.overloaded, func() {
		s.later(s.b.p.SourceTripMS/1000, func() {
			if s.overloaded(s.b.now, &s.b.y) {
				s.trip()
				return
			}
			s.guard()
		})
	})
}

func (s *sourcePolicy) overloaded(t float64, y *state) bool {
	_, _, limiting := s.b.c.sourceCurrent(t, y[nodeSource])
	return limiting || y[nodeSource] < overloadedShare*s.b.c.set.value(t)
}

// trip switches off at once. A source that has spoken says Hard Reset and
// recovers as after one; any other comes back after its pause.
func (s *sourcePolicy) trip() {
	s.trips++
	s.epoch++
	s.unwatch()
	s.b.c.sourceOn = false
	if latch := s.b.p.SourceLatchTrips; latch > 0 && s.trips >= latch {
		return
	}
	if s.b.p.SourcePD && s.offers > 0 {
		s.hardReset()
		return
	}
	s.later(s.b.p.SourceRetryS, s.turnOn)
}
