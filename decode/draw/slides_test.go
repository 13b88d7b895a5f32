package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSlides: a fixed supply is at its new voltage within tSrcSettle, 275 ms (USB PD R3.2
// V1.1, table 7.23), so that VBUS which takes longer follows no contract.
func TestSlides(t *testing.T) {
	to := func(from, to, start, took float64) func(float64) float64 {
		return func(t float64) float64 { return from + (to-from)*min(max(t-start, 0)/took, 1) }
	}
	steady := func(float64) float64 { return 1.5 }
	for _, c := range []struct {
		name        string
		volts, amps func(t float64) float64
		found       bool
	}{
		{"a source that gives way in a second", to(20, 14, 5, 1), steady, true},
		{"a source that gives way in five", to(20, 15, 5, 5), steady, true},
		{"a change of contract as slow as it may be", to(20, 9, 5, 0.275), steady, false},
		{"no further than a cable under load", to(20, 18, 5, 1), steady, false},
		{"5 V that gives way as far as a cable takes it", to(5.1, 4.2, 5, 1), steady, false},
		{"capacitors behind a plug that was pulled", to(20, 3, 5, 2), func(t float64) float64 { return max(0, 1.5-100*max(t-5, 0)) }, false},
		{"a programmable contract that follows its battery down", to(20, 15, 5, 40), steady, false},
		{"a dip that comes back", func(t float64) float64 {
			if t > 5 && t < 5.6 {
				return 18
			}
			return 20
		}, steady, false},
		{"a fall at once after a dip", func(t float64) float64 {
			switch {
			case t > 5 && t < 5.6:
				return 18
			case t > 6:
				return 15
			}
			return 20
		}, steady, false},
	} {
		for _, interval := range []float64{0.001, 0.02} {
			r := rows(int(50/interval), interval, noisy(7, func(t float64) (float64, float64) { return c.volts(t), c.amps(t) })).Result()
			if !c.found {
				assert.Empty(t, r.Slides, "%s, rows each %v s", c.name, interval)
				continue
			}
			require.Len(t, r.Slides, 1, "%s, rows each %v s", c.name, interval)
			s := r.Slides[0]
			assert.InDelta(t, 20, s.FromV, 0.3, c.name)
			assert.InDelta(t, 1.5, s.AtA, 0.02, c.name)
			assert.Greater(t, s.EndS-s.StartS, 0.275, c.name)
		}
	}
}
