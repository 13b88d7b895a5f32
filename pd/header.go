package pd

// Header is the 16-bit message header (USB PD R3.2 V1.1, table 6.1).
//
//	15     Extended
//	14-12  Number of Data Objects
//	11-9   MessageID
//	8      SOP: Port Power Role, 1 source; SOP' and SOP'': Cable Plug, 1 sent by a plug
//	7-6    Specification Revision
//	5      SOP: Port Data Role, 1 DFP; SOP' and SOP'': reserved
//	4-0    Message Type
//
// The header does not know its ordered set, so PowerRole and CablePlug read the same
// bit; [Message.PowerRole] and its neighbours choose by set. R2.0 reserves bits 15 and 4
// (from memory); Type reads them as R3 does, since real traffic breaks rules, TypeFor as
// R2.0 does.
type Header uint16

const (
	headerExtended    Header = 1 << 15
	headerRoleOrPlug  Header = 1 << 8
	headerDataRole    Header = 1 << 5
	headerObjectShift        = 12
	headerIDShift            = 9
	headerRevShift           = 6
	headerThreeBits          = 0x7
	headerTypeMask           = 0x1F

	headerType20 = 0xF // four bits in R2.0
)

// Extended reports bit 15: an extended header follows.
func (h Header) Extended() bool { return h&headerExtended != 0 }

// Objects is the number of data objects, 0 to 7. In a chunked extended message it counts
// four-byte units, extended header and padding included; unchunked it is reserved
// (USB PD R3.2 V1.1, section 6.2.1.2).
func (h Header) Objects() int { return int(h>>headerObjectShift) & headerThreeBits }

// MessageID is the rolling counter, 0 to 7.
func (h Header) MessageID() int { return int(h>>headerIDShift) & headerThreeBits }

// PowerRole reads bit 8 as on SOP: the role of the sender.
func (h Header) PowerRole() PowerRole {
	if h&headerRoleOrPlug != 0 {
		return Source
	}
	return Sink
}

// CablePlug reads bit 8 as on the sets of the cable: true when a plug or VPD sent it.
func (h Header) CablePlug() bool { return h&headerRoleOrPlug != 0 }

// Revision is the specification revision: 1.0, 2.0, 3.x or reserved. In a GoodCRC it
// means nothing (USB PD R3.2 V1.1, section 6.2.1.1.5).
func (h Header) Revision() Revision { return Revision(h>>headerRevShift&0b11) + Revision10 }

// DataRole reads bit 5 as on SOP: the role of the sender.
func (h Header) DataRole() DataRole {
	if h&headerDataRole != 0 {
		return DFP
	}
	return UFP
}

// Class is extended when bit 15 is set, else control without objects, else data.
func (h Header) Class() Class {
	switch {
	case h.Extended():
		return Extended
	case h.Objects() == 0:
		return Control
	default:
		return Data
	}
}

// Type is the class and the code of the message, codes nobody defined included.
func (h Header) Type() MessageType { return NewMessageType(h.Class(), int(h&headerTypeMask)) }

// TypeFor is the type as a pair at that revision reads it. Up to R2.0 the Message Type has
// four bits, bits 15 and 4 are reserved and there are no extended messages (from memory, not
// verified); the class follows from the number of objects. For every other revision it is
// Type.
func (h Header) TypeFor(r Revision) MessageType {
	switch r {
	case Revision10, Revision20:
	default:
		return h.Type()
	}
	class := Control
	if h.Objects() > 0 {
		class = Data
	}
	return NewMessageType(class, int(h&headerType20))
}

// HeaderFields is a header taken apart. The zero value encodes to 0x0000.
type HeaderFields struct {
	Type      MessageType // its class sets bit 15
	Objects   int         // 0 to 7; a data message with none turns into a control message
	MessageID int         // 0 to 7
	Revision  Revision    // every R3 encodes as 3.x
	PowerRole PowerRole   // SOP only; unknown encodes as sink
	DataRole  DataRole    // SOP only; unknown encodes as UFP
	CablePlug bool        // SOP' and SOP'' only
	Reserved  bool        // bit 5 on SOP' and SOP''
}

// Fields takes the header of a SOP packet apart; Encode is the exact inverse.
func (h Header) Fields() HeaderFields {
	return HeaderFields{
		Type:      h.Type(),
		Objects:   h.Objects(),
		MessageID: h.MessageID(),
		Revision:  h.Revision(),
		PowerRole: h.PowerRole(),
		DataRole:  h.DataRole(),
	}
}

// CableFields takes apart the header of a packet to or from a cable; Encode is the exact
// inverse.
func (h Header) CableFields() HeaderFields {
	return HeaderFields{
		Type:      h.Type(),
		Objects:   h.Objects(),
		MessageID: h.MessageID(),
		Revision:  h.Revision(),
		CablePlug: h.CablePlug(),
		Reserved:  h&headerDataRole != 0,
	}
}

// Encode puts the header together. Numbers too large for their field lose their upper
// bits.
func (f HeaderFields) Encode() Header {
	h := Header(f.Type.Code()) |
		Header(f.Objects&headerThreeBits)<<headerObjectShift |
		Header(f.MessageID&headerThreeBits)<<headerIDShift |
		Header(f.Revision.headerBits())<<headerRevShift
	if f.Type.Class() == Extended {
		h |= headerExtended
	}
	if f.PowerRole == Source || f.CablePlug {
		h |= headerRoleOrPlug
	}
	if f.DataRole == DFP || f.Reserved {
		h |= headerDataRole
	}
	return h
}
