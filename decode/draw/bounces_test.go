package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestBounces: a contact that opens leaves the capacitors behind it to feed the draw, and they
// take C dV at once when it closes; an input switch fills them in milliseconds, and a
// converter comes back by a ramp (common practice).
func TestBounces(t *testing.T) {
	// gone is 0.5 A that is 2 mA for so long, four times, and comes back as given.
	gone := func(offS float64, back func(since float64) float64) func(float64) float64 {
		return func(t float64) float64 {
			for _, at := range []float64{1, 1.7, 3.1, 4.2} {
				switch {
				case t >= at && t < at+0.0004:
					return 0.08 // a row that the draw ends in
				case t >= at && t < at+offS:
					return 0.002
				case t >= at+offS && t < at+offS+0.2:
					return back(t - at - offS)
				}
			}
			return 0.5
		}
	}
	hard := func(since float64) float64 {
		if since < 0.0009 {
			return 4
		}
		return 0.5
	}
	for _, c := range []struct {
		name    string
		everyS  float64
		amps    func(float64) float64
		bounces int
	}{
		{"for 6 ms, and a charge of 4 A", 0.0005, gone(0.006, hard), 4},
		{"for 40 ms", 0.0005, gone(0.04, hard), 4},
		{"for 0.4 s, as something that tries again", 0.0005, gone(0.4, hard), 0},
		{"by a ramp of 20 ms", 0.0005, gone(0.006, func(since float64) float64 { return min(0.5, 25*since) }), 0},
		{"by 0.7 A for 20 ms", 0.0005, gone(0.006, func(since float64) float64 {
			if since < 0.02 {
				return 0.7
			}
			return 0.5
		}), 0},
		{"by 0.7 A, and half of it a millisecond later", 0.0005, gone(0.006, func(since float64) float64 {
			if since < 0.0009 {
				return 0.7
			}
			return 0.3
		}), 0},
		{"in rows of 10 ms, which show no such charge", 0.01, gone(0.04, hard), 0},
	} {
		r := rows(int(6/c.everyS), c.everyS, func(t float64) (float64, float64) { return 20, c.amps(t) }).Result()
		assert.Len(t, r.Bounces, c.bounces, c.name)
		for _, b := range r.Bounces {
			rest := b.OffS/c.everyS - 1
			assert.InDelta(t, (0.08+0.002*rest)/(rest+1), b.LeftA, 0.0015, c.name)
		}
	}
}
