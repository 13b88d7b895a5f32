package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRecurs: a start that stops at the same point, its draw in steps of a second.
func TestRecurs(t *testing.T) {
	steps := func(periodS float64, amps ...float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			if t < 1 {
				return 0, 0
			}
			part := math.Mod(t-1, periodS) / periodS
			return 20, amps[int(part*float64(len(amps)))]
		}
	}
	start := []float64{0.03, 0.2, 0.9, 0.5, 0.7}
	from := func(atS float64, at func(float64) (float64, float64)) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			if v, _ := at(t); t < atS {
				return v, 0.03
			}
			return at(t)
		}
	}
	for _, tt := range []struct {
		name   string
		endS   float64
		at     func(float64) (float64, float64)
		period float64 // s; 0 none
	}{
		{"each 4 s", 60, steps(4, start...), 4},
		{"each 4 s, after a rest of 5 min", 400, from(300, steps(4, start...)), 4},
		{"each 13.5 s", 120, steps(13.5, start...), 0},
		{"four times", 17, steps(4, start...), 0},
		{"by less than 0.15 A", 60, steps(4, 0.03, 0.1, 0.15, 0.06), 0},
		{"a ramp and a plateau", 60, func(t float64) (float64, float64) { return 20, min(1.5, t/20) }, 0},
		{"at no beat", 60, func(t float64) (float64, float64) {
			return 20, 0.5 + 0.4*math.Sin(t*t/7) // faster and faster
		}, 0},
		{"VBUS goes each time", 60, func(t float64) (float64, float64) {
			v, a := steps(4, start...)(t)
			if math.Mod(t-1, 4) < 0.5 {
				v = 0
			}
			return v, a
		}, 0},
		{"VBUS sags to 12 V each time", 60, func(t float64) (float64, float64) {
			v, a := steps(4, start...)(t)
			if math.Mod(t-1, 4) < 0.5 {
				v = 12
			}
			return v, a
		}, 0},
		{"each 4 s, a little more each second time", 60, func(t float64) (float64, float64) {
			v, a := steps(4, start...)(t)
			return v, a * (1 + 0.06*math.Floor(math.Mod(t-1, 8)/4))
		}, 4},
	} {
		for _, everyS := range []float64{0.005, 0.1, 0.4} {
			recurs := drawn(everyS, tt.endS, noisy(3, tt.at)).Recurs
			if tt.period == 0 {
				assert.Empty(t, recurs, "%s, each %v s", tt.name, everyS)
				continue
			}
			require.NotEmpty(t, recurs, "%s, each %v s", tt.name, everyS)
			r := recurs[0]
			assert.InDelta(t, tt.period, r.PeriodS, 0.11, "%s, each %v s", tt.name, everyS)
			assert.Greater(t, r.Likeness, 0.85, tt.name)
			assert.InDelta(t, 0.03, r.LowA, 0.05, tt.name)
			assert.InDelta(t, 0.9, r.HighA, 0.06, tt.name)
		}
	}
	r := drawn(0.1, 60, steps(4, start...)).Recurs[0]
	assert.Equal(t, 14, r.Rounds, "59 s of 4 s")
	assert.InDelta(t, 3.0/5, r.Works, 0.05, "three of five steps")
	assert.InDelta(t, 0.6, r.LowW, 0.01, "30 mA at 20 V")
	slow := drawn(1, 300, steps(8, start...)).Recurs
	require.NotEmpty(t, slow)
	assert.InDelta(t, 8, slow[0].PeriodS, 0.01, "rows of a second")
	assert.Empty(t, drawn(1, 300, steps(4, start...)).Recurs, "four rows of a round tell little of it")
}
