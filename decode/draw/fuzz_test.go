package draw_test

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/draw"
)

// FuzzAnalyser feeds any samples: six bytes each, of which two are the step in
// time, two the voltage and two the current. The result must be printable, its
// lists in time order and within the log.
func FuzzAnalyser(f *testing.F) {
	seed := func(n int, at func(i int) (step, volts, amps uint16)) {
		var b []byte
		for i := range n {
			s, v, a := at(i)
			b = binary.LittleEndian.AppendUint16(b, s)
			b = binary.LittleEndian.AppendUint16(b, v)
			b = binary.LittleEndian.AppendUint16(b, a)
		}
		f.Add(b)
	}
	seed(300, func(i int) (uint16, uint16, uint16) { return 10, 20000, uint16(500 + i%3) })
	seed(400, func(i int) (uint16, uint16, uint16) { return 10, 20000, uint16(12 + 400*b2i(i%51 == 0)) })
	seed(600, func(i int) (uint16, uint16, uint16) { return 100, 5000, uint16(500 + 64*(i%70/5)) })
	seed(500, func(i int) (uint16, uint16, uint16) { return 60000, 65535, uint16(i) })
	f.Fuzz(func(t *testing.T, b []byte) {
		an := draw.New(draw.Options{})
		at := time.Duration(0)
		for i := 0; len(b) >= 6 && i < 5000; i++ {
			at += time.Duration(binary.LittleEndian.Uint16(b)) * time.Millisecond
			an.Add(&captures.Sample{At: at, Volts: value(binary.LittleEndian.Uint16(b[2:])), Amps: value(binary.LittleEndian.Uint16(b[4:])), Line: i + 2})
			b = b[6:]
			if i%997 == 0 {
				an.Result()
			}
		}
		r := an.Result()
		_, err := json.Marshal(r)
		require.NoError(t, err)
		_, err = json.Marshal(r.Measured)
		require.NoError(t, err)
		end := at.Seconds() + 1e-9
		last := 0.0
		for _, p := range r.Plateaus {
			require.True(t, p.StartS >= last-1e-9 && p.EndS >= p.StartS && p.EndS <= end)
			last = p.StartS
		}
		last = 0
		for _, l := range r.Levels {
			require.True(t, l.StartS >= last-1e-9 && l.EndS >= l.StartS && l.EndS <= end)
			last = l.StartS
		}
		for _, p := range r.Pulses {
			require.True(t, p.Count >= 3 && p.EndS >= p.StartS && p.EndS <= end)
		}
		for _, s := range r.Staircases {
			require.True(t, s.Steps >= 4 && s.EndS >= s.StartS && s.EndS <= end)
		}
		require.LessOrEqual(t, len(r.Trace), 1024)
	})
}

// value reads millivolts and milliamperes, signed; the two ends are a gap and
// an overflow.
func value(x uint16) float64 {
	switch x {
	case 0xffff:
		return math.NaN()
	case 0xfffe:
		return math.Inf(1)
	}
	return float64(int16(x)) / 1000
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}
