package line_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures/line"
	decode "portside/decode/line"
	"portside/pd"
)

// FuzzDecoder takes each byte as a time to the next event, in tenths of a
// microsecond, and now and then as a voltage or as a gap.
func FuzzDecoder(f *testing.F) {
	seed := func(bits string) []byte {
		b := newBench()
		b.put(0, bits)
		var out []byte
		last := 0.0
		for _, e := range b.events[1:] {
			at := e.At.Seconds() * 1e7
			out = append(out, byte(min(max(at-last+0.5, 1), 250)))
			last = at
		}
		return out
	}
	f.Add(seed(bitsOf("SOP", worked.data)), byte(0))
	f.Add(seed(bitsOf("Hard_Reset", nil)), byte(0))
	f.Add(append(seed(bitsOf("SOP", worked.data)[:120]), seed(bitsOf("Hard_Reset", nil))...), byte(0))
	f.Add(append(seed(preamble+"00011"+"00111"+"00111"+"10001"), 255, 254, 253, 1, 1), byte(7))
	f.Add(seed(bitsOf("SOP", worked.data)), byte(1))
	f.Fuzz(func(t *testing.T, intervals []byte, how byte) {
		var last time.Duration
		d := decode.NewDecoder([]line.Signal{{Name: "cc1"}, {Name: "cc2"}}, func(f *decode.Frame) {
			require.Equal(t, f.Good, f.Reason == decode.Whole)
			require.LessOrEqual(t, f.Start, f.End)
			require.GreaterOrEqual(t, f.Start, last-20*time.Millisecond)
			last = max(last, f.Start)
			require.NotNil(t, f.Picture)
			require.Len(t, f.Picture.Starts, len(f.Picture.Bits))
			_ = f.Picture.Symbols()
			if f.Good && !f.Set.IsReset() {
				require.True(t, pd.CheckCRC(f.Bytes, f.CRC))
			}
			if f.Good && f.Set.IsReset() {
				require.GreaterOrEqual(t, f.PreambleBits, 32)
			}
		})
		d.Pictures()
		var at time.Duration
		level := line.High
		var events []line.Event
		for i, b := range intervals {
			at += time.Duration(b) * 100
			signal := uint8(0)
			if how&2 != 0 {
				signal = uint8(i) & 1
			}
			level = line.Low + line.High - level
			e := line.Event{At: at, Signal: signal, Level: level}
			switch {
			case how&4 != 0 && b > 250:
				e.Level = line.Level(b % 4)
			case how&1 != 0:
				e.Level, e.Value = line.Voltage, float64(level-line.Low)*1.1
			}
			events = append(events, e)
		}
		d.Add(events)
		d.Add([]line.Event{{At: at + time.Millisecond, Signal: line.NoSignal}})
		d.Finish()
		r := d.Result()
		require.GreaterOrEqual(t, r.Broken, 0)
	})
}
