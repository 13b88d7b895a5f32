package line_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
// begins to be driven at the first edge and is let go at the last, appended to out.
func (w wave) samples(out []line.Event, edges []float64, from, to float64, rng *rand.Rand) []line.Event {
	pole := w.riseUS / 2.2
	interval, code := 1/w.sampleMS, 5/math.Pow(2, float64(w.bits))
	decay := math.Exp(-interval / pole) // over a whole interval without an edge
	v, at, next := w.rest, from, 0
	target := w.rest
	for t := from; t < to; t += interval {
		whole := at < t // since the sample before, unless an edge comes between
		for next < len(edges) && edges[next] <= t {
			whole = false
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
		if whole {
			v = target + (v-target)*decay
		} else {
			v = target + (v-target)*math.Exp(-(t-at)/pole)
		}
		at = t
		seen := v + w.noise*rng.NormFloat64()
		if w.bits > 0 {
			seen = math.Round(seen/code) * code
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
	type spoken struct {
		sent
		wave
	}
	var queue []spoken // where noise hides the rest between them, frames are told late
	d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) {
		if !f.Good {
			result.broken++
			return
		}
		for i, q := range queue {
			if f.Set.String() == q.set && string(f.Bytes) == string(q.data) {
				result.read++
				queue = slices.Delete(queue, i, i+1)
				if seen != nil {
					seen(f, q.wave)
				}
				return
			}
		}
		result.invented++
	})
	now := 0.0
	var events []line.Event
	for range frames {
		s := randomFrame(rng)
		x, w := choose(rng)
		queue = append(queue, spoken{s, w})
		x.rng = rng
		edges := driven(x, s, now+150)
		end := edges[len(edges)-1] + 60
		end = math.Ceil(end*w.sampleMS) / w.sampleMS // a recorder keeps its pace
		events = w.samples(events[:0], edges, now, end, rng)
		d.Add(events)
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
			got := talk(insideVolts(rate), count(100_000, 20), 11, func(f *decode.Frame, w wave) {
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

// TestVoltagesBeyondTheStandard publishes what is read of noisier lines than the
// standard's 165 mVpp, and of slower edges: go test ./decode/line -run Voltages -v -long.
func TestVoltagesBeyondTheStandard(t *testing.T) {
	noisy := func(volts float64) func(*rand.Rand) (transmitter, wave) {
		return func(rng *rand.Rand) (transmitter, wave) {
			x, w := insideVolts(10)(rng)
			w.noise = volts / 6
			return x, w
		}
	}
	slow := func(us float64) func(*rand.Rand) (transmitter, wave) {
		return func(rng *rand.Rand) (transmitter, wave) {
			x, w := insideVolts(10)(rng)
			w.riseUS = us
			return x, w
		}
	}
	tests := []struct {
		what string
		link func(*rand.Rand) (transmitter, wave)
		must float64 // percent read at the least
	}{
		{"noise 0.25 Vpp", noisy(0.25), 99.99}, {"noise 0.35 Vpp", noisy(0.35), 99.99}, {"noise 0.5 Vpp", noisy(0.5), 99.99},
		{"noise 0.7 Vpp", noisy(0.7), 99.9}, {"noise 1.0 Vpp", noisy(1), 99.5},
		{"edges of 0.9 us", slow(0.9), 99.99}, {"edges of 1.2 us", slow(1.2), 99.99}, {"edges of 1.6 us", slow(1.6), 99.5},
	}
	for i, tt := range tests {
		t.Run(tt.what, func(t *testing.T) {
			t.Parallel()
			got := talk(tt.link, count(100_000, 300), uint64(i)+500, nil)
			percent := 100 * float64(got.read) / float64(got.sent)
			t.Logf("%-16s %8.3f %% read, %d invented, %d told as broken", tt.what, percent, got.invented, got.broken)
			assert.Zero(t, got.invented, tt.what)
			if !*long {
				tt.must -= 0.5 // one frame of 300 is a third of a per cent
			}
			assert.GreaterOrEqual(t, percent, tt.must, tt.what)
		})
	}
}

// TestTheLastEdgeUnderAHighRest has the threshold move as the line begins to rest
// above the speaker's high level, in noise: the closing edge stays where it is.
func TestTheLastEdgeUnderAHighRest(t *testing.T) {
	got := talk(func(rng *rand.Rand) (transmitter, wave) {
		x, w := insideVolts(10)(rng)
		w.rest, w.noise = 1.68, 0.5/6
		return x, w
	}, 500, 4, nil)
	assert.Equal(t, got.sent, got.read)
	assert.Zero(t, got.broken+got.invented)
}

// TestTwoSamplesCloseTogether: one pair out of pace says nothing of the pace of
// the others, and moves no frame.
func TestTwoSamplesCloseTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	x, w := insideVolts(4)(rng)
	x.rng = rng
	edges := driven(x, randomFrame(rng), 150)
	events := w.samples(nil, edges, 0, edges[len(edges)-1]+60, rng)
	start := func(events []line.Event) (at []time.Duration) {
		d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) { at = append(at, f.Start) })
		d.Add(events)
		d.Finish()
		return at
	}
	want := start(events)
	assert.Len(t, want, 1)
	pair := events[1]
	pair.At = events[0].At + 1
	assert.Equal(t, want, start(slices.Insert(slices.Clone(events), 1, pair)))
}

// TestNoiseInVolts listens to a probe that hangs in the air: noise of any strength, white
// and as slow as the line, and no message.
func TestNoiseInVolts(t *testing.T) {
	const sampleMS = 10.0
	for _, slow := range []float64{0, 0.2, 0.8} { // time constant in us
		for _, deviation := range []float64{0.05, 0.3, 1} {
			rng := rand.New(rand.NewPCG(8, uint64(100*deviation+10*slow)))
			good, broken := 0, 0
			d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) {
				if f.Good {
					good++
				} else {
					broken++
				}
			})
			seconds := float64(count(1100, 10)) / 100 // 100 s of the nine together
			keep, v := 0.0, 0.0
			if slow > 0 {
				keep = math.Exp(-1 / (sampleMS * slow))
			}
			scale := deviation * math.Sqrt(1-keep*keep)
			events := make([]line.Event, 4096)
			for at := 0; at < int(seconds*sampleMS*1e6); at += len(events) {
				for i := range events {
					v = keep*v + scale*rng.NormFloat64()
					events[i] = line.Event{At: time.Duration(at+i) * 100, Level: line.Voltage, Value: v}
				}
				d.Add(events)
			}
			d.Finish()
			t.Logf("%.2f V deviation, %.1f us slow: %g s, %d messages, %d told as broken", deviation, slow, seconds, good, broken)
			assert.Zero(t, good)
		}
	}
}
