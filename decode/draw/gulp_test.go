package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
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
		{"while VBUS rises, as its own capacitors take it", rising, pulse(1, 0.002, 0.1, 0.003), 0},
		{"while VBUS rises, and more than its own may take", rising, pulse(1, 0.002, 0.5, 0.003), 1},
		{"while VBUS rises, and the rest of it behind the rise", rising, func(t float64) float64 {
			return pulse(1, 0.001, 0.5, 0)(t) + pulse(1.08, 0.001, 0.5, 0.003)(t)
		}, 1},
		{"while VBUS rises, and then a try of 0.2 s", rising, func(t float64) float64 {
			return pulse(1, 0.002, 0.5, 0)(t) + pulse(1.08, 0.2, 0.5, 0.003)(t)
		}, 0},
		{"while VBUS rises, and it goes on", rising, pulse(1, 5, 0.5, 0.003), 0},
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

// A row of 20 ms holds the charge, and VBUS is as good as there in the one before it.
func TestGulpOfSlowRows(t *testing.T) {
	charge := func(peakA float64) []draw.Gulp {
		return rows(100, 0.02, func(t float64) (float64, float64) {
			switch row := math.Round(t / 0.02); {
			case row < 50:
				return 5, 0.002
			case row < 58:
				return 5 + 14.8*(row-49)/8, 0.002
			case row == 58:
				return 20, peakA
			}
			return 20, 0.003
		}).Result().Gulps
	}
	assert.Len(t, charge(0.044), 1) // 0.84 mC, as 42 uF take at 20 V
	assert.Empty(t, charge(0.0215)) // 0.39 mC: cSnkBulk twice, USB Type-C R2.4 table 4-3
}

func standing(float64) float64 { return 20 }

// rising leaves 5 V at 0.95 s, for 20 V a tenth of a second later: 10 uF (cSnkBulk, USB Type-C R2.4
// table 4-3) take 0.15 mC of it.
func rising(t float64) float64 { return min(20, 5+15*max(0, t-0.95)/0.1) }

// pulse is a draw above a rest.
func pulse(at, seconds, amps, rest float64) func(float64) float64 {
	return func(t float64) float64 {
		if t >= at-1e-9 && t < at+seconds-1e-9 {
			return amps
		}
		return rest
	}
}
