package line_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
	decode "portside/decode/line"
)

// TestWithin takes a part of a recording. Three messages begin at 1, 2 and 3 ms, and the
// line rests before and after them.
func TestWithin(t *testing.T) {
	const ms = time.Millisecond
	x := transmitter{rate: 300, rng: rand.New(rand.NewPCG(1, 1))}
	events := []line.Event{{Level: line.High}}
	for i := range 3 {
		edges, _ := x.edges(bitsOf("SOP", offerOf(i)), float64(1000*(i+1)), 1)
		level := line.High
		for _, at := range edges {
			level = line.Low + line.High - level
			events = append(events, line.Event{At: time.Duration(at * 1000), Level: level})
		}
	}
	events = append(events, line.Event{At: 2000 * ms, Signal: line.NoSignal})
	tests := []struct {
		name     string
		from, to time.Duration
		heard    []byte // message IDs
		seenS    float64
	}{
		{"all", -time.Hour, time.Hour, []byte{0, 1, 2}, 2},
		{"from the second on", 1900 * time.Microsecond, time.Hour, []byte{1, 2}, 1.9981},
		{"up to the second, which is whole", 0, 2100 * time.Microsecond, []byte{0, 1}, 0.0131},
		{"begins inside the first", 1300 * time.Microsecond, 2900 * time.Microsecond, []byte{1}, 0.0126},
		{"a line at rest", 1000 * ms, 1900 * ms, nil, 0.911},
		{"behind the end", 3000 * ms, 4000 * ms, nil, 0},
	}
	for _, tt := range tests {
		for _, batch := range []int{1, 7, len(events)} {
			m := decode.NewMessages([]line.Signal{{Name: "cc"}}, nil)
			m.Within(tt.from, tt.to)
			var heard []byte
			take := func() {
				for message := m.Next(); message != nil; message = m.Next() {
					require.Empty(t, message.Broken, tt.name)
					heard = append(heard, message.Bytes[1]>>1&7)
				}
			}
			for i := 0; i < len(events); i += batch {
				m.Add(events[i:min(i+batch, len(events))])
				take()
			}
			m.Finish()
			take()
			r := m.Result()
			assert.Equal(t, tt.heard, heard, tt.name)
			assert.Equal(t, len(tt.heard), r.Frames, tt.name)
			assert.Zero(t, r.Broken+r.CutShort, tt.name)
			assert.InDelta(t, tt.seenS, r.Lines[0].SeenS, 1e-6, tt.name)
			if len(tt.heard) == 0 && tt.seenS > 0 {
				require.NotNil(t, r.Lines[0].Stuck, tt.name)
				assert.Equal(t, "high", *r.Lines[0].Stuck, "the level that stood before is known")
			}
		}
	}
}
