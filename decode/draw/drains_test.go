package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestDrains: 30 mA empty 1 mF by 30 V each second (C V = I t), and 3 mA by 3 V; a Hard Reset may take
// VBUS down as fast, but it ends within tSafe0V, 0.65 s, whatever is drawn (USB PD R3.2 V1.1 table 7.25).
func TestDrains(t *testing.T) {
	const beginS, offS = 3.0, 3.8
	// going falls by so many volts each second, at first and once less is drawn, and is off then.
	going := func(fast, slow, before, less float64) func(float64) (float64, float64) {
		lessS := beginS + min(0.3, 12/fast)
		return func(t float64) (float64, float64) {
			switch {
			case t < beginS:
				return 20, 1.5
			case t < lessS:
				return 20 - fast*(t-beginS), before
			case t < offS:
				return 20 - fast*(lessS-beginS) - slow*(t-lessS), less
			}
			return 0, 0
		}
	}
	resistor := func(t float64) (float64, float64) { // of 30 ohm across 10 mF, and 30 mA that end
		switch {
		case t < beginS:
			return 20, 1.5
		case t < 3.3:
			return 20 * math.Exp(-(t-beginS)/0.3), 0.03
		case t < 4:
			return 20 * math.Exp(-(t-beginS)/0.3), 0.003
		}
		return 0, 0
	}
	lower := func(t float64) (float64, float64) { // a new contract, which ends
		switch {
		case t < beginS:
			return 20, 1.5
		case t < 3.5:
			return 20 - 30*(t-beginS), 0.03
		case t < 5:
			return 5, 0.003
		}
		return 0, 0
	}
	for _, tt := range []struct {
		name string
		at   func(float64) (float64, float64)
		want int
	}{
		{"30 V/s under 30 mA, and 3 V/s under 3 mA", going(30, 3, 0.03, 0.003), 1},
		{"as fast once less is drawn, as where the source takes it down", going(30, 21, 0.03, 0.003), 0},
		{"a resistor takes it down", resistor, 0},
		{"down to 5 V, which stands", lower, 0},
		{"nothing drawn, as with a plug that is pulled", going(30, 3, 0, 0), 0},
		{"half of the draw goes on", going(30, 3, 0.03, 0.017), 0},
		{"under 0.5 A, which may trip a source", going(40, 3, 0.5, 0.003), 0},
		{"as into 0.1 mF, less than a source has", going(300, 30, 0.03, 0.003), 0},
		{"by a quarter of a volt, and then more slowly", going(7.5, 0.75, 0.03, 0.003), 0},
		{"after a rise of half a second", func(t float64) (float64, float64) {
			if t < 2 {
				return min(20, max(0, 5+30*(t-1))), 0
			}
			return going(30, 3, 0.03, 0.003)(t)
		}, 1},
		{"what has stood for 0.2 s only", func(t float64) (float64, float64) {
			if t < beginS-0.2 {
				return 0, 0
			}
			return going(30, 3, 0.03, 0.003)(t)
		}, 0},
		{"it comes back on the way", func(t float64) (float64, float64) {
			if t > 3.6 && t < 5 {
				return 20, 1.5
			}
			return going(30, 3, 0.03, 0.003)(t)
		}, 0},
	} {
		for _, everyS := range []float64{0.001, 0.02} {
			drains := drawn(everyS, 10, tt.at).Drains
			assert.Len(t, drains, tt.want, "%s, each %v s", tt.name, everyS)
			for _, d := range drains {
				assert.InDelta(t, beginS, d.StartS, 0.03, tt.name)
				assert.InDelta(t, 20, d.FromV, 0.2, tt.name)
				assert.InDelta(t, 0.03, d.AtA, 0.001, tt.name)
			}
		}
	}
	assert.Empty(t, drawn(0.1, 10, going(30, 3, 0.03, 0.003)).Drains, "three rows of a fall tell little")
}
