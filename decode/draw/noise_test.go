package draw_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/draw"
)

// digitised adds Gaussian noise to the current and rounds it to steps of q.
func digitised(seed uint64, sigma, q float64, f func(t float64) (v, a float64)) func(t float64) (v, a float64) {
	r := rand.New(rand.NewPCG(seed, 2))
	return func(t float64) (float64, float64) {
		v, a := f(t)
		return v, math.Round((a+sigma*r.NormFloat64())/q) * q
	}
}

// What rounding adds to a standard deviation is q over the root of twelve: GUM,
// JCGM 100:2008, F.2.2.1.
func TestNoiseOfRoundedValues(t *testing.T) {
	steady := func(float64) (float64, float64) { return 20, 0.5037 }
	for _, q := range []float64{0.001, 0.01} {
		for _, steps := range []float64{0.5, 0.7, 1, 1.5, 2, 3, 5, 10} {
			t.Run(fmt.Sprintf("%g A in steps of %g A", steps*q, q), func(t *testing.T) {
				s := rows(20000, 0.01, digitised(3, steps*q, q, steady)).Result().Sampling
				assert.InEpsilon(t, math.Hypot(steps*q, q/math.Sqrt(12)), s.NoiseA, 0.12)
				assert.InDelta(t, q, s.ResolutionA, 1e-9)
			})
		}
	}
}

// A log with few different values shows no smallest step; only its digits do.
func TestResolutionOfFewValues(t *testing.T) {
	s := rows(400, 0.1, func(t float64) (float64, float64) { return 20, []float64{0.1, 0.95, 1.9, 3}[int(t/10)] }).Result().Sampling
	assert.InDelta(t, 0.01, s.ResolutionA, 1e-9)
	assert.Zero(t, s.ResolutionV, "it never moved")
	assert.InDelta(t, 0.01/math.Sqrt(12), s.NoiseA, 1e-9)
}

// A draw that moves in most samples is activity, not noise.
func TestActivityIsNoNoise(t *testing.T) {
	for _, hz := range []float64{1, 2, 4, 5, 10} {
		s := rows(int(60*hz), 1/hz, noisy(1, func(t float64) (float64, float64) {
			return 5, 0.5 + 0.064*math.Floor(math.Mod(t, 8)/0.5)
		})).Result().Sampling
		assert.Less(t, s.NoiseA, 0.009, "%g samples a second", hz)
	}
}

func TestNoiseAloneOfEveryMeter(t *testing.T) {
	for seed := range uint64(20) {
		for _, q := range []float64{0.001, 0.01} {
			for _, sigma := range []float64{0.2 * q, 0.5 * q, q, 2 * q, 0.03} {
				r := rows(3000, 0.1, digitised(seed, sigma, q, func(float64) (float64, float64) { return 20, 0.5037 })).Result()
				assert.Len(t, r.Plateaus, 1, "seed %d noise %g step %g", seed, sigma, q)
				assert.Empty(t, r.Spikes, "seed %d noise %g step %g", seed, sigma, q)
				assert.Empty(t, r.Staircases)
				assert.Empty(t, r.Pulses)
				assert.Empty(t, r.Tapers)
			}
		}
	}
}

// VBUS alone is cut like a current.
func TestVoltageAlone(t *testing.T) {
	r := rows(900, 0.1, noisy(1, func(t float64) (float64, float64) {
		v := 5.1
		if t >= 30 {
			v = 20.2
		}
		if t >= 60 {
			v = 19.9
		}
		return v, math.NaN()
	})).Result()
	if assert.Len(t, r.Plateaus, 3) {
		assert.Nil(t, r.Plateaus[0].CurrentA)
		assert.InDelta(t, 20.2, *r.Plateaus[1].VoltageV, 0.01)
		assert.InDelta(t, 19.9, *r.Plateaus[2].VoltageV, 0.01)
		assert.InDelta(t, 60, r.Plateaus[2].StartS, 0.11)
	}
	assert.Empty(t, r.Spikes)
	assert.Nil(t, r.EnergyWh)
	assert.Nil(t, r.Measured.SeriesResistanceOhm)
}

