package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestSteers: PPS moves VBUS in steps of 20 mV from 3.3 to 21 V as the sink asks, within
// tPpsSrcTransLarge of 0.275 s (USB PD R3.2 V1.1 table 7.23). A lead
// only takes from what its source gives, and a fixed supply stands within 5 % of its voltage
// (table 7.25).
func TestSteers(t *testing.T) {
	// held gives each voltage for 4 s, and then the last.
	held := func(volts ...float64) func(float64) float64 {
		return func(t float64) float64 { return volts[min(len(volts)-1, int(t/4))] }
	}
	still := func(float64) float64 { return 2 }
	for _, c := range []struct {
		name  string
		volts func(float64) float64
		amps  func(float64) float64
		steps int
		falls int
	}{
		{"up and down about 10 V", held(9.8, 8.6, 9.2, 10.2, 8.9), still, 4, 0},
		{"up from 7.9 V", held(7.9, 8.0, 8.12, 8.1, 8.3, 8.5, 8.7), still, 5, 0}, // 20 mV of drift is none
		{"a contact under 9 V, now good, now bad", held(8.9, 7.9, 8.9, 8.3, 8.9, 7.7), still, 0, 2},
		{"a contact that heals in two steps", held(8.2, 8.6, 8.95), still, 0, 0},
		{"a source that climbs beyond 21 V", held(20.2, 20.6, 21, 21.4, 21.8, 22.2, 22.6), still, 0, 0},
		{"steps that the draw takes in a lead", held(10.2, 10, 10.2, 10, 10.2, 10), func(t float64) float64 { return 1 + float64(int(t/4)%2) }, 0, 0},
		{"steps that the draw takes in a poor one", held(10.2, 9.8, 10.2, 9.8, 10.2, 9.8), func(t float64) float64 { return 1 + float64(int(t/4)%2) }, 0, 0},
		{"steps down alone, as a source that tires", held(10.4, 10.2, 10, 9.8, 9.6), still, 0, 0},
		{"steps of 90 mV between which VBUS drifts by half of that", func(t float64) float64 {
			return 9.9 + 0.045*math.Mod(t, 4)/4 + 0.09*float64(int(t/4)%2)
		}, still, 0, 0},
		{"without a draw", held(9.8, 8.6, 9.2, 10.2, 8.9), func(float64) float64 { return 0.05 }, 0, 0},
		{"a voltage that swings slowly", func(t float64) float64 { return 9.9 + 0.4*math.Sin(t) }, still, 0, 0},
	} {
		for _, everyS := range []float64{0.002, 0.1, 0.5} {
			r := rows(int(28/everyS), everyS, func(t float64) (float64, float64) { return c.volts(t), c.amps(t) }).Result()
			assert.Len(t, r.Steers, c.steps, "%s, a row each %g s", c.name, everyS)
			assert.Len(t, r.Collapses, c.falls, "%s, a row each %g s", c.name, everyS)
		}
	}
}
