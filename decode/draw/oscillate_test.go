package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOscillation: a sine of 0.5 A about 1.5 A at 5 Hz has a crest each 0.2 s.
func TestOscillation(t *testing.T) {
	swinging := func(hz func(t float64) float64, amplitude float64) func(float64) (float64, float64) {
		phase, last := 0.0, 0.0
		return func(t float64) (float64, float64) {
			if t < 2 {
				return 20, 0.02
			}
			phase += 2 * math.Pi * hz(t) * (t - last)
			last = t
			a := 1.5 + amplitude*math.Sin(phase)
			return 20 - 0.15*a, a
		}
	}
	steady := func(float64) float64 { return 5 }
	for _, everyS := range []float64{0.002, 0.02} {
		o := drawn(everyS, 12, swinging(steady, 0.5)).Oscillation
		require.NotNil(t, o, "each %v s", everyS)
		assert.InDelta(t, 0.2, o.PeriodS, 0.003)
		assert.InDelta(t, 1, o.SwingA, 0.1)
		assert.InDelta(t, 48, o.Count, 3)
		assert.Nil(t, drawn(everyS, 12, swinging(steady, 0.1)).Oscillation, "too little")
		assert.Nil(t, drawn(everyS, 12, swinging(steady, 1.45)).Oscillation, "a draw that stops each time")
		assert.Nil(t, drawn(everyS, 4, swinging(steady, 0.5)).Oscillation, "ten crests")
		assert.Nil(t, drawn(everyS, 12, swinging(func(t float64) float64 { return 2 + 6*math.Abs(math.Sin(3*t)) }, 0.5)).Oscillation, "at no beat")
	}
	assert.Nil(t, drawn(0.2/3, 12, swinging(steady, 0.5)).Oscillation, "three rows a period")
	assert.Nil(t, drawn(0.1, 12, swinging(steady, 0.5)).Oscillation, "two rows a period")
}
