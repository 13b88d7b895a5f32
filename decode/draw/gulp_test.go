package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestGulps: 50 uF take 1 mC at 20 V (C V), in 2 ms 0.5 A.
func TestGulps(t *testing.T) {
	for _, c := range []struct {
		name  string
		volts func(t float64) float64
		amps  func(t float64) float64
		want  int
	}{
		{"a charge at 1 s, and nothing after it", standing, pulse(1, 0.002, 0.5, 0.003), 1},
		{"at a standby of 40 mA", standing, pulse(1, 0.002, 0.5, 0.04), 1},
		{"a draw that begins", standing, pulse(1, 5, 0.5, 0.003), 0},
		{"a try of 0.1 s", standing, pulse(1, 0.1, 0.5, 0.003), 0},
		{"0.08 mC", standing, pulse(1, 0.001, 0.08, 0.003), 0},
		{"while VBUS rises, as its own capacitors take it", func(t float64) float64 { return min(20, 6+14*max(0, t-0.95)/0.1) }, pulse(1, 0.002, 0.5, 0.003), 0},
		{"at 5 V", func(float64) float64 { return 5 }, pulse(1, 0.002, 0.5, 0.003), 0},
		{"in a working draw", standing, pulse(1, 0.002, 1.5, 1), 0},
	} {
		r := rows(3000, 0.001, func(t float64) (float64, float64) { return c.volts(t), c.amps(t) }).Result()
		assert.Len(t, r.Gulps, c.want, c.name)
		for _, g := range r.Gulps {
			assert.InDelta(t, 1e-3, g.ChargeC, 0.15e-3, c.name)
			assert.InDelta(t, 1, g.TimeS, 0.002, c.name)
		}
	}
}

func standing(float64) float64 { return 20 }

// pulse is a draw above a rest.
func pulse(at, seconds, amps, rest float64) func(float64) float64 {
	return func(t float64) float64 {
		if t >= at-1e-9 && t < at+seconds-1e-9 {
			return amps
		}
		return rest
	}
}
