package draw_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/draw"
)

// rows feeds samples at even intervals, V and A given by f.
func rows(n int, interval float64, f func(t float64) (v, a float64)) *draw.Analyser {
	an := draw.New(draw.Options{})
	for i := range n {
		t := float64(i) * interval
		v, a := f(t)
		an.Add(&captures.Sample{At: time.Duration(t * 1e9), Volts: v, Amps: a, Line: i + 2})
	}
	return an
}

// noisy adds Gaussian noise and rounds to the meter's digits.
func noisy(seed uint64, f func(t float64) (v, a float64)) func(t float64) (v, a float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	return func(t float64) (float64, float64) {
		v, a := f(t)
		return math.Round((v+r.NormFloat64()*0.004)*100) / 100, math.Round((a+r.NormFloat64()*0.002)*1000) / 1000
	}
}

func TestNoiseAloneIsOnePlateau(t *testing.T) {
	for seed := range uint64(50) {
		r := rows(4000, 0.01, noisy(seed, func(float64) (float64, float64) { return 20, 0.5 })).Result()
		require.Len(t, r.Plateaus, 1, "seed %d", seed)
		assert.InDelta(t, 0.5, *r.Plateaus[0].CurrentA, 0.0002)
		assert.Empty(t, r.Spikes)
		assert.Empty(t, r.Staircases)
		assert.Empty(t, r.Pulses)
		assert.Empty(t, r.Tapers)
		assert.Len(t, r.Levels, 1)
		assert.Empty(t, r.Collapses)
	}
}

// hiccup is a charger circuit's retry: 10 ms on, 500 ms off, seven times, then
// latched off. Source: data sheet SLUSDU3.
func hiccup(t float64) (float64, float64) {
	p := t - 3.404
	if p >= 0 && p < 7*0.51 && math.Mod(p, 0.51) < 0.010 {
		return 20, 0.5
	}
	return 20, 0.012
}

func TestHiccup(t *testing.T) {
	r := rows(4000, 0.01, noisy(1, hiccup)).Result()
	require.Len(t, r.Pulses, 1)
	p := r.Pulses[0]
	assert.Equal(t, 7, p.Count)
	assert.Nil(t, p.PeriodS, "a try of half the length each 0.255 s, 25.5 samples, looks the same")
	require.NotNil(t, p.SeenS)
	assert.InDelta(t, 0.51, *p.SeenS, 0.002)
	assert.Nil(t, p.OnS, "one sample long: no on time")
	assert.InDelta(t, 0.5, p.PeakA, 0.01)
	assert.True(t, p.Quiet)
	assert.Nil(t, r.Measured.RetryPeriodS)
	fast := rows(8000, 0.005, noisy(1, hiccup)).Result()
	require.NotNil(t, fast.Measured.RetryPeriodS)
	assert.InDelta(t, 0.51, fast.Measured.RetryPeriodS.Value, 0.002)
	for _, interval := range []float64{1, 0.5} {
		slow := rows(int(40/interval), interval, noisy(1, hiccup)).Result()
		for _, p := range slow.Pulses {
			assert.Nil(t, p.PeriodS, "interval %g", interval)
		}
		assert.Nil(t, slow.Measured.RetryPeriodS)
	}
}

func TestResultInTheMiddleChangesNothing(t *testing.T) {
	asked, unasked := draw.New(draw.Options{}), draw.New(draw.Options{})
	f := noisy(3, func(t float64) (float64, float64) {
		_, a := hiccup(t)
		return 20, a + math.Floor(math.Mod(t, 7))*0.1
	})
	for i := range 3000 {
		at := float64(i) * 0.01
		v, a := f(at)
		s := captures.Sample{At: time.Duration(at * 1e9), Volts: v, Amps: a}
		asked.Add(&s)
		unasked.Add(&s)
		if i%37 == 0 {
			asked.Result()
		}
	}
	assert.Equal(t, unasked.Result(), asked.Result())
}

func TestNoListIsNil(t *testing.T) {
	r := draw.New(draw.Options{}).Result()
	assert.NotNil(t, r.Plateaus)
	assert.NotNil(t, r.Spikes)
	assert.NotNil(t, r.Staircases)
	assert.NotNil(t, r.Pulses)
	assert.NotNil(t, r.Tapers)
	assert.NotNil(t, r.Profile)
	assert.NotNil(t, r.Levels)
	assert.NotNil(t, r.Collapses)
	assert.NotNil(t, r.Gaps)
	assert.NotNil(t, r.Rises)
	assert.NotNil(t, r.Trace)
}

func TestTurnedMeter(t *testing.T) {
	r := rows(1000, 0.01, noisy(1, func(t float64) (float64, float64) {
		if t < 2 {
			return 5, 0
		}
		return 20, -1.5
	})).Result()
	assert.True(t, r.Turned)
	assert.InDelta(t, 1.5, *r.Plateaus[len(r.Plateaus)-1].CurrentA, 0.001)
}

