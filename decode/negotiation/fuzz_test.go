package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/pd"
)

// arbitrary reads bytes as a recording: per message a step of time, a kind, a
// status and a length, then the message itself.
func arbitrary(b []byte) []captures.Message {
	var out []captures.Message
	var now time.Duration
	for len(b) >= 4 && len(out) < 500 {
		now += time.Duration(b[0]) * time.Duration(b[0]) * 20 * time.Microsecond
		m := captures.Message{At: now, Set: pd.OrderedSet(b[1] % 8), Status: captures.Status(b[2] % 3), By: captures.Recorder(b[2] / 3 % 4)}
		if b[1] >= 0xF0 {
			m.Marker = captures.Marker(b[1]%4 + 1)
		}
		m.HasCRC = b[2]&0x80 != 0
		n := min(int(b[3]%32), len(b)-4)
		m.Bytes = b[4 : 4+n]
		b = b[4+n:]
		out = append(out, m)
	}
	return out
}

// sequence writes a recording the way arbitrary reads it.
func sequence(list []captures.Message) []byte {
	var b []byte
	for _, m := range list {
		set := byte(m.Set)
		if m.Marker != captures.NoMarker {
			set = 0xF0 + byte(m.Marker) - 1
		}
		b = append(b, 20, set, 0, byte(len(m.Bytes)))
		b = append(b, m.Bytes...)
	}
	return b
}

func FuzzTracker(f *testing.F) {
	for _, v := range variants {
		f.Add(sequence(v.make().agreed().wait(time.Second).reset().out))
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
		last := 0.0
		for _, a := range r.Attempts {
			require.LessOrEqual(t, a.StartS, a.EndS)
			require.LessOrEqual(t, last, a.StartS)
			last = a.StartS
			if a.DueS != nil && a.Missing != negotiation.StepRefused {
				require.Less(t, *a.DueS, a.EndS, "%+v", a)
			}
		}
		for _, p := range r.Phases {
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
