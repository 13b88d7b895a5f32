package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/pd"
)

// vocabulary is what a fuzzed recording speaks besides bytes of its own.
var vocabulary = []pd.MessageType{
	pd.GoodCRC, pd.SourceCapabilities, pd.Request, pd.Accept, pd.PSRDY, pd.Reject, pd.Wait, pd.SoftReset,
	pd.PRSwap, pd.VCONNSwap, pd.GetSourceCap, pd.EPRMode, pd.EPRRequest, pd.VendorDefined, pd.NotSupported, pd.Alert,
}

// arbitrary reads bytes as a recording, four for each message: a step of time,
// what it is, how it is told, and its MessageID, sender or length.
func arbitrary(b []byte) []captures.Message {
	var out []captures.Message
	var now time.Duration
	for len(b) >= 4 && len(out) < 500 {
		now += time.Duration(b[0]) * time.Duration(b[0]) * 20 * time.Microsecond
		m := captures.Message{At: now, Set: pd.SOP, Status: captures.Status(b[2] % 3), By: captures.Recorder(b[2] / 3 % 4), HasCRC: b[2]&0x80 != 0}
		what, last := b[1], b[3]
		b = b[4:]
		switch {
		case what < 0x80:
			m.Bytes = word(vocabulary[what%16], what>>4&1, last)
		case what < 0xC0:
			m.Set = pd.OrderedSet(what % 8)
			n := min(int(last%32), len(b))
			m.Bytes, b = b[:n], b[n:]
		case what < 0xE0:
			m.Set = pd.HardReset
		default:
			m.Marker = captures.Marker(what%4 + 1)
		}
		if m.HasCRC && last&1 == 0 {
			copy(m.CRC[:], pd.AppendCRC(append([]byte(nil), m.Bytes...))[len(m.Bytes):])
		}
		out = append(out, m)
	}
	return out
}

// word is a message of the vocabulary with plausible objects.
func word(kind pd.MessageType, from, last byte) []byte {
	f := pd.HeaderFields{Type: kind, MessageID: int(last & 7), Revision: pd.Revision3x, PowerRole: pd.Sink + pd.PowerRole(from)}
	var objects []uint32
	switch kind {
	case pd.SourceCapabilities:
		objects = offers65
	case pd.Request:
		objects = []uint32{askPPS(int(last>>5), 9000, 2000)}
	case pd.EPRRequest:
		objects = []uint32{ask(8, 5000), fixed(28000, 5000)}
	case pd.EPRMode:
		objects = []uint32{uint32(pd.EPRModeFields{Action: pd.EPRAction(last >> 5)}.Encode())}
	case pd.VendorDefined, pd.Alert:
		objects = []uint32{uint32(last) << 24}
	}
	return pd.NewMessage(pd.SOP, f, objects...).Bytes()
}

// sequence writes a recording the way arbitrary reads it.
func sequence(list []captures.Message) []byte {
	var b []byte
	for _, m := range list {
		switch {
		case m.Marker != captures.NoMarker:
			b = append(b, 80, 0xE0+byte(m.Marker)-1, 0, 0)
		case m.Set == pd.HardReset:
			b = append(b, 80, 0xC0, 0, 0)
		default:
			b = append(b, 10, 0x80+byte(m.Set), 0, byte(len(m.Bytes)))
			b = append(b, m.Bytes...)
		}
	}
	return b
}

func FuzzTracker(f *testing.F) {
	for _, v := range variants {
		f.Add(sequence(v.make().agreed().wait(time.Second).reset().out))
	}
	for _, n := range readRecorded(f) {
		f.Add(sequence(fed(f, n, true)))
	}
	f.Add(sequence(raw(0x008D, 0x01A3, 0x43A1, 0x1082, 0x05A3, 0x07A6, 0x0000, 0x8000)))
	f.Fuzz(func(t *testing.T, b []byte) {
		list := arbitrary(b)
		tracker := negotiation.New(negotiation.Options{})
		for i := range list {
			tracker.Add(&list[i])
		}
		r := tracker.Result()
		require.LessOrEqual(t, len(r.Phases), 2*len(list)+2)
		require.LessOrEqual(t, len(r.Attempts), len(list))
		require.LessOrEqual(t, r.Malformed, r.Messages)
		require.LessOrEqual(t, r.CRCErrors.Misread, r.CRCErrors.Source+r.CRCErrors.Sink+r.CRCErrors.Cable)
		last := 0.0
		for _, a := range r.Attempts {
			require.LessOrEqual(t, a.StartS, a.EndS)
			require.LessOrEqual(t, last, a.StartS)
			last = a.StartS
			if a.DueS != nil && a.Missing != negotiation.StepRefused {
				require.Less(t, *a.DueS, a.EndS, "%+v", a)
			}
		}
		for i, p := range r.Phases {
			require.NotNil(t, p.StartS)
			if i > 0 {
				require.LessOrEqual(t, *r.Phases[i-1].StartS, *p.StartS)
			}
			if p.StartS != nil && p.EndS != nil {
				require.LessOrEqual(t, *p.StartS, *p.EndS)
			}
		}
		for _, c := range r.Contracts {
			if c.EndS != nil {
				require.LessOrEqual(t, *c.StartS, *c.EndS)
			}
		}
		for i := 1; i < len(r.Contracts); i++ {
			require.LessOrEqual(t, *r.Contracts[i-1].EndS, *r.Contracts[i].StartS, "one contract at a time")
		}
	})
}
