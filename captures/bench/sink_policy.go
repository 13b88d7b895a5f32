package bench

import "portside/pd"

// Times of the sink's policy in seconds, chosen inside the limits of USB PD R3.2 V1.1
// tables 6.68 and 7.24.
const (
	waitFromS, waitToS = 0.460, 0.520 // tTypeCSinkWaitCap
	psFromS, psToS     = 0.485, 0.515 // tPSTransition
	lostForS           = 0.030        // tSinkDisconnect
	plainDisconnectV   = 3.6          // vSinkDisconnect, near its upper end
	contractDisconnect = 0.8          // of the contract's voltage: near vSinkDisconnectPD
	switchDelayS       = 0.004
	byItselfS          = 2.5 // a switch that nobody holds open closes within this: common practice
	plainSourceA       = 3.0 // what may be taken from a source without PD that a search explores
)

// sinkPolicy is the device's port controller: it listens once VBUS feeds it,
// asks for what suits it, and hands the contract to the board.
type sinkPolicy struct {
	b        *bench
	speaker  speaker
	epoch    int
	alive    bool
	resets   int // Hard Resets in a row without a contract
	offered  bool
	asked    bool // a Request is out
	accepted bool
	ready    bool
	wanted   Offer
	unwatch  func()
}

func newSinkPolicy(b *bench) *sinkPolicy {
	s := &sinkPolicy{b: b, unwatch: func() {}}
	s.speaker = speaker{
		set: pd.SOP, role: pd.Sink, data: pd.UFP, rate: b.uniform(294e3, 308e3),
		alive: func() bool { return s.alive }, receive: s.receive, reset: s.resetHeard,
	}
	return s
}

func (s *sinkPolicy) later(d float64, do func()) {
	epoch := s.epoch
	s.b.after(d, func() {
		if epoch == s.epoch {
			do()
		}
	})
}

// awaitVBUS is the detached sink: VBUS wakes the controller.
func (s *sinkPolicy) awaitVBUS() {
	s.epoch++
	s.speaker.nextID = 0
	s.unwatch()
	s.alive, s.offered, s.accepted, s.ready = false, false, false, false
	s.unwatch = s.b.when(func(_ float64, y *state) bool { return y[nodePort] >= 0.95*onVolts() }, func() {
		s.watchVBUS(plainDisconnectV)
		s.boot()
	})
}

// boot is the controller from the moment that it is fed.
func (s *sinkPolicy) boot() {
	s.b.c.controller = s.b.p.ControllerW + s.b.p.ControllerBootW
	s.later(s.b.p.ControllerBootMS/1000, func() {
		s.b.c.controller = s.b.p.ControllerW
		s.listen()
	})
	if after := s.b.p.ControllerResetS; after > 0 {
		s.later(atLeast(after)*s.b.uniform(0.9, 1.1), s.brownOut)
	}
}

// brownOutS is how long a controller stays down whose supply gave out: common
// practice.
const brownOutS = 0.12

// brownOut is the controller's supply giving out: it forgets everything and
// starts anew.
func (s *sinkPolicy) brownOut() {
	s.epoch++
	s.speaker.nextID = 0
	s.alive, s.offered, s.accepted, s.ready = false, false, false, false
	s.b.c.controller = 0
	s.b.device.off()
	s.watchVBUS(plainDisconnectV)
	s.later(brownOutS, s.boot)
}

func (s *sinkPolicy) listen() {
	p := &s.b.p
	plain := func() { s.b.device.powered(Offer{p.Offers[0].Volts, plainSourceA}) }
	switch {
	case !p.ControllerAlive && p.SwitchAt5V: // the switch closes by itself where nobody holds it open
		s.later(s.b.uniform(0, byItselfS), plain)
	case !p.ControllerAlive:
	case !p.SourcePD && p.SwitchAt5V && p.PlainAtOnce:
		plain()
	default:
		s.alive = !p.ControllerDeaf
		s.awaitOffer()
	}
}

// awaitOffer gives up after its Hard Resets and takes the source for one
// without PD.
func (s *sinkPolicy) awaitOffer() {
	s.later(s.b.uniform(waitFromS, waitToS), func() {
		switch {
		case s.offered:
		case s.resets <= count(pd.NHardResetCount) && s.b.p.SourcePD:
			s.hardReset()
		case s.resets <= count(pd.NHardResetCount):
			s.resets++ // a source without PD does not hear it and leaves VBUS alone
			s.b.line.hardReset(&s.speaker, &s.b.source.speaker)
			s.awaitOffer()
		case s.b.p.SwitchAt5V:
			s.b.device.powered(Offer{s.b.p.Offers[0].Volts, plainSourceA})
		}
	})
}