// A device whose VBUS is taken away gives its capacitors' charge back for a
// moment: C dV/dt of 70 uF over 15 V in 5 ms is 0.2 A. The meter is not turned.
func TestCapacitorsThatGiveBackTurnNoMeter(t *testing.T) {
	r := rows(3000, 0.001, noisy(1, func(t float64) (float64, float64) {
		switch {
		case t < 0.5:
			return 15, 0.004
		case t < 0.505:
			return 15 - 3000*(t-0.5), -0.2
		case t < 1.5:
			return 0, 0
		}
		return 15, 1.5
	})).Result()
	assert.False(t, r.Turned)
	assert.InDelta(t, 1.5, *r.Plateaus[len(r.Plateaus)-1].CurrentA, 0.001)
}

func TestLevelsAndCollapse(t *testing.T) {
	r := rows(3000, 0.01, noisy(1, func(t float64) (float64, float64) {
		switch {
		case t < 2:
			return 0, 0
		case t < 3:
			return 5.1, 0.1
		case t < 10:
			return 20.1, 1.2
		case t < 10.9:
			return 0, 0
		case t < 12:
			return 5.1, 0.1
		}
		return 20.1, 0.5
	})).Result()
	var levels []float64
	for _, l := range r.Levels {
		levels = append(levels, l.NominalV)
	}
	assert.Equal(t, []float64{0, 5, 20, 0, 5, 20}, levels)
	require.Len(t, r.Collapses, 1)
	c := r.Collapses[0]
	assert.InDelta(t, 10, c.TimeS, 0.011)
	assert.InDelta(t, 1.2, c.AtA, 0.01)
	require.NotNil(t, c.BackS)
	assert.InDelta(t, 2, *c.BackS, 0.02)
}

// TestLeapsAreNoFalls: VBUS leaps up by 3 V for 2 ms as a draw is cut, and is back where it
// stood; one that goes down to what no contract gives has fallen.
func TestLeapsAreNoFalls(t *testing.T) {
	leaps := rows(4000, 0.0005, func(t float64) (float64, float64) {
		if at := math.Mod(t, 0.5); t > 0.4 && at < 0.002 {
			return 23, 0.01
		}
		return 20, 1
	}).Result()
	assert.Empty(t, leaps.Collapses)
	falls := rows(4000, 0.0005, func(t float64) (float64, float64) {
		if t < 1 {
			return 23, 1
		}
		return 17.3, 1
	}).Result()
	assert.Len(t, falls.Collapses, 1)
}

func TestGaps(t *testing.T) {
	an := draw.New(draw.Options{})
	for i := range 1000 {
		at := float64(i) * 0.1
		if at > 40 && at < 55 {
			continue
		}
		v, a := 20.0, 0.5
		if at > 70 && at < 80 {
			a = math.NaN()
		}
		an.Add(&captures.Sample{At: time.Duration(at * 1e9), Volts: v, Amps: a})
	}
	r := an.Result()
	require.Len(t, r.Gaps, 2)
	assert.InDelta(t, 40, r.Gaps[0].StartS, 0.11)
	assert.InDelta(t, 55, r.Gaps[0].EndS, 0.11)
	assert.InDelta(t, 70, r.Gaps[1].StartS, 0.11)
	assert.InDelta(t, 80, r.Gaps[1].EndS, 0.11)
	assert.Len(t, r.Plateaus, 3, "a plateau does not go over a gap")
}

func benchmark(b *testing.B, f func(t float64) (float64, float64)) {
	const n = 1 << 16
	samples := make([]captures.Sample, n)
	for i := range samples {
		t := float64(i) * 0.01
		v, a := f(t)
		samples[i] = captures.Sample{Volts: v, Amps: a}
	}
	an := draw.New(draw.Options{})
	i := 0
	for b.Loop() {
		s := samples[i%n]
		s.At = time.Duration(i) * 10 * time.Millisecond
		an.Add(&s)
		i++
	}
}

func BenchmarkSteady(b *testing.B) {
	benchmark(b, noisy(1, func(float64) (float64, float64) { return 20, 0.5 }))
}

// BenchmarkActive is a machine at work: another draw every five samples.
func BenchmarkActive(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	level := 1.0
	benchmark(b, noisy(1, func(t float64) (float64, float64) {
		if int(t*100)%5 == 0 {
			level = 1 + r.Float64()
		}
		return 20 - 0.1*level, level
	}))
}

// A machine at work never rests, so that no single row stands out of what looks like
// noise once a second.
func TestTurnedMeterOnABusyMachine(t *testing.T) {
	r := rows(60, 1, func(t float64) (float64, float64) {
		if t < 3 {
			return 20, -0.002
		}
		return 20, -(1 + 0.8*math.Sin(2.6*t))
	}).Result()
	assert.True(t, r.Turned)
}
