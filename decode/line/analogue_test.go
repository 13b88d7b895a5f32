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

// wave is what a driver and the recorder's input do to edges.
type wave struct {
	riseUS   float64 // 10 to 90 %, of a single pole
	low      float64 // ground shift moves it
	swing    float64
	rest     float64 // level between frames
	noise    float64 // standard deviation in volts
	sampleMS float64
	bits     int // of the recorder's converter over 5 V; 0 for a fine one
}

// samples are the voltages from begin to end, both in us, of a line that
// begins to be driven at the first edge and is let go at the last.
func (w wave) samples(edges []float64, from, to float64, rng *rand.Rand) []line.Event {
	pole := w.riseUS / 2.2
	v, at, next := w.rest, from, 0
	target := w.rest
	var out []line.Event
	for t := from; t < to; t += 1 / w.sampleMS {
		for next < len(edges) && edges[next] <= t {
			v = target + (v-target)*math.Exp(-(edges[next]-at)/pole)
			at = edges[next]
			switch {
			case next == len(edges)-1:
				target = w.rest
			case next%2 == 0:
				target = w.low
			default:
				target = w.low + w.swing
			}
			next++
		}
		v = target + (v-target)*math.Exp(-(t-at)/pole)
		at = t
		seen := v + w.noise*rng.NormFloat64()
		if w.bits > 0 {
			step := 5 / math.Pow(2, float64(w.bits))
			seen = math.Round(seen/step) * step
		}
		out = append(out, line.Event{At: time.Duration(math.Round(t * 1000)), Level: line.Voltage, Value: seen})
	}
	return out
}

// driven are the edges of a frame whose driver starts low and lets go at the end.
func driven(x transmitter, s sent, begin float64) []float64 {
	edges, ends := x.edges(bitsOf(s.set, s.data), begin, 1)
	if len(edges)%2 == 1 {
		edges = append(edges, ends+5)
	}
	return edges
}

// talk sends frames in volts and counts what is read of them.
func talk(choose func(rng *rand.Rand) (transmitter, wave), frames int, seed uint64, seen func(*decode.Frame, wave)) tally {
	rng := rand.New(rand.NewPCG(seed, 3))
	result := tally{sent: frames}
	var s sent
	var w wave
	d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) {
		switch {
		case !f.Good:
			result.broken++
		case f.Set.String() == s.set && string(f.Bytes) == string(s.data):
			result.read++
			if seen != nil {
				seen(f, w)
			}
		default:
			result.invented++
		}
	})
	now := 0.0
	for range frames {
		s = randomFrame(rng)
		var x transmitter
		x, w = choose(rng)
		x.rng = rng
		edges := driven(x, s, now+150)
		end := edges[len(edges)-1] + 60
		d.Add(w.samples(edges, now, end, rng))
		now = end
	}
	d.Finish()
	return result
}

// insideVolts is a link at the limits of tables 5.16 to 5.19 of USB PD R3.2
// V1.1: rise time 300 ns up to what the mask leaves, noise of 165 mVpp (a
// standard deviation of a sixth), a ground shift of 250 mV either way.
func insideVolts(sampleMS float64) func(rng *rand.Rand) (transmitter, wave) {
	rests := []float64{0.41, 0.92, 1.68}
	return func(rng *rand.Rand) (transmitter, wave) {
		x := transmitter{rate: 270 + 60*rng.Float64(), drift: 0.0025 * (2*rng.Float64() - 1), jitter: 0.05}
		return x, wave{
			riseUS: 0.3 + 0.4*rng.Float64(), low: 0.25 * (2*rng.Float64() - 1), swing: 1.05 + 0.15*rng.Float64(),
			rest: rests[rng.IntN(len(rests))], noise: 0.165 / 6, sampleMS: sampleMS, bits: 8,
		}
	}
}

func TestVoltagesInsideTheStandard(t *testing.T) {
	for _, rate := range []float64{1, 2, 4, 5, 10, 25, 50} {
		t.Run(fmt.Sprintf("%g MS/s", rate), func(t *testing.T) {
			var worst float64
			got := talk(insideVolts(rate), count(2000, 20), 11, func(f *decode.Frame, w wave) {
				if rate >= 4 {
					worst = max(worst, math.Abs(f.Measured.LowV-w.low), math.Abs(f.Measured.HighV-w.low-w.swing), math.Abs(f.Measured.RestV-w.rest))
				}
			})
			t.Logf("%g MS/s: %d of %d read, %d invented, %d told as broken, levels right to %.0f mV", rate, got.read, got.sent, got.invented, got.broken, 1000*worst)
			assert.Zero(t, got.invented)
			if rate >= 4 {
				assert.Equal(t, got.sent, got.read)
				assert.Less(t, worst, 0.06)
			}
		})
	}
}
