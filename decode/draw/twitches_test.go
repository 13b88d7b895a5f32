package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestTwitches: what a source drives into a short behind the meter flows through it, 0.5 V
// into 0.1 ohm are 5 A (Ohm's law); what it drives into one before it does not.
func TestTwitches(t *testing.T) {
	every := func(volts, amps, upS float64) func(float64) (float64, float64) {
		return func(at float64) (float64, float64) {
			if s := math.Mod(at, 1.2); s > 0.5 && s < 0.5+upS {
				return volts, amps
			}
			return 0.01, 0
		}
	}
	for name, c := range map[string]struct {
		everyS           float64
		volts, amps, upS float64
		count            int
	}{
		"0.5 V and nothing flows":       {0.001, 0.5, 0, 0.03, 5},
		"in rows of 20 ms":              {0.02, 0.5, 0, 0.03, 5},
		"and 5 A flow":                  {0.001, 0.5, 5, 0.03, 0},
		"and a mean of 40 mA":           {0.02, 0.5, 0.04, 0.03, 0},
		"VBUS comes up":                 {0.001, 5.1, 0, 0.03, 0},
		"a meter's zero is off by 0.15": {0.001, 0.15, 0, 0.03, 0},
	} {
		r := drawn(c.everyS, 6, every(c.volts, c.amps, c.upS)).Twitches
		assert.Equal(t, c.count, r.Count, name)
	}
}
