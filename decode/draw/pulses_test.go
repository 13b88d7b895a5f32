package draw_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A charger circuit that never latches: 10 ms on, 500 ms off. Source: data
// sheet SLUSDU3.
func endlessHiccup(t float64) (float64, float64) {
	if math.Mod(t+0.2, 0.51) < 0.010 {
		return 20, 0.5
	}
	return 20, 0.012
}

// At 48 samples a second half of the pulses fall between the samples, at 100
// some may: the distances are whole numbers of the period.
func TestPulsesBetweenTheSamples(t *testing.T) {
	for _, hz := range []float64{48, 100, 200, 1000, 10000} {
		t.Run(fmt.Sprint(hz), func(t *testing.T) {
			r := rows(int(40*hz), 1/hz, noisy(3, endlessHiccup)).Result()
			require.Len(t, r.Pulses, 1)
			require.NotNil(t, r.Pulses[0].PeriodS)
			assert.InDelta(t, 0.51, *r.Pulses[0].PeriodS, 0.002)
			require.NotNil(t, r.Pulses[0].PeriodU)
			assert.InDelta(t, 0.51, *r.Pulses[0].PeriodS, 3**r.Pulses[0].PeriodU)
			assert.False(t, r.Pulses[0].Quiet)
		})
	}
	for _, hz := range []float64{0.5, 1, 2, 4, 5, 10} {
		for _, p := range rows(int(60*hz), 1/hz, noisy(3, endlessHiccup)).Result().Pulses {
			assert.Nil(t, p.PeriodS, "%g samples a second", hz)
		}
	}
}

// A protection that tries again waits for 32 ms at the least (data sheet SLUSBP6D, a 5 V
// boost converter); what comes each 0.3 ms is a converter that works in bursts.
func TestRippleIsNoTrain(t *testing.T) {
	for everyMS, trains := range map[float64]int{0.3: 0, 2: 0, 10: 0, 32: 1} {
		r := rows(20000, 0.0001, noisy(3, func(t float64) (float64, float64) {
			if math.Mod(1000*t+0.05, everyMS) < 0.3*everyMS {
				return 20, 0.3
			}
			return 20, 0.02
		})).Result()
		assert.Len(t, r.Pulses, trains, "each %g ms", everyMS)
	}
}

// A meter that averages shows each pulse at a tenth of its height: a train, but
// at 10 samples a second or less single samples may be a beat.
func TestPulsesOfAnAveragingMeter(t *testing.T) {
	mean := func(hz float64) func(t float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			sum := 0.0
			for k := range 1000 {
				_, a := hiccup(t - float64(k)/1000/hz)
				sum += a
			}
			return 20, sum / 1000
		}
	}
	r := rows(400, 0.1, noisy(3, mean(10))).Result()
	require.Len(t, r.Pulses, 1)
	assert.Equal(t, 7, r.Pulses[0].Count)
	assert.InDelta(t, 0.012+0.049, r.Pulses[0].PeakA, 0.006, "10 ms of 488 mA above rest in 100 ms")
	assert.Nil(t, r.Pulses[0].PeriodS)
	assert.True(t, r.Pulses[0].Quiet)
	assert.Nil(t, r.Measured.RetryPeriodS)
}

// VBUS comes and goes with a source that trips: 985 ms between two attempts.
// Source: data sheet SLVSDJ5D.
func TestPulsesWithVBUS(t *testing.T) {
	for _, hz := range []float64{10, 100} {
		r := rows(int(40*hz), 1/hz, noisy(1, func(t float64) (float64, float64) {
			if t > 3 && math.Mod(t, 0.985) < 0.2 {
				return 5, 1.5
			}
			return 0, 0
		})).Result()
		require.Len(t, r.Pulses, 1)
		p := r.Pulses[0]
		assert.True(t, p.WithVBUS)
		require.NotNil(t, p.PeriodS)
		assert.InDelta(t, 0.985, *p.PeriodS, 0.005)
		require.NotNil(t, p.OnS)
		assert.InDelta(t, 0.2, *p.OnS, 0.01)
	}
}

