package line_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures/line"
	decode "portside/decode/line"
)

// conditions are what a link does to a frame.
type conditions struct {
	jitterUI, gauss, dutyUS, drift float64 // jitter in UI, others as in transmitter
	rateLow, rateHigh              float64 // kbit/s
	sampleMS                       float64 // MS/s
	spikes                         float64 // a frame
	spikeUS                        float64
}

// inside is the receive mask at its centre: edges within 0.07 UI (USB PD R3.2
// V1.1, table 5.16), rates of table 5.17, drift of table 5.18.
func inside(sampleMS float64) conditions {
	return conditions{jitterUI: 0.07, drift: 0.0025, rateLow: 270, rateHigh: 330, sampleMS: sampleMS}
}

type sent struct {
	set  string
	data []byte
}

// tally is what became of the frames sent.
type tally struct{ sent, read, invented, broken int }

func randomFrame(rng *rand.Rand) sent {
	if rng.IntN(20) == 0 {
		return sent{set: []string{"Hard_Reset", "Cable_Reset"}[rng.IntN(2)]}
	}
	objects := rng.IntN(8)
	data := make([]byte, 2+4*objects)
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	data[1] = data[1]&0x0F | byte(objects)<<4
	return sent{setNames[rng.IntN(len(setNames))], data}
}

// converse sends frames one after the other and counts what is read of them.
func converse(c conditions, frames int, seed uint64) tally {
	rng := rand.New(rand.NewPCG(seed, 1))
	result := tally{sent: frames}
	var queue []sent
	d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) {
		if !f.Good {
			result.broken++
			return
		}
		for i, s := range queue {
			if s.set == f.Set.String() && string(s.data) == string(f.Bytes) {
				result.read++
				queue = append(queue[:i], queue[i+1:]...)
				return
			}
		}
		result.invented++
	})
	now := 100.0
	for range frames {
		s := randomFrame(rng)
		queue = append(queue, s)
		if len(queue) > 3 {
			queue = queue[1:]
		}
		var events []line.Event
		events, now = c.send(s, now, rng)
		d.Add(events)
		now += 25 + 100*rng.Float64()
	}
	d.Add([]line.Event{{At: time.Duration(now*1000) + time.Millisecond, Signal: line.NoSignal}})
	d.Finish()
	return result
}

// send is one frame as a recorder sees it.
func (c conditions) send(s sent, now float64, rng *rand.Rand) ([]line.Event, float64) {
	rate := c.rateLow + (c.rateHigh-c.rateLow)*rng.Float64()
	x := transmitter{
		rate: rate, drift: c.drift * (2*rng.Float64() - 1), jitter: c.jitterUI * 1000 / rate,
		gauss: c.gauss, duty: c.dutyUS * (2*rng.Float64() - 1), rng: rng,
	}
	rest := rng.IntN(2)
	times, ends := x.edges(bitsOf(s.set, s.data), now, rest)
	times = c.disturb(times, rng)
	at := sample(times, c.sampleMS, rng.Float64(), rest)
	events := make([]line.Event, 0, len(at)+1)
	level := line.Low + line.Level(rest)
	events = append(events, line.Event{At: time.Duration((now - 20) * 1000), Level: level})
	for _, t := range at {
		level = line.Low + line.High - level
		events = append(events, line.Event{At: time.Duration(math.Round(t * 1000)), Level: level})
	}
	if rest == 0 && level == line.High {
		panic("a frame that ends high")
	}
	return events, ends + 10
}

// disturb puts spikes on the line.
func (c conditions) disturb(times []float64, rng *rand.Rand) []float64 {
	if c.spikes == 0 {
		return times
	}
	for range int(c.spikes + rng.Float64()) {
		at := times[0] + (times[len(times)-1]-times[0])*rng.Float64()
		times = append(times, at, at+c.spikeUS)
	}
	return sorted(times)
}

func TestInsideTheStandard(t *testing.T) {
	for _, rate := range []float64{1, 1.5, 2, 3, 4, 6, 10, 24, 100} {
		t.Run(fmt.Sprintf("%g MS/s", rate), func(t *testing.T) {
			got := converse(inside(rate), count(100_000, 300), 7)
			t.Logf("%g MS/s: %d of %d read, %d invented, %d told as broken", rate, got.read, got.sent, got.invented, got.broken)
			assert.Zero(t, got.invented)
			if rate >= 4 {
				assert.Equal(t, got.sent, got.read)
			}
		})
	}
}