func (s *sinkPolicy) receive(m pd.Message) {
	if s.receiveEPR(m) {
		return
	}
	switch m.Type() {
	default: // nothing else concerns it
	case pd.SourceCapabilities:
		s.offered, s.accepted = true, false
		if s.b.p.SinkRequests {
			s.later(s.b.uniform(answerFromS, answerToS), func() { s.request(offersOf(m)) })
		}
	case pd.Accept:
		if !s.asked {
			return // of its own Soft_Reset
		}
		s.asked, s.accepted = false, true
		s.later(s.b.uniform(psFromS, psToS), func() {
			if !s.ready {
				s.hardReset()
			}
		})
	case pd.PSRDY:
		if s.accepted {
			s.contract()
		}
	case pd.SoftReset:
		s.speaker.nextID = 0
		s.offered, s.accepted = false, false
		s.later(s.b.uniform(answerFromS, answerToS), func() {
			s.b.line.send(&s.speaker, &s.b.source.speaker, pd.Accept, nil, func(bool) {})
		})
	}
}

// softReset follows a Request that nobody acknowledged.
func (s *sinkPolicy) softReset() {
	s.speaker.nextID = 0
	s.offered, s.accepted, s.asked = false, false, false
	s.b.line.send(&s.speaker, &s.b.source.speaker, pd.SoftReset, nil, func(ok bool) {
		if !ok {
			s.hardReset()
		}
	})
}

func (s *sinkPolicy) request(offers []Offer) {
	wants := s.b.p.wantsMW()
	position, offer := choose(offers, wants)
	object := requestObject(position, offer, milli(offer.Volts*offer.Amps) < wants, s.b.p.EPR)
	if s.usesPPS() {
		offer, object = s.programmed(len(offers))
	}
	s.ask(offer, object)
}

func (s *sinkPolicy) ask(offer Offer, object uint32) {
	s.wanted, s.accepted, s.asked = offer, false, true
	s.b.line.send(&s.speaker, &s.b.source.speaker, pd.Request, []uint32{object}, func(ok bool) {
		if !ok {
			s.softReset()
			return
		}
		s.later(s.b.uniform(senderResponseFromS, senderResponseToS), func() {
			if !s.accepted {
				s.hardReset()
			}
		})
	})
}

// choose takes the offer of most power, and no higher voltage than the wanted
// power needs.
func choose(offers []Offer, wantMW int) (position int, chosen Offer) {
	position, chosen = 1, offers[0]
	for i, o := range offers {
		if chosen.Volts*chosen.Amps*1000 < float64(wantMW) && o.Volts*o.Amps > chosen.Volts*chosen.Amps {
			position, chosen = i+1, o
		}
	}
	return position, chosen
}

func (s *sinkPolicy) contract() {
	again := s.ready
	s.ready, s.resets = true, 0
	floor := plainDisconnectV
	if s.wanted.Volts > 5.5 {
		floor = contractDisconnect * s.wanted.Volts
	}
	s.watchVBUS(floor)
	s.follow()
	if again {
		return // the switch is closed already
	}
	s.later(switchDelayS, func() { s.b.device.powered(s.wanted) })
}

// watchVBUS takes a lasting fall of VBUS for the end of the connection.
func (s *sinkPolicy) watchVBUS(floor float64) {
	s.unwatch()
	low := func(_ float64, y *state) bool { return y[nodePort] < floor }
	s.unwatch = s.b.when(low, func() {
		s.later(lostForS, func() {
			if low(s.b.now, &s.b.y) {
				s.b.device.off()
				s.awaitVBUS()
				return
			}
			s.watchVBUS(floor)
		})
	})
}

func (s *sinkPolicy) hardReset() {
	s.resets++
	s.b.line.hardReset(&s.speaker, &s.b.source.speaker)
	s.resetHeard()
}

// resetHeard puts the sink back to waiting; VBUS will go and come.
func (s *sinkPolicy) resetHeard() {
	s.epoch++
	s.offered, s.accepted, s.ready = false, false, false
	s.b.device.off()
	s.watchVBUS(plainDisconnectV)
}
