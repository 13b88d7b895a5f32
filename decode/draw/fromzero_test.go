package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestFromZero: 20 ohm take 0.25 A at 5 V and 0.05 A at 1 V (Ohm's law); 100 uF on a VBUS
// that rises by 5 V in 20 ms take 25 mA throughout (I = C dV/dt).
func TestFromZero(t *testing.T) {
	const onS, riseS = 1.0, 0.02
	rising := func(amps func(volts float64) float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			v := min(5, max(0, 5*(t-onS)/riseS))
			if v == 0 {
				return 0, 0
			}
			return v, amps(v)
		}
	}
	r := drawn(0.001, 3, rising(func(v float64) float64 { return v / 8 })).FromZero
	assert.Equal(t, 1, r.Count)
	assert.InDelta(t, 8, r.Ohm, 0.1)
	for name, amps := range map[string]func(float64) float64{
		"a capacitor":           func(float64) float64 { return 0.4 },
		"a resistor of 1 kohm":  func(v float64) float64 { return v / 1000 },
		"what starts above 4 V": func(v float64) float64 { return max(0, v-4) },
		"a converter from 2.5 V on": func(v float64) float64 {
			if v < 2.5 {
				return 0
			}
			return 1 / v
		},
	} {
		assert.Zero(t, drawn(0.001, 3, rising(amps)).FromZero.Count, name)
	}
	for name, c := range map[string]struct {
		everyS float64
		amps   func(volts float64) float64
		count  int
	}{
		"two rows on the way, of what stands then": {0.008, func(v float64) float64 { return v / 5 }, 1},
		"of a tenth more":                          {0.008, func(v float64) float64 { return v/5 + 0.02*(5-v) }, 0},
		"of little":                                {0.008, func(v float64) float64 { return v / 20 }, 0},
		"a load that is there from 4 V on":         {0.008, func(v float64) float64 { return max(0, min(1, v-4)) }, 0},
		"none on the way":                          {0.02, func(v float64) float64 { return v / 8 }, 0},
	} {
		assert.Equal(t, c.count, drawn(c.everyS, 3, rising(c.amps)).FromZero.Count, name)
	}
	slow := func(t float64) (float64, float64) { // within a second
		v := min(5, max(0, 5*(t-1)))
		return v, v / 2
	}
	assert.Zero(t, drawn(0.35, 4, slow).FromZero.Count, "rows so far apart: what begins later misses less of them than they scatter")
	quick := func(t float64) (float64, float64) { return slow(1 + 5*(t-1)) }
	assert.Equal(t, 1, drawn(0.1, 4, quick).FromZero.Count, "one row on the way, near enough")
}
