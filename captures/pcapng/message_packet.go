package pcapng

import (
	"errors"
	"fmt"

	"github.com/google/gopacket"

	"portside/pd"
)

// MessagePacket is the outer layer of a packet of [LinkMessages]:
//
//	byte 0  version, 1
//	byte 1  ordered set: 0 SOP, 1 SOP', 2 SOP'', 3 SOP'_Debug, 4 SOP''_Debug,
//	        5 Hard_Reset, 6 Cable_Reset
//	byte 2  flags: bit 0 the CRC bytes follow the data, bit 1 the CRC was wrong
//	byte 3  zero
//	then    header and data objects in the order of the wire (none with a reset),
//	        and four CRC bytes where bit 0 of the flags says so
//
// It keeps the packet's bytes and does not copy them.
type MessagePacket struct {
	Set      pd.OrderedSet
	HasCRC   bool
	CRC      [4]byte // in the order of the wire; meaningful where HasCRC
	CRCWrong bool    // the recorder found the CRC wrong
	contents []byte
	payload  []byte // header and objects
}

const (
	messagePrefix = 4
	crcBytes      = 4
	headerBytes   = 2

	flagCRC      = 1 << 0
	flagCRCWrong = 1 << 1

	// The wire counts ordered sets from 0, pd from 1: its zero is unknown.
	setOffset = 1
)

// Errors of a packet that cannot be used.
var (
	ErrVersion    = errors.New("an unknown version")
	ErrOrderedSet = errors.New("an unknown ordered set")
	ErrShort      = errors.New("too few bytes")
)

// LayerType is [LayerTypeMessagePacket].
func (p *MessagePacket) LayerType() gopacket.LayerType { return LayerTypeMessagePacket }

// LayerContents is the four bytes before the header.
func (p *MessagePacket) LayerContents() []byte { return p.contents }

// LayerPayload is header and data objects without the CRC; empty for a reset.
func (p *MessagePacket) LayerPayload() []byte { return p.payload }

// CanDecode makes the layer a gopacket.DecodingLayer.
func (p *MessagePacket) CanDecode() gopacket.LayerClass { return LayerTypeMessagePacket }

// NextLayerType is [LayerTypeMessage], or none after a reset.
func (p *MessagePacket) NextLayerType() gopacket.LayerType {
	if p.Set.IsReset() {
		return gopacket.LayerTypeZero
	}
	return LayerTypeMessage
}

// DecodeFromBytes takes one packet. Its error is [ErrVersion], [ErrOrderedSet]
// or [ErrShort], wrapped with what was found.
func (p *MessagePacket) DecodeFromBytes(data []byte, df gopacket.DecodeFeedback) error {
	return p.decode(data, false, df)
}

// decode takes one packet; where it was cut short its last bytes are no CRC.
func (p *MessagePacket) decode(data []byte, cut bool, df gopacket.DecodeFeedback) error {
	if len(data) < messagePrefix {
		df.SetTruncated()
		return fmt.Errorf("%w: expected %d bytes or more, found %d", ErrShort, messagePrefix, len(data))
	}
	if data[0] != layerVersion {
		return fmt.Errorf("%w: expected %d, found %d", ErrVersion, layerVersion, data[0])
	}
	if int(data[1])+setOffset > int(pd.CableReset) {
		return fmt.Errorf("%w: expected 0 to %d, found %d", ErrOrderedSet, pd.CableReset-setOffset, data[1])
	}
	flags := data[2]
	*p = MessagePacket{
		Set:      pd.OrderedSet(data[1] + setOffset),
		CRCWrong: flags&flagCRCWrong != 0,
		contents: data[:messagePrefix],
		payload:  data[messagePrefix:],
	}
	if p.Set.IsReset() {
		return nil
	}
	return p.splitCRC(flags&flagCRC != 0 && !cut, df)
}

// splitCRC parts the CRC from the data, and refuses what leaves no header.
func (p *MessagePacket) splitCRC(follows bool, df gopacket.DecodeFeedback) error {
	need := headerBytes
	if follows {
		need += crcBytes
	}
	if len(p.payload) < need {
		df.SetTruncated()
		return fmt.Errorf("%w: expected %d bytes or more, found %d", ErrShort, messagePrefix+need, messagePrefix+len(p.payload))
	}
	if follows {
		end := len(p.payload) - crcBytes
		p.HasCRC = true
		copy(p.CRC[:], p.payload[end:])
		p.payload = p.payload[:end]
	}
	return nil
}

// AppendTo appends the packet with the given header and data objects to b; a
// reset takes none.
func (p *MessagePacket) AppendTo(b, data []byte) []byte {
	var flags byte
	if p.HasCRC {
		flags |= flagCRC
	}
	if p.CRCWrong {
		flags |= flagCRCWrong
	}
	b = append(b, layerVersion, byte(p.Set-setOffset), flags, 0)
	if p.Set.IsReset() {
		return b
	}
	b = append(b, data...)
	if p.HasCRC {
		b = append(b, p.CRC[:]...)
	}
	return b
}

func decodeMessagePacket(data []byte, b gopacket.PacketBuilder) error {
	p := &MessagePacket{}
	if err := p.DecodeFromBytes(data, b); err != nil {
		return err
	}
	b.AddLayer(p)
	if p.Set.IsReset() {
		return nil
	}
	return b.NextDecoder(gopacket.DecodeFunc(func(data []byte, b gopacket.PacketBuilder) error {
		return addMessage(p.Set, data, b)
	}))
}
