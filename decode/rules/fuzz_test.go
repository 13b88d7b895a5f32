package rules_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
	"portside/testdata/negotiations"
)

// arbitrary reads bytes as a recording: a step of time, what comes, and its
// content. What comes is a sample, a marker, a Hard Reset or a message of as many
// bytes as are left to it.
func arbitrary(b []byte, take func(*captures.Message), sample func(*captures.Sample)) {
	var now time.Duration
	for n := 0; len(b) >= 4 && n < 2000; n++ {
		now += time.Duration(b[0]) * time.Duration(b[0]) * 20 * time.Microsecond
		what, x, y := b[1], b[2], b[3]
		b = b[4:]
		switch {
		case what < 0x60:
			s := captures.Sample{At: now, Volts: float64(x) / 8, Amps: (float64(y) - 16) / 40, CC: [2]float64{math.NaN(), math.NaN()}}
			if what == 0 {
				s.Volts = math.NaN()
			}
			if what == 1 {
				s.Amps = math.NaN()
			}
			sample(&s)
		case what < 0xE0:
			m := captures.Message{At: now, Set: pd.OrderedSet(x%5 + 1), By: captures.Recorder(x >> 6), Status: captures.Status(x >> 3 % 3)}
			length := min(int(y%32), len(b))
			m.Bytes, b = b[:length], b[length:]
			take(&m)
		case what < 0xF0:
			take(&captures.Message{At: now, Set: pd.HardReset})
		default:
			take(&captures.Message{At: now, Marker: captures.Marker(x%4 + 1)})
		}
	}
}

// written is the inverse of arbitrary for a list of messages, times but roughly.
func written(list []negotiations.Message) []byte {
	var b []byte
	last := time.Duration(0)
	for i, m := range list {
		step := byte(0)
		if i > 0 {
			step = byte(min(255, math.Sqrt(float64((m.At-last)/(20*time.Microsecond)))))
		}
		last = m.At
		switch {
		case m.Marker != captures.NoMarker:
			b = append(b, step, 0xF0, byte(m.Marker)-1, 0)
		case m.Set == pd.HardReset:
			b = append(b, step, 0xE0, 0, 0)
		default:
			b = append(b, step, 0x60, byte(m.Set)-1|byte(m.By)<<6, byte(len(m.Bytes)))
			b = append(b, m.Bytes...)
		}
	}
	return b
}

func FuzzFindings(f *testing.F) {
	all, err := negotiations.Read()
	require.NoError(f, err)
	for _, n := range all {
		list, err := n.Messages(true)
		require.NoError(f, err)
		f.Add(written(list), true)
	}
	var samples []byte
	for i := range 400 {
		samples = append(samples, 70, 2, byte(40+120*(i/100%2)), byte(16+i%7*10))
	}
	f.Add(samples, false)
	f.Fuzz(func(t *testing.T, b []byte, oneClock bool) {
		e := decode.NewEngine(decode.Options{})
		arbitrary(b, e.Message, e.Sample)
		var clocks []captures.Clock
		if !oneClock {
			clocks = []captures.Clock{{Reference: true, Offset: new(time.Duration)}, {}}
		}
		d := e.Diagnose(nil, clocks)
		_, err := json.Marshal(d)
		require.NoError(t, err, "every figure must be a number or null")
		checkFound(t, d)
	})
}

// stalls are the rules of an attempt that stalls.
var stalls = map[string]bool{
	"capabilities-unanswered": true, "request-missing": true, "request-refused": true,
	"power-ready-missing": true, "contract-stalled": true,
}

// checkFound holds what is true of the findings of any recording.
func checkFound(t *testing.T, d *decode.Diagnosis) {
	t.Helper()
	known := map[string]rules.Severity{}
	for _, r := range rules.Table() {
		known[r.Name] = r.Severity
	}
	last := math.Inf(-1)
	for _, f := range d.Findings {
		gravest, ok := known[f.Rule]
		require.True(t, ok, f.Rule)
		if gravest != rules.Fault {
			require.NotEqual(t, rules.Fault, f.Severity, "%s is graver than its row says", f.Rule)
		}
		require.NotEmpty(t, f.Text)
		require.NotNil(t, f.StartS)
		require.LessOrEqual(t, last, *f.StartS, "in the order of time")
		require.LessOrEqual(t, *f.StartS, *f.EndS, f.Rule)
		last = *f.StartS
		if stalls[f.Rule] {
			follows := contractFrom(d.Negotiation, *f.EndS)
			require.Equal(t, map[bool]rules.Severity{true: rules.Warning, false: rules.Fault}[follows], f.Severity, f.Text)
		}
		require.False(t, d.Verdict.Location == rules.Healthy && f.Severity == rules.Fault, "%s beside a healthy verdict", f.Rule)
	}
}

func contractFrom(n *negotiation.Result, t float64) bool {
	for _, c := range n.Contracts {
		if c.StartS != nil && *c.StartS >= t {
			return true
		}
	}
	return false
}
