package bench

import (
	"encoding/binary"

	"portside/pd"
)

// Contracts beyond the fixed ones of the first offer: a programmable supply
// whose voltage the sink moves, and extended power range.

// Times in seconds and figures of both, inside USB PD R3.2 V1.1 table 6.68
// (tPPSRequest at most 10 s, tSinkEPRKeepAlive 0.25 to 0.5 s).
const (
	ppsFromS, ppsToS     = 2.5, 8.0
	ppsStepV             = 0.02
	ppsWalkV             = 0.2 // how far the sink moves it: common practice
	keepFromS, keepToS   = 0.36, 0.39
	eprAskFromS, eprAskS = 0.20, 0.60 // contract to entry: common practice
	eprVolts             = 28.0
	eprAmps              = 5.0
	eprPosition          = 8     // the first after the seven of the standard range
	eprWatts             = 140   // of a source of 28 V and 5 A
	eprAVSFromMV         = 15000 // the adjustable supply's lowest: USB PD R3.2 V1.1 table 10.12
)

// usesPPS reports a sink that takes the programmable offer.
func (s *sinkPolicy) usesPPS() bool {
	return s.b.p.PPSMaxV > 0 && s.b.p.PPSUseV > 0 && !s.b.p.ControllerUnset
}

// programmed is the Request for the programmable offer behind the fixed ones.
func (s *sinkPolicy) programmed(fixed int) (Offer, uint32) {
	volts := s.b.p.PPSUseV + s.b.uniform(-ppsWalkV, ppsWalkV)
	volts = float64(int(volts/ppsStepV)) * ppsStepV
	o := Offer{volts, s.b.p.Offers[len(s.b.p.Offers)-1].Amps}
	return o, uint32(pd.PPSRequest{
		RequestFlags: pd.RequestFlags{Position: fixed, NoUSBSuspend: true},
		Voltage:      pd.Millivolts(milli(o.Volts)), OperatingCurrent: pd.Milliamps(milli(o.Amps)),
	}.Encode())
}

// follow is what a contract asks of the sink from then on.
func (s *sinkPolicy) follow() {
	switch {
	case s.usesPPS():
		s.later(s.b.uniform(ppsFromS, ppsToS), func() { s.ask(s.programmed(len(s.b.p.Offers) + 1)) })
	case s.b.p.EPR && s.wanted.Volts < eprVolts:
		s.later(s.b.uniform(eprAskFromS, eprAskS), func() { s.eprMode(pd.EPREnter, uint8(eprVolts*eprAmps)) })
	}
}

func (s *sinkPolicy) eprMode(a pd.EPRAction, data uint8) {
	object := uint32(pd.EPRModeFields{Action: a, Data: data}.Encode())
	s.b.line.send(&s.speaker, &s.b.source.speaker, pd.EPRMode, []uint32{object}, func(bool) {})
}

// receiveEPR answers the entry and what follows it.
func (s *sourcePolicy) receiveEPR(m pd.Message) bool {
	switch m.Type() {
	case pd.EPRMode:
		if !s.b.p.EPR || pd.EPRMDO(m.Object(0)).Action() != pd.EPREnter {
			return true
		}
		s.later(s.b.uniform(answerFromS, answerToS), func() {
			s.eprMode(pd.EPREnterAcknowledged, func() {
				s.later(s.b.uniform(answerFromS, answerToS), func() {
					s.eprMode(pd.EPREnterSucceeded, func() {
						s.epr = true
						s.later(s.b.uniform(answerFromS, answerToS), s.offerEPR)
					})
				})
			})
		})
	case pd.EPRRequest:
		s.later(s.b.uniform(answerFromS, answerToS), func() {
			s.say(pd.Accept, func() { s.transition(Offer{eprVolts, eprAmps}) })
		})
	case pd.ExtendedControl:
		s.later(s.b.uniform(answerFromS, answerToS), func() {
			s.b.line.sendBlock(&s.speaker, &s.b.sink.speaker, pd.ExtendedControl, []byte{byte(pd.EPRKeepAliveAck), 0})
		})
	default:
		return false
	}
	return true
}

func (s *sourcePolicy) eprMode(a pd.EPRAction, acknowledged func()) {
	object := uint32(pd.EPRModeFields{Action: a}.Encode())
	s.b.line.send(&s.speaker, &s.b.sink.speaker, pd.EPRMode, []uint32{object}, func(ok bool) {
		if ok {
			acknowledged()
		}
	})
}

func (s *sourcePolicy) offerEPR() {
	s.b.line.sendBlock(&s.speaker, &s.b.sink.speaker, pd.EPRSourceCapabilities, eprOffer(&s.b.p))
}

// eprObject is the 28 V supply.
func eprObject() uint32 {
	return uint32(pd.FixedSupply{Voltage: pd.Millivolts(milli(eprVolts)), MaxCurrent: pd.Milliamps(milli(eprAmps))}.Encode())
}

// eprOffer is the block of EPR_Source_Capabilities: seven places of the
// standard range, then 28 V and the adjustable supply that stands beside it.
func eprOffer(p *Parameters) []byte {
	objects := offerObjects(p)
	block := make([]byte, 0, 4*(eprPosition+1))
	for i := range eprPosition - 1 {
		var object uint32
		if i < len(objects) {
			object = objects[i]
		}
		block = binary.LittleEndian.AppendUint32(block, object)
	}
	block = binary.LittleEndian.AppendUint32(block, eprObject())
	adjustable := pd.EPRAVSSupply{MinVoltage: eprAVSFromMV, MaxVoltage: pd.Millivolts(milli(eprVolts)), PDP: eprWatts}
	return binary.LittleEndian.AppendUint32(block, uint32(adjustable.Encode()))
}

// receiveEPR takes the offer of extended range and keeps it alive.
func (s *sinkPolicy) receiveEPR(m pd.Message) bool {
	switch m.Type() {
	case pd.EPRSourceCapabilities:
		s.later(s.b.uniform(answerFromS, answerToS), func() {
			s.wanted, s.accepted, s.asked = Offer{eprVolts, eprAmps}, false, true
			request := requestObject(eprPosition, s.wanted, false, true)
			s.b.line.send(&s.speaker, &s.b.source.speaker, pd.EPRRequest, []uint32{request, eprObject()}, func(bool) {})
			s.keepAlive()
		})
	case pd.EPRMode, pd.ExtendedControl:
	default:
		return false
	}
	return true
}

func (s *sinkPolicy) keepAlive() {
	s.later(s.b.uniform(keepFromS, keepToS), func() {
		s.b.line.sendBlock(&s.speaker, &s.b.source.speaker, pd.ExtendedControl, []byte{byte(pd.EPRKeepAlive), 0})
		s.keepAlive()
	})
}

// sendBlock puts an extended message on the line, whole.
func (l *line) sendBlock(from, to *speaker, kind pd.MessageType, block []byte) {
	header := pd.HeaderFields{
		Type: kind, MessageID: from.nextID, Revision: pd.Revision3x, PowerRole: from.role, DataRole: from.data,
	}.Encode()
	raw := binary.LittleEndian.AppendUint16(nil, uint16(header))
	raw = binary.LittleEndian.AppendUint16(raw, uint16(pd.ExtendedHeaderFields{DataSize: len(block)}.Encode()))
	// Header and block agree by construction.
	m, _ := pd.ParseMessage(from.set, append(raw, block...))
	l.attempt(from, to, m, count(pd.NRetryCount), l.epoch, func(bool) {})
}
