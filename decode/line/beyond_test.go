package line_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures/line"
	decode "portside/decode/line"
)

// TestBeyondTheStandard publishes what is read of links that are worse than
// the standard allows: go test ./decode/line -run Beyond -v -long. Nothing may
// be invented anywhere.
func TestBeyondTheStandard(t *testing.T) {
	type row struct {
		what string
		c    conditions
		must float64 // percent read at the least
	}
	var rows []row
	add := func(must float64, what string, change func(*conditions)) {
		c := inside(10)
		change(&c)
		rows = append(rows, row{what, c, must})
	}
	for _, j := range []float64{0.10, 0.15, 0.20, 0.25, 0.30} {
		add(map[float64]float64{0.10: 100, 0.15: 100, 0.20: 99}[j], fmt.Sprintf("jitter +-%.2f UI", j), func(c *conditions) { c.jitterUI = j })
	}
	for _, g := range []float64{0.1, 0.2, 0.3, 0.4} {
		add(map[float64]float64{0.1: 99.9}[g], fmt.Sprintf("random jitter %.1f us", g), func(c *conditions) { c.gauss, c.jitterUI = g, 0 })
	}
	for _, d := range []float64{0.2, 0.4, 0.6} {
		add(map[float64]float64{0.2: 100, 0.4: 99}[d], fmt.Sprintf("edges %.1f us apart by duty", 2*d), func(c *conditions) { c.dutyUS = d })
	}
	for _, d := range []float64{0.01, 0.03, 0.06} {
		add(map[float64]float64{0.01: 99.9, 0.03: 99}[d], fmt.Sprintf("drift %.0f %% in 100 bits", 100*d), func(c *conditions) { c.drift = d })
	}
	for _, r := range []float64{250, 260, 340, 350} {
		add(99.9, fmt.Sprintf("bit rate %.0f kbit/s", r), func(c *conditions) { c.rateLow, c.rateHigh = r, r })
	}
	for _, n := range []float64{1, 4, 16} {
		add(map[float64]float64{1: 99, 4: 95}[n], fmt.Sprintf("%.0f spikes of 0.1 us a frame", n), func(c *conditions) { c.spikes, c.spikeUS = n, 0.1 })
		add(map[float64]float64{1: 95}[n], fmt.Sprintf("%.0f spikes of 0.5 us a frame", n), func(c *conditions) { c.spikes, c.spikeUS = n, 0.5 })
	}
	for _, rate := range []float64{0.7, 0.8, 0.9, 1, 1.2, 1.5, 2, 3} {
		add(map[float64]float64{1: 99.9, 1.2: 99.9, 1.5: 99.9, 2: 100, 3: 100}[rate], fmt.Sprintf("%.1f MS/s", rate), func(c *conditions) { c.sampleMS = rate })
	}
	for _, rate := range []float64{1, 2, 4} {
		add(0, fmt.Sprintf("%.0f MS/s, jitter +-0.15 UI", rate), func(c *conditions) { c.sampleMS, c.jitterUI = rate, 0.15 })
	}
	for i, r := range rows {
		got := converse(r.c, count(100_000, 100), uint64(i)+100)
		percent := 100 * float64(got.read) / float64(got.sent)
		t.Logf("%-28s %8.3f %% read, %d invented, %d told as broken", r.what, percent, got.invented, got.broken)
		assert.Zero(t, got.invented, r.what)
		if !*long {
			r.must -= 4 // one frame of 100 is one per cent
		}
		assert.GreaterOrEqual(t, percent, r.must, r.what)
	}
}

// listen counts what is made of levels that carry no message.
func listen(t *testing.T, rate float64, seconds float64, next func() bool) (good, broken int) {
	t.Helper()
	d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) {
		if f.Good {
			good++
		} else {
			broken++
		}
	})
	const batch = 4096
	events := make([]line.Event, 0, batch)
	level := false
	for i := range int(seconds * rate) {
		if to := next(); to != level {
			level = to
			e := line.Event{At: time.Duration(float64(i) / rate * 1e9), Level: line.Low}
			if level {
				e.Level = line.High
			}
			if events = append(events, e); len(events) == batch {
				d.Add(events)
				events = events[:0]
			}
		}
	}
	d.Add(events)
	d.Finish()
	return good, broken
}

func TestNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	seconds := float64(count(1000, 2)) / 10
	var word uint64
	left := 0
	white := func() bool {
		if left == 0 {
			word, left = rng.Uint64(), 64
		}
		left--
		word >>= 1
		return word&1 == 1
	}
	good, broken := listen(t, 10e6, seconds, white)
	t.Logf("white noise, %g s at 10 MS/s: %d messages, %d broken frames", seconds, good, broken)
	assert.Zero(t, good+broken)

	// Noise with the bandwidth of the line: a change every 1.7 us on average.
	level := false
	slow := func() bool {
		if rng.Uint32() < 1<<32/17 {
			level = !level
		}
		return level
	}
	good, broken = listen(t, 10e6, seconds, slow)
	t.Logf("slow noise, %g s at 10 MS/s: %d messages, %d broken frames", seconds, good, broken)
	assert.Zero(t, good+broken)

	// Steps of half a bit of the line itself, drawn at random: as near as noise comes.
	step := 0
	near := func() bool {
		if step--; step <= 0 {
			step = 17 * (1 + int(rng.Uint32()%2))
			level = !level
		}
		return level
	}
	good, broken = listen(t, 10e6, seconds, near)
	t.Logf("random halves of bits, %g s at 10 MS/s: %d messages, %d broken frames", seconds, good, broken)
	assert.Zero(t, good)
}

// TestOtherTraffic listens to serial lines that a probe may sit on by mistake.
func TestOtherTraffic(t *testing.T) {
	seconds := float64(count(400, 1)) / 40
	rng := rand.New(rand.NewPCG(5, 5))
	const rate = 10e6
	// nrz gives bits of the given length in samples; more says the next bits.
	nrz := func(samples float64, more func() []bool) func() bool {
		var bits []bool
		at := 0.0
		level := true
		return func() bool {
			if at <= 0 {
				if len(bits) == 0 {
					bits = more()
				}
				level, bits = bits[0], bits[1:]
				at += samples
			}
			at--
			return level
		}
	}
	uart := func() []bool {
		b := rng.Uint32()
		bits := []bool{false}
		for i := range 8 {
			bits = append(bits, b>>i&1 == 1)
		}
		for range 1 + rng.IntN(5) {
			bits = append(bits, true)
		}
		return bits
	}
	manchester := func() []bool {
		b := rng.Uint32()&1 == 1
		return []bool{b, !b}
	}
	last := false
	biphase := func() []bool { // the line's own code, without its frames
		last = !last
		first := last
		if rng.Uint32()&1 == 1 {
			last = !last
		}
		return []bool{first, last}
	}
	clock := func() []bool { return []bool{true, false} }
	traffic := map[string]func() bool{
		"asynchronous, 115.2 kbit/s":    nrz(rate/115200, uart),
		"asynchronous, 9600 bit/s":      nrz(rate/9600, uart),
		"asynchronous, 460.8 kbit/s":    nrz(rate/460800, uart),
		"asynchronous, 1 Mbit/s":        nrz(rate/1e6, uart),
		"a clock of 100 kHz":            nrz(rate/200e3, clock),
		"a clock of 150 kHz":            nrz(rate/300e3, clock),
		"a clock of 300 kHz":            nrz(rate/600e3, clock),
		"two-wire data at 400 kbit/s":   nrz(rate/400e3, uart),
		"Manchester code at 300 kbit/s": nrz(rate/600e3, manchester),
		"Manchester code at 150 kbit/s": nrz(rate/300e3, manchester),
		"biphase mark, random data":     nrz(rate/600e3, biphase),
	}
	for name, next := range traffic {
		good, broken := listen(t, rate, seconds, next)
		t.Logf("%-30s %g s: %d messages, %d broken frames", name, seconds, good, broken)
		assert.Zero(t, good, name)
	}
}
