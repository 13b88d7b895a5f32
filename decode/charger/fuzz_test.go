package charger_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// vocabulary is what a fuzzed recording speaks besides bytes of its own.
var vocabulary = []pd.MessageType{
	pd.GoodCRC, pd.SourceCapabilities, pd.Request, pd.Accept, pd.PSRDY, pd.Reject, pd.Wait, pd.SoftReset,
	pd.PRSwap, pd.DRSwap, pd.GetSourceCap, pd.EPRMode, pd.EPRRequest, pd.VendorDefined, pd.SourceInfo, pd.RevisionMessage,
}

// arbitrary feeds bytes as a recording, five for each record: a step of time, what it
// is, how it is told, and two of content.
func arbitrary(c *charger.Checker, b []byte) {
	var now time.Duration
	for n := 0; len(b) >= 5 && n < 500; n++ {
		now += time.Duration(b[0]) * time.Duration(b[0]) * 20 * time.Microsecond
		what, how, x, y := b[1], b[2], b[3], b[4]
		b = b[5:]
		if what >= 0xE0 {
			s := captures.Sample{At: now, Volts: float64(x) / 8, Amps: float64(y) / 40, CC: [2]float64{math.NaN(), float64(how) / 100}}
			if how&1 != 0 {
				s.Amps = math.NaN()
			}
			c.Sample(&s)
			continue
		}
		m := captures.Message{At: now, Set: pd.SOP, Status: captures.Status(how % 3), By: captures.Recorder(how / 3 % 4)}
		switch {
		case what < 0x80:
			m.Bytes = word(vocabulary[what%16], what>>4&1, x, y)
		case what < 0xB0:
			m.Set = pd.OrderedSet(what % 8)
			k := min(int(x%48), len(b))
			m.Bytes, b = b[:k], b[k:]
		case what < 0xC8:
			m.Set = pd.HardReset
		default:
			m.Set, m.Marker = 0, captures.Marker(what%4+1)
		}
		c.Message(&m)
	}
}

// word is a message of the vocabulary with content of its own.
func word(kind pd.MessageType, from, x, y byte) []byte {
	f := pd.HeaderFields{Type: kind, MessageID: int(x & 7), Revision: pd.Revision20 + pd.Revision(x>>3&1), PowerRole: pd.Sink + pd.PowerRole(from)}
	var objects []uint32
	switch kind {
	case pd.SourceCapabilities:
		objects = append([]uint32{uint32(y) << 22}, offer65[:y%6]...)
	case pd.Request:
		objects = []uint32{askPPS(int(x>>5), pd.Millivolts(y)*100, 2000)}
	case pd.EPRRequest:
		objects = []uint32{ask(8, 5000), fixed(28_000, 5000)}
	case pd.EPRMode:
		objects = []uint32{uint32(pd.EPRModeFields{Action: pd.EPRAction(y % 8)}.Encode())}
	case pd.VendorDefined, pd.SourceInfo, pd.RevisionMessage:
		objects = []uint32{uint32(x)<<24 | uint32(y)<<8}
	}
	return pd.NewMessage(pd.SOP, f, objects...).Bytes()
}

// sequence writes the messages of a rig the way arbitrary reads them.
func sequence(r *rig) (b []byte) {
	for _, m := range r.out {
		switch {
		case m.Marker != captures.NoMarker:
			b = append(b, 80, 0xC8+byte(m.Marker)-1, 0, 0, 0)
		case m.Set == pd.HardReset:
			b = append(b, 80, 0xB0, 0, 0, 0)
		default:
			b = append(b, 10, 0x80+byte(m.Set), 0, byte(len(m.Bytes)), 0)
			b = append(b, m.Bytes...)
		}
	}
	return b
}

// FuzzChecker feeds any sequence: every check stands in the result exactly once, and
// its figures agree with what became of it.
func FuzzChecker(f *testing.F) {
	for seed := range uint64(8) {
		f.Add(sequence(drawn(seed)))
	}
	r := newRig()
	extended(r)
	f.Add(sequence(r))
	f.Fuzz(func(t *testing.T, b []byte) {
		c := charger.New(charger.Options{})
		arbitrary(c, b)
		r := c.Finish()
		require.Len(t, r.Checks, 41)
		seen := map[string]bool{}
		failed := false
		for _, x := range r.Checks {
			require.False(t, seen[x.Check], x.Check)
			seen[x.Check] = true
			require.NotEmpty(t, x.Text, x.Check)
			require.NotEmpty(t, x.Source, x.Check)
			require.Equal(t, len(x.Measured), len(x.Limit), x.Check)
			for key, v := range x.Measured {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), x.Check)
				require.False(t, math.IsNaN(x.Limit[key]) || math.IsNaN(x.Uncertainty[key]), x.Check)
				require.GreaterOrEqual(t, x.Uncertainty[key], 0.0, x.Check)
				if x.Result == charger.Fail {
					require.Greater(t, math.Abs(v-x.Limit[key]), x.Uncertainty[key], x.Check)
				}
			}
			failed = failed || x.Result == charger.Fail
			require.Equal(t, x.Result == charger.NotObserved, x.AtS == nil && x.Result == charger.NotObserved, x.Check)
		}
		require.Equal(t, failed, r.Verdict == charger.OutsideStandard)
	})
}
