package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestEbbs: a draw of constant power rises as the inverse of VBUS (P = V I). What a source's
// own output holds, 1 mF, is empty within milliseconds at such a draw (Q = C V); its reservoir
// at the mains feeds it for some tens more (common practice).
func TestEbbs(t *testing.T) {
	// sinks falls from 20 V to 11 V within so long, from 5 s on, and is gone then.
	sinks := func(seconds float64) func(float64) float64 {
		return func(t float64) float64 {
			switch {
			case t < 5:
				return 20
			case t < 5+seconds:
				return 20 - 9*(t-5)/seconds
			}
			return 0
		}
	}
	for _, c := range []struct {
		name  string
		volts func(float64) float64
		amps  func(v float64) float64
		ebbs  int
	}{
		{"30 W throughout, within 0.2 s", sinks(0.2), func(v float64) float64 { return 30 / v }, 1},
		{"within 5 ms, as an output runs empty", sinks(0.005), func(v float64) float64 { return 30 / v }, 0},
		{"1.5 A throughout, as a limit holds it", sinks(0.2), func(float64) float64 { return 1.5 }, 0},
		{"4 A once it sinks, as into a short", sinks(0.2), func(v float64) float64 {
			if v < 19.9 {
				return 4
			}
			return 1.5
		}, 0},
		{"30 W, and twice that by 11 V", sinks(0.2), func(v float64) float64 { return 30 / v * (1 + (20-v)/9) }, 0},
		{"30 W, and VBUS stays at 11 V", func(t float64) float64 { return max(11, sinks(0.2)(t)) }, func(v float64) float64 { return 30 / v }, 0},
	} {
		r := rows(10000, 0.001, func(t float64) (float64, float64) {
			v := c.volts(t)
			if v < 1 {
				return 0, 0
			}
			return v, c.amps(v)
		}).Result()
		assert.Len(t, r.Ebbs, c.ebbs, c.name)
	}
}
