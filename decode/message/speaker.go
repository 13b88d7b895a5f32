package message

import "portside/pd"

// Speakers tells who sent a message on SOP: the source or the sink. The role
// bit alone lies around a PR_Swap and in GoodCRC (USB PD R3.2 V1.1, section
// 6.2.1.1.4), so the kind of the message and the sequence go before it. The zero
// value is ready.
type Speakers struct {
	asked    pd.MessageType // the last question still open, 0 none
	asker    pd.PowerRole
	swapping swap
	last     pd.PowerRole // who sent the last message that wants a GoodCRC
	lastID   int
}

// swap is how far a PR_Swap has come.
type swap uint8

const (
	noSwap swap = iota
	swapAccepted
	oldSourceOff // the first of the two PS_RDY is past
)

// From gives the sender of the next message on SOP, in the order of time;
// unknown for the sets of the cable and for resets.
func (s *Speakers) From(p pd.Message) pd.PowerRole {
	if p.Set == pd.HardReset {
		*s = Speakers{}
		return 0
	}
	if p.Set != pd.SOP {
		return 0
	}
	if p.Type() == pd.GoodCRC {
		return s.acknowledger(p)
	}
	role := s.sender(p)
	s.last, s.lastID = role, p.Header.MessageID()
	s.follow(p.Type(), role)
	return role
}

// Asked is the question that the last answer would answer, 0 for none.
func (s *Speakers) Asked() pd.MessageType { return s.asked }

// Swapping reports whether a PR_Swap has been accepted and is not over.
func (s *Speakers) Swapping() bool { return s.swapping != noSwap }

func (s *Speakers) acknowledger(p pd.Message) pd.PowerRole {
	if s.last != 0 && s.lastID == p.Header.MessageID() {
		return other(s.last)
	}
	return p.PowerRole()
}

func (s *Speakers) sender(p pd.Message) pd.PowerRole {
	bit := p.PowerRole()
	switch p.Type() {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		if x, ok := p.ExtendedHeader(); ok && x.RequestChunk() {
			return bit
		}
		if s.asked == pd.GetSourceCap && s.asker == pd.Source && bit == pd.Sink {
			return pd.Sink // a dual-role sink answers what it could offer
		}
		return pd.Source
	case pd.Accept, pd.Reject, pd.Wait:
		if s.asked != 0 {
			return other(s.asker)
		}
	case pd.PSRDY:
		switch {
		case s.swapping == swapAccepted:
			return pd.Source
		case s.swapping == oldSourceOff:
			return pd.Sink
		case s.asked == 0 && s.asker == pd.Sink:
			return pd.Source // the end of a transition that a Request began
		}
	}
	if only := onlySender(p); only != 0 {
		return only
	}
	return bit
}

// onlySender is the side that alone may send the message; 0 where both may (USB
// PD R3.2 V1.1, tables 6.5, 6.6, 6.50, 6.53 and 6.67).
func onlySender(p pd.Message) pd.PowerRole {
	switch p.Type() {
	case pd.GotoMin, pd.Ping, pd.SourceInfo, pd.PPSStatus:
		return pd.Source
	case pd.Request, pd.EPRRequest, pd.GetPPSStatus, pd.FRSwap:
		return pd.Sink
	case pd.EPRMode:
		return eprModeSender(p)
	case pd.ExtendedControl:
		return keepAliveSender(p)
	default:
		return 0
	}
}

func eprModeSender(p pd.Message) pd.PowerRole {
	if p.NumObjects() == 0 {
		return 0
	}
	switch pd.EPRMDO(p.Object(0)).Action() {
	case pd.EPREnter:
		return pd.Sink
	case pd.EPREnterAcknowledged, pd.EPREnterSucceeded, pd.EPREnterFailed:
		return pd.Source
	default:
		return 0
	}
}

func keepAliveSender(p pd.Message) pd.PowerRole {
	e, ok := pd.ParseECDB(p.Block())
	switch {
	case ok && e.Type == pd.EPRKeepAlive:
		return pd.Sink
	case ok && e.Type == pd.EPRKeepAliveAck:
		return pd.Source
	default:
		return 0
	}
}

// follow keeps what the next messages are read against.
func (s *Speakers) follow(t pd.MessageType, from pd.PowerRole) {
	switch t {
	case pd.Request, pd.EPRRequest, pd.PRSwap, pd.DRSwap, pd.VCONNSwap, pd.FRSwap,
		pd.SoftReset, pd.DataReset, pd.EnterUSB, pd.GetSourceCap:
		s.asked, s.asker, s.swapping = t, from, noSwap
	case pd.Accept:
		if s.asked == pd.PRSwap || s.asked == pd.FRSwap {
			s.swapping = swapAccepted
		}
		if s.asked != pd.Request && s.asked != pd.EPRRequest {
			s.asker = 0
		}
		s.asked = 0
	case pd.Reject, pd.Wait, pd.NotSupported, pd.SourceCapabilities:
		s.asked, s.asker = 0, 0
	case pd.PSRDY:
		s.asked, s.asker = 0, 0
		switch s.swapping {
		case swapAccepted:
			s.swapping = oldSourceOff
		default:
			s.swapping = noSwap
		}
	}
}

func other(r pd.PowerRole) pd.PowerRole {
	switch r {
	case pd.Source:
		return pd.Sink
	case pd.Sink:
		return pd.Source
	default:
		return 0
	}
}