func TestCurrentAlone(t *testing.T) {
	r := rows(900, 0.1, noisy(1, func(t float64) (float64, float64) {
		if t < 30 {
			return math.NaN(), 0.1
		}
		return math.NaN(), 1.1
	})).Result()
	if assert.Len(t, r.Plateaus, 2) {
		assert.Nil(t, r.Plateaus[0].VoltageV)
		assert.InDelta(t, 1.1, *r.Plateaus[1].CurrentA, 0.001)
	}
	assert.Empty(t, r.Levels)
	assert.Nil(t, r.EnergyWh)
}

// Nothing is drawn for 10 h after the recording of interest: what was found in
// it is the same.
func TestALaterQuietStretchChangesNothing(t *testing.T) {
	f := noisy(4, func(t float64) (float64, float64) {
		_, a := hiccup(t)
		if t > 12 {
			a += 0.4 * math.Floor(math.Mod(t, 6)/1.5)
		}
		return 20, a
	})
	short, long := draw.New(draw.Options{}), draw.New(draw.Options{})
	add := func(an *draw.Analyser, at, v, a float64) {
		an.Add(&captures.Sample{At: time.Duration(at * 1e9), Volts: v, Amps: a})
	}
	for i := range 3100 {
		at := float64(i) * 0.01
		v, a := f(at)
		add(short, at, v, a)
		add(long, at, v, a)
	}
	quiet := noisy(5, func(float64) (float64, float64) { return 20, 0.01 })
	for i := range 5000 {
		v, a := quiet(0)
		add(long, 36000+float64(i)*0.01, v, a)
	}
	want, got := short.Result(), long.Result()
	n := len(want.Plateaus)
	assert.Equal(t, want.Plateaus, got.Plateaus[:n])
	assert.Len(t, got.Plateaus, n+1)
	assert.Equal(t, want.Spikes, got.Spikes)
	assert.Len(t, got.Pulses, len(want.Pulses))
	assert.Equal(t, want.Pulses[0].PeriodS, got.Pulses[0].PeriodS)
	assert.Equal(t, want.Staircases, got.Staircases)
}

// A draw that ripples by 10 mA at 91 Hz is one steady draw, and a pulse of
// 10 ms on it is still told.
func TestRippleIsNoise(t *testing.T) {
	an := draw.New(draw.Options{})
	for i := range 20_000 {
		a := 1.2 + 0.001*float64(i*9%11)
		if i >= 12_000 && i < 12_010 {
			a += 0.5
		}
		an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: 20, Amps: a})
	}
	r := an.Result()
	require.LessOrEqual(t, len(r.Plateaus), 3)
	assert.InDelta(t, 1.205, *r.Plateaus[0].CurrentA, 0.001)
	assert.InDelta(t, 11.999, r.Plateaus[0].EndS, 0.002)
}

// TestNoiseOfVBUSThatIsUp: nothing is as calm as 0 V, however long it lasts.
func TestNoiseOfVBUSThatIsUp(t *testing.T) {
	plugged := func(atS float64) func(float64) (float64, float64) {
		random := rand.New(rand.NewPCG(7, 8))
		return func(t float64) (float64, float64) {
			if t < atS {
				return 0.001 * random.NormFloat64(), 0
			}
			return 20 + 0.1*random.NormFloat64(), 0.5
		}
	}
	for _, atS := range []float64{0, 30, 55, 59.9} {
		assert.InEpsilon(t, 0.1, rows(60000, 0.001, plugged(atS)).Result().Sampling.NoiseV, 0.2, "plugged in at %g s", atS)
	}
	up := plugged(0)
	assert.InEpsilon(t, 0.1, rows(60000, 0.001, func(t float64) (float64, float64) {
		if t < 10 {
			return up(t)
		}
		_, amps := up(t)
		return 0.001 * math.Sin(1e6*t), amps
	}).Result().Sampling.NoiseV, 0.2, "pulled after 10 s")
	assert.InEpsilon(t, 0.001, rows(60000, 0.001, plugged(60)).Result().Sampling.NoiseV, 0.2, "never")
}
