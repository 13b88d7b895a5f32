package message

import (
	"portside/pd"
)

// Header is the message header as a JSON object.
type Header struct {
	Raw       Word16  `json:"raw"`
	Type      string  `json:"type"`  // the standard's name, Reserved_0xNN for a code without one
	Class     string  `json:"class"` // control, data or extended
	MessageID int     `json:"message_id"`
	Objects   int     `json:"objects"`
	Revision  string  `json:"revision"`   // 1.0, 2.0, 3.x or reserved
	PowerRole *string `json:"power_role"` // nil on the sets of the cable
	DataRole  *string `json:"data_role"`
	CablePlug *bool   `json:"cable_plug"` // nil on SOP
	Extended  bool    `json:"extended"`

	power, data string // what the pointers show, so that a header is one allocation
}

// Word16 prints as "0x11A1".
type Word16 uint16

// MarshalText gives the word in hexadecimal.
func (w Word16) MarshalText() ([]byte, error) { return appendHex(nil, uint32(w), 4), nil }

// Word32 prints as "0x0801912C".
type Word32 uint32

// MarshalText gives the word in hexadecimal.
func (w Word32) MarshalText() ([]byte, error) { return appendHex(nil, uint32(w), 8), nil }

func appendHex(b []byte, w uint32, digits int) []byte {
	const hex = "0123456789ABCDEF"
	b = append(b, "0x"...)
	for i := digits - 1; i >= 0; i-- {
		b = append(b, hex[w>>(4*i)&0xF])
	}
	return b
}

func newHeader(p pd.Message) *Header {
	h := &Header{
		Raw:       Word16(p.Header),
		Type:      p.Type().String(),
		Class:     p.Header.Class().String(),
		MessageID: p.Header.MessageID(),
		Objects:   p.Header.Objects(),
		Revision:  p.Header.Revision().String(),
		Extended:  p.Header.Extended(),
	}
	if plug, ok := p.CablePlug(); ok {
		h.CablePlug = &plug
		return h
	}
	if p.Set == pd.SOP {
		h.power, h.data = p.PowerRole().String(), p.DataRole().String()
		h.PowerRole, h.DataRole = &h.power, &h.data
	}
	return h
}
