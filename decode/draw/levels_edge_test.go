package draw_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A source that turns off and on again each second takes 20 ms on its way up and 30 ms
// down (tVBUSON and tVBUSOFF are 275 and 650 ms at most: USB Type-C R2.1, tables 4-29 to 4-31).
// However fast the rows come, VBUS has two levels, and what lies between is none.
func TestAnEdgeIsNoLevel(t *testing.T) {
	cycle := func(t float64) (float64, float64) {
		switch k := math.Mod(t, 1); {
		case k < 0.02:
			return 5.1 * k / 0.02, 0.01
		case k < 0.5:
			return 5.1, 0.01
		case k < 0.53:
			return 5.1 * (0.53 - k) / 0.03, 0
		}
		return 0, 0
	}
	for _, hz := range []float64{50, 200, 1000, 10000} {
		r := rows(int(10*hz), 1/hz, noisy(5, cycle)).Result()
		odd := 0
		for _, l := range r.Levels {
			if l.NominalV != 0 && l.NominalV != 5 {
				odd++
			}
		}
		assert.Zero(t, odd, "%g Hz", hz)
		assert.InDelta(t, 20, len(r.Levels), 2, "%g Hz", hz)
	}
}

// The mean of a second in which VBUS goes away is no scatter of the level: common practice.
func TestTheLastRowOfALevelIsNoScatter(t *testing.T) {
	leaving := func(t float64) (float64, float64) {
		switch {
		case t < 3, t > 40.5:
			return 0, 0
		case t > 39.5:
			return 17.7, 0.8
		}
		return 20.4, 0.9
	}
	r := rows(50, 1, noisy(5, leaving)).Result()
	for _, l := range r.Levels {
		assert.Less(t, l.SpreadV, 0.05, "%g to %g s", l.StartS, l.EndS)
	}
}

// TestOddLevelThroughNoise: 16.6 V is no fixed voltage, and stands however it is read.
func TestOddLevelThroughNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	levels := rows(20000, 0.0005, func(t float64) (float64, float64) {
		if t < 2 {
			return 0, 0
		}
		return 16.6 * (1 + 0.01*random.NormFloat64()), 0.01
	}).Result().Levels
	long := 0.0
	for _, l := range levels {
		long = max(long, l.EndS-l.StartS)
	}
	assert.Greater(t, long, 7.5, "of 8 s")

	both := 0 // 8 % apart, of noise of 1.4 %
	for _, l := range rows(20000, 0.0005, func(t float64) (float64, float64) {
		volts := 16.6
		if t > 5 {
			volts = 17.9
		}
		return volts * (1 + 0.014*random.NormFloat64()), 0.01
	}).Result().Levels {
		if l.EndS-l.StartS > 1 && (math.Abs(l.VoltageV-16.6) < 0.3 || math.Abs(l.VoltageV-17.9) < 0.3) {
			both++
		}
	}
	assert.GreaterOrEqual(t, both, 2)

	for _, l := range rows(120, 1, func(float64) (float64, float64) { return 6 + 5*random.Float64(), 0.01 }).Result().Levels {
		assert.Less(t, l.EndS-l.StartS, 10.0, "VBUS that stands nowhere")
	}
}
