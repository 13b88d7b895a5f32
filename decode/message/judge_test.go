package message_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
	"portside/testdata/negotiations"
)

// TestWhatAMessageBreaks: what a message breaks of the standard is told with its
// clause, each thing once, however often the message comes.
func TestWhatAMessageBreaks(t *testing.T) {
	fixed := func(position int, operating pd.Milliamps) uint32 {
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position}, OperatingCurrent: operating, MaxCurrent: operating}.Encode())
	}
	damaged := packet(pd.SOP, 0x11A1, 0x0041912C)
	damaged.CRCWrong = true
	for _, tt := range []struct {
		name string
		in   []captures.Message
		want []string
	}{
		{"an offer", []captures.Message{sixObjects()}, nil},
		{"a request within it", []captures.Message{sixObjects(), packet(pd.SOP, 0x1082, fixed(2, 3000))}, nil},
		{"reserved bits of a fixed supply", []captures.Message{packet(pd.SOP, 0x11A1, 0x0041912C)}, []string{"object 1: reserved bits are set, 0x00400000 (USB PD R3.2 V1.1, table 6.9)"}},
		{"the same again", []captures.Message{packet(pd.SOP, 0x11A1, 0x0041912C), packet(pd.SOP, 0x13A1, 0x0041912C)}, []string{"object 1: reserved bits are set, 0x00400000 (USB PD R3.2 V1.1, table 6.9)"}},
		{"more current than is offered", []captures.Message{sixObjects(), packet(pd.SOP, 0x1082, fixed(2, 3010))}, []string{"current above the offer (USB PD R3.2 V1.1, section 6.4.2)"}},
		{"a position that is not on offer", []captures.Message{sixObjects(), packet(pd.SOP, 0x1082, fixed(7, 3000))}, []string{"asks for object 7 of an offer of 6"}},
		{"a Soft_Reset that counts on", []captures.Message{packet(pd.SOP, 0x02AD)}, []string{"Soft_Reset with a MessageID other than 0 (USB PD R3.2 V1.1, section 6.7.1)"}},
		{"a Soft_Reset", []captures.Message{packet(pd.SOP, 0x00AD)}, nil},
		{"a damaged offer", []captures.Message{damaged}, []string{"the CRC is wrong"}},
		{"a discarded offer", []captures.Message{discarded(packet(pd.SOP, 0x11A1, 0x0041912C))}, nil},
		{"a block with a reserved code", []captures.Message{{Set: pd.SOP, Bytes: hexBytes(t, "8CA1"+"0480"+"FFFF04FF"+"0000")}}, []string{"reserved bits are set, 0x000000F1 (USB PD R3.2 V1.1, table 6.62)"}},
	} {
		got := last(tt.in...).Problems
		assert.Equal(t, len(tt.want), len(got), "%s: %v", tt.name, got)
		for i, want := range tt.want {
			if i < len(got) {
				assert.Equal(t, want, got[i], tt.name)
			}
		}
	}
}

// TestWhatRecordedNegotiationsBreak: real ports keep to the standard but for what
// stands here.
func TestWhatRecordedNegotiationsBreak(t *testing.T) {
	want := map[string][]string{
		"request-answered-by-soft-reset": {"object 1: SVID does not belong to the command (USB PD R3.2 V1.1, table 6.31)"},
		"zero-header-then-reset-a":       {"header 0x0000: no message has type 0 of the control messages"},
	}
	logs, err := negotiations.Read()
	require.NoError(t, err)
	for _, log := range logs {
		list, err := log.Messages(false)
		require.NoError(t, err)
		d := message.NewDecoder()
		var got []string
		for i := range list {
			got = append(got, d.Decode(&list[i].Message).Problems...)
		}
		assert.Equal(t, want[log.ID], got, log.ID)
	}
}