// A machine that boots goes between levels without order, back to idle often,
// and a program may load it evenly. None of it is a retry or a climb.
func TestBootActivityIsPlateaus(t *testing.T) {
	for seed := range uint64(25) {
		for _, hz := range []float64{1, 10, 100, 1000} {
			r := rand.New(rand.NewPCG(seed, 9))
			level, next := 0.3, 0.0
			got := rows(int(60*hz), 1/hz, noisy(seed, func(t float64) (float64, float64) {
				if t >= next {
					level = 0.2 + 2*r.Float64()
					if r.Float64() < 0.3 {
						level = 0.3
					}
					next = t + 0.05 + 0.3*r.ExpFloat64()
				}
				return 20 - 0.1*level, level
			})).Result()
			assert.Empty(t, got.Pulses, "seed %d, %g samples a second", seed, hz)
			assert.Empty(t, got.Staircases, "seed %d, %g samples a second", seed, hz)
			assert.Empty(t, got.Tapers, "seed %d, %g samples a second", seed, hz)
		}
	}
	for _, hz := range []float64{10, 100} {
		got := rows(int(60*hz), 1/hz, noisy(1, func(t float64) (float64, float64) {
			if math.Mod(t, 0.4) < 0.2 {
				return 19.9, 0.9
			}
			return 20, 0.4
		})).Result()
		assert.Empty(t, got.Pulses, "a square wave of load")
		assert.Empty(t, got.Staircases)
	}
}

// tries are pulses of half an ampere, so long and at such a distance.
func tries(n int, onS, periodS float64) func(t float64) (v, a float64) {
	return func(t float64) (float64, float64) {
		p := t - 2.003
		if p >= 0 && p < float64(n)*periodS && math.Mod(p, periodS) < onS {
			return 20, 0.5
		}
		return 20, 0.012
	}
}

// What an instant of 20 ms cannot hold: pulses shorter than that, of which every
// second one falls between two samples all along.
func TestPeriodsThatTheSamplingCannotHold(t *testing.T) {
	cases := []struct {
		name         string
		n            int
		onS, periodS float64
		named        bool
	}{
		{"every second one missed", 20, 0.012, 0.13, false},
		{"as slow, and each one caught", 20, 0.045, 0.26, true},
		{"moving against the sampling", 20, 0.012, 0.2557, true},
		{"three that were caught by chance", 3, 0.0195, 0.2557, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := rows(500, 0.02, noisy(5, tries(c.n, c.onS, c.periodS))).Result()
			require.NotEmpty(t, r.Pulses)
			if !c.named {
				assert.Nil(t, r.Measured.RetryPeriodS)
				return
			}
			require.NotNil(t, r.Measured.RetryPeriodS)
			assert.InDelta(t, c.periodS, r.Measured.RetryPeriodS.Value, 3**r.Measured.RetryPeriodS.Uncertainty)
		})
	}
}

// Three distances that are alike by chance say little about the timer.
func TestPeriodOfFewPulsesIsNotExact(t *testing.T) {
	few := rows(8000, 0.001, noisy(5, tries(4, 0.02, 0.5))).Result().Measured.RetryPeriodS
	many := rows(20000, 0.001, noisy(5, tries(24, 0.02, 0.5))).Result().Measured.RetryPeriodS
	require.NotNil(t, few)
	require.NotNil(t, many)
	assert.Greater(t, *few.Uncertainty, 0.0005, "0.1 % at least")
	assert.Less(t, *many.Uncertainty, *few.Uncertainty/3)
}

// A source into a short limits its current on the way up, in 30 ms, and gives up after
// 70 (data sheet SLVSDJ5D: another try each second). At 10,000 rows a second each row of
// the way is a stretch of its own, and the five are a train all the same.
func TestPulsesWithSlowEdges(t *testing.T) {
	for _, hz := range []float64{200, 1000, 10000} {
		r := rows(int(9*hz), 1/hz, func(t float64) (float64, float64) {
			if k := math.Mod(t, 1); t > 1 && t < 6 && k < 0.07 {
				a := 4.8 * min(1, k/0.03)
				return 0.35 * a, a
			}
			return 0, 0.005
		}).Result()
		require.Len(t, r.Pulses, 1, "%g Hz", hz)
		assert.Equal(t, 5, r.Pulses[0].Count, "%g Hz", hz)
		require.NotNil(t, r.Pulses[0].PeriodS, "%g Hz", hz)
		assert.InDelta(t, 1, *r.Pulses[0].PeriodS, 0.01, "%g Hz", hz)
	}
}
