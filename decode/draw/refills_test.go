package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestRefills: a capacitor of 58 uF takes 1.16 mC at 20 V (C V). It does so alone where a
// switch lets it run empty, and the converter behind it starts later; it is full where the
// converter alone stopped.
func TestRefills(t *testing.T) {
	const charge, round = 1.16e-3, 1.0
	for _, c := range []struct {
		name string
		amps func(t, row float64) float64 // within a round, for rows of this length
		each int                          // refills found each round but the first
	}{
		{"a switch that opens and closes", func(t, row float64) float64 {
			switch {
			case t < 0.5:
				return 0.3 + t
			case t >= 0.7 && t < 0.7+row-1e-9:
				return charge / row
			}
			return 0.005
		}, 1},
		{"a switch behind which the converter's own capacitors fill before it starts", func(t, row float64) float64 {
			switch {
			case t < row-1e-9, t >= 2*row && t < 0.5:
				return 0.3 + t
			case t >= 0.7 && t < 0.7+row-1e-9:
				return charge / row
			}
			return 0.005
		}, 1},
		{"a converter that stops", func(t, _ float64) float64 {
			if t < 0.5 {
				return 0.3 + t
			}
			return 0.005
		}, 0},
		{"a charge that the draw goes on from", func(t, row float64) float64 {
			switch {
			case t < row-1e-9:
				return charge / row
			case t < 0.5:
				return 0.3 + t
			}
			return 0.005
		}, 0},
		{"tries of 14 mC", func(t, _ float64) float64 {
			switch {
			case t < 0.5:
				return 0.3 + t
			case t >= 0.7 && t < 0.72-1e-9:
				return 0.7
			}
			return 0.005
		}, 0},
		{"a charge that a try follows, as in a hiccup", func(t, row float64) float64 {
			switch {
			case t < 0.3:
				return 0.3 + t
			case t >= 0.5 && t < 0.5+row-1e-9, t >= 0.7 && t < 0.7+0.02-1e-9:
				return charge / row
			}
			return 0.005
		}, 0},
		{"a blink of a draw before it", func(t, row float64) float64 {
			switch {
			case t < 0.02-1e-9:
				return 0.3
			case t >= 0.7 && t < 0.7+row-1e-9:
				return charge / row
			}
			return 0.005
		}, 0},
		{"a charge right behind the draw", func(t, row float64) float64 {
			switch {
			case t < 0.5:
				return 0.3 + t
			case t >= 0.51 && t < 0.51+row-1e-9:
				return charge / row
			}
			return 0.005
		}, 0},
		{"a standby between", func(t, row float64) float64 {
			switch {
			case t < 0.5:
				return 0.3 + t
			case t >= 0.7 && t < 0.7+row-1e-9:
				return charge / row
			}
			return 0.08
		}, 0},
	} {
		for _, row := range []float64{0.001, 0.01} {
			r := rows(int(20/row), row, func(t float64) (float64, float64) {
				if t < 1 {
					return 20, 0.005
				}
				return 20, c.amps(math.Mod(t+row/4, round), row)
			}).Result()
			assert.InDelta(t, 19*c.each, len(r.Refills), 1, "%s, rows each %v s", c.name, row)
			for _, x := range r.Refills {
				assert.InDelta(t, charge, x.ChargeC, 0.1e-3, c.name)
			}
		}
	}
}
