package message_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/message"
	"portside/pd"
)

// TestSpeakers: role bits lie in GoodCRC and around a PR_Swap (USB PD R3.2 V1.1,
// section 6.2.1.1.4), so kind and sequence go before them.
func TestSpeakers(t *testing.T) {
	said := func(kind pd.MessageType, bit pd.PowerRole, id int) pd.Message {
		var objects []uint32
		if kind.Class() == pd.Data {
			objects = []uint32{0}
		}
		return pd.NewMessage(pd.SOP, pd.HeaderFields{Type: kind, PowerRole: bit, MessageID: id}, objects...)
	}
	type line struct {
		kind pd.MessageType
		bit  pd.PowerRole
		want pd.PowerRole
	}
	cases := map[string][]line{
		"a contract with wrong bits": {
			{pd.SourceCapabilities, pd.Sink, pd.Source}, {pd.GoodCRC, pd.Source, pd.Sink},
			{pd.Request, pd.Source, pd.Sink}, {pd.GoodCRC, pd.Sink, pd.Source},
			{pd.Accept, pd.Sink, pd.Source}, {pd.PSRDY, pd.Sink, pd.Source}, {pd.GoodCRC, pd.Source, pd.Sink},
		},
		"a swap of power": {
			{pd.PRSwap, pd.Sink, pd.Sink}, {pd.Accept, pd.Source, pd.Source},
			{pd.PSRDY, pd.Sink, pd.Source}, {pd.GoodCRC, pd.Sink, pd.Sink},
			{pd.PSRDY, pd.Source, pd.Sink}, {pd.GoodCRC, pd.Sink, pd.Source},
			{pd.SourceCapabilities, pd.Source, pd.Source},
		},
		"the source soft-resets": {{pd.SoftReset, pd.Source, pd.Source}, {pd.Accept, pd.Source, pd.Sink}},
		"what a dual-role sink could offer": {
			{pd.GetSourceCap, pd.Source, pd.Source}, {pd.SourceCapabilities, pd.Sink, pd.Sink},
		},
		"what a source offers when asked": {
			{pd.GetSourceCap, pd.Sink, pd.Sink}, {pd.SourceCapabilities, pd.Sink, pd.Source},
		},
		"nothing but the bit": {{pd.VendorDefined, pd.Source, pd.Source}, {pd.NotSupported, pd.Sink, pd.Sink}, {pd.PSRDY, pd.Sink, pd.Sink}},
	}
	for name, lines := range cases {
		t.Run(name, func(t *testing.T) {
			var s message.Speakers
			for i, l := range lines {
				assert.Equal(t, l.want, s.From(said(l.kind, l.bit, 3)), "line %d: %s", i, l.kind)
			}
			assert.Zero(t, s.From(pd.Message{Set: pd.HardReset}))
			assert.Zero(t, s.From(pd.Message{Set: pd.SOPPrime}))
		})
	}
}
