package pcapng

import (
	"errors"

	"github.com/google/gopacket"

	"portside/pd"
)

// Message is the inner layer of a packet of [LinkMessages]: the PD message
// between ordered set and CRC. Set must be set to the ordered set of the
// packet before decoding, as the bytes do not hold it.
type Message struct {
	Set      pd.OrderedSet
	PD       pd.Message
	Mismatch error // header and bytes disagree, a *pd.LengthError; else nil
	contents []byte
}

// LayerType is [LayerTypeMessage].
func (m *Message) LayerType() gopacket.LayerType { return LayerTypeMessage }

// LayerContents is header and data objects in the order of the wire.
func (m *Message) LayerContents() []byte { return m.contents }

// LayerPayload is empty: nothing stands inside a message.
func (m *Message) LayerPayload() []byte { return nil }

// CanDecode makes the layer a gopacket.DecodingLayer.
func (m *Message) CanDecode() gopacket.LayerClass { return LayerTypeMessage }

// NextLayerType is none.
func (m *Message) NextLayerType() gopacket.LayerType { return gopacket.LayerTypeZero }

// DecodeFromBytes takes header and data objects. Where they disagree about the
// length the message keeps what is whole, Mismatch says so and df is told; it
// is an error only where there is no header.
func (m *Message) DecodeFromBytes(data []byte, df gopacket.DecodeFeedback) error {
	m.contents = data
	m.PD, m.Mismatch = pd.ParseMessage(m.Set, data)
	if m.Mismatch == nil {
		return nil
	}
	df.SetTruncated()
	if errors.Is(m.Mismatch, pd.ErrNoHeader) {
		return m.Mismatch
	}
	return nil
}

// decodeMessage decodes a message met by itself, taken as SOP.
func decodeMessage(data []byte, b gopacket.PacketBuilder) error {
	return addMessage(pd.SOP, data, b)
}

func addMessage(set pd.OrderedSet, data []byte, b gopacket.PacketBuilder) error {
	m := &Message{Set: set}
	if err := m.DecodeFromBytes(data, b); err != nil {
		return err
	}
	b.AddLayer(m)
	return nil
}
