package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestHum: a rectifier fills its capacitor at each crest of the mains, twice a period, so
// that a source without enough of it sags at 100 or 120 Hz while it is loaded. A load that
// draws at such a beat takes VBUS down where it draws most; it does so by the leads'
// resistance, 0.6 ohm at most for two cables (0.25 ohm: USB Type-C R2.0 section 4.4.1).
func TestHum(t *testing.T) {
	saw := func(hz, t float64) float64 { return 0.5 - math.Mod(t*hz, 1) } // falls, and is filled again
	for _, c := range []struct {
		name        string
		volts, amps func(t float64) float64
		hz          float64
	}{
		{"100 Hz under a draw", func(t float64) float64 { return 19 + 2*saw(100, t) }, func(float64) float64 { return 1.5 }, 100},
		{"120 Hz, and the draw follows it", func(t float64) float64 { return 19 + 2*saw(120, t) }, func(t float64) float64 { return 1.5 + 0.9*saw(120, t) }, 120},
		{"150 Hz", func(t float64) float64 { return 19 + 2*saw(150, t) }, func(float64) float64 { return 1.5 }, 0},
		{"a ripple of 1 %", func(t float64) float64 { return 19 + 0.2*saw(100, t) }, func(float64) float64 { return 1.5 }, 0},
		{"a load that beats hard", func(t float64) float64 { return 19 + 1.6*saw(100, t) }, func(t float64) float64 { return 3 - 3*saw(100, t) }, 0},
		{"a load that beats", func(t float64) float64 { return 19 + 1.2*saw(100, t) }, func(t float64) float64 { return 1.5 - 2*saw(100, t) }, 0},
		{"noise", func(t float64) float64 { return 19 + math.Mod(t*99991.7, 1.6) }, func(float64) float64 { return 1.5 }, 0},
	} {
		r := rows(6000, 0.001, func(t float64) (float64, float64) { return c.volts(t), c.amps(t) }).Result()
		if c.hz == 0 {
			assert.True(t, r.Hum == nil || r.Hum.Windows < 2, c.name)
			continue
		}
		require.NotNil(t, r.Hum, c.name)
		assert.Equal(t, c.hz, r.Hum.Hz, c.name)
		assert.InDelta(t, 2/math.Pi, r.Hum.AmpV, 0.05, "the fundamental of a saw of 2 V from crest to trough: handbook of Fourier series, from memory")
		assert.Greater(t, r.Hum.Windows, 25, c.name)
	}
	// A capacitor that lasts for most of a half period leaves a notch before each crest.
	notch := func(hz, deep, t float64) float64 {
		if math.Mod(t*hz, 1) > 0.9 {
			return -deep
		}
		return 0
	}
	for _, c := range []struct {
		name     string
		hz, deep float64
		amps     func(t float64) float64
		want     float64
	}{
		{"notches of 2 V at 100 Hz", 100, 2, func(float64) float64 { return 2 }, 100},
		{"at 120 Hz", 120, 2, func(float64) float64 { return 2 }, 120},
		{"at 70 Hz", 70, 2, func(float64) float64 { return 2 }, 0},
		{"of 0.3 V, as a sound source's ripple", 100, 0.3, func(float64) float64 { return 2 }, 0},
		{"a load that takes 2 A more at each", 100, 2, func(t float64) float64 { return 2 - notch(100, 2, t) }, 0},
	} {
		r := rows(6000, 0.0005, func(t float64) (float64, float64) { return 20 + notch(c.hz, c.deep, t), c.amps(t) }).Result()
		if c.want == 0 {
			assert.True(t, r.Hum == nil || r.Hum.Windows < 2, c.name)
			continue
		}
		require.NotNil(t, r.Hum, c.name)
		assert.Equal(t, c.want, r.Hum.Hz, c.name)
		assert.Greater(t, r.Hum.Windows, 10, c.name)
	}
	mixed := rows(6000, 0.0005, func(t float64) (float64, float64) {
		if t < 1 {
			return 20 + notch(100, 2, t), 2
		}
		return 20 + notch(87, 2, t), 2
	}).Result()
	assert.True(t, mixed.Hum == nil || mixed.Hum.Windows < 2, "two notches of three at no mains")
	slow := rows(600, 0.01, func(t float64) (float64, float64) { return 19 + 2*saw(97, t), 1.5 }).Result()
	assert.Nil(t, slow.Hum, "rows 10 ms apart show no such beat")
}
