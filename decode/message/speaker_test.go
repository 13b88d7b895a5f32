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
		"messages of one side": {
			{pd.GetPPSStatus, pd.Source, pd.Sink}, {pd.PPSStatus, pd.Sink, pd.Source}, {pd.SourceInfo, pd.Sink, pd.Source},
			{pd.FRSwap, pd.Source, pd.Sink}, {pd.EPRRequest, pd.Source, pd.Sink}, {pd.EPRMode, pd.Source, pd.Source},
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

// TestEPRSpeakers: the action and the type of the control tell who speaks (USB
// PD R3.2 V1.1, tables 6.50 and 6.67), the bit only where both may.
func TestEPRSpeakers(t *testing.T) {
	mode := func(action uint32, bit pd.PowerRole) pd.Message {
		return pd.NewMessage(pd.SOP, pd.HeaderFields{Type: pd.EPRMode, PowerRole: bit}, action<<24)
	}
	control := func(kind byte) pd.Message { // with the source's bit
		return extended(pd.ExtendedControl, pd.ExtendedHeaderFields{Chunked: true, DataSize: 2}, []byte{kind, 0}, 0)
	}
	for _, c := range []struct {
		m    pd.Message
		want pd.PowerRole
	}{
		{mode(1, pd.Source), pd.Sink}, {mode(2, pd.Sink), pd.Source}, {mode(3, pd.Sink), pd.Source}, {mode(4, pd.Sink), pd.Source},
		{mode(5, pd.Sink), pd.Sink}, {mode(5, pd.Source), pd.Source},
		{control(3), pd.Sink}, {control(4), pd.Source}, {control(1), pd.Source},
	} {
		var s message.Speakers
		assert.Equal(t, c.want, s.From(c.m), "%v", c.m)
	}
}
