package draw_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/draw"
)

// climbing is a search for a source's limit: 0.5 A, then 64 mA more each
// 0.5 s. Source: open embedded-controller firmware, input current ramp.
func climbing(t float64) float64 { return 0.5 + 0.064*math.Floor(t/0.5) }

func TestStaircases(t *testing.T) {
	for _, c := range []struct {
		name   string
		amps   func(t float64) float64
		found  bool
		resets int
		check  func(t *testing.T, s draw.Staircase)
	}{
		{"collapses and begins again", func(t float64) float64 {
			if k := math.Mod(t, 7.5); k < 7 {
				return climbing(k)
			}
			return 0.02
		}, true, 7, func(t *testing.T, s draw.Staircase) {
			require.NotNil(t, s.PeriodS)
			assert.InDelta(t, 7.5, *s.PeriodS, 0.02)
			assert.Equal(t, 13, s.Steps)
		}},
		{"backs off and stays", func(t float64) float64 {
			if t < 7 {
				return climbing(t)
			}
			return climbing(6.9) - 0.128
		}, true, 0, func(t *testing.T, s draw.Staircase) {
			require.NotNil(t, s.SettledA)
			assert.InDelta(t, climbing(6.9)-0.128, *s.SettledA, 0.003)
			assert.False(t, s.Collapsed)
		}},
		{"a converter's soft start of 4 ms a step", func(t float64) float64 { return 0.1 + 0.03*math.Floor(min(max(t-1, 0), 0.2)/0.004) }, false, 0, nil},
		{"steps of 30 mA at 2.6 A, which a draw strays by", func(t float64) float64 {
			if t < 30 {
				return 2.6 + 0.03*math.Floor(t/4)
			}
			return 0.3
		}, false, 0, nil},
		{"a ramp has no steps", func(t float64) float64 { return 0.1 + 0.05*t }, false, 0, nil},
		{"a booting machine is irregular", func(t float64) float64 {
			return []float64{0.1, 0.4, 0.45, 0.9, 1.0, 1.6, 1.2, 0.7, 0.9, 1.4, 1.5, 2.1}[int(t/5)%12]
		}, false, 0, nil},
		{"an exponential fall", func(t float64) float64 { return 0.2 + 2*math.Exp(-t/15) }, false, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rows(3000, 0.02, noisy(5, func(t float64) (float64, float64) {
				a := c.amps(t)
				return 20.1 - 0.1*a, a
			})).Result()
			if !c.found {
				assert.Empty(t, r.Staircases)
				return
			}
			require.Len(t, r.Staircases, 1)
			s := r.Staircases[0]
			assert.InDelta(t, 0.064, s.StepA, 0.001)
			assert.InDelta(t, 0.5, s.DwellS, 0.02)
			assert.Equal(t, c.resets, s.Resets)
			c.check(t, s)
			require.NotNil(t, r.Measured.SeriesResistanceOhm)
			assert.InDelta(t, 0.1, r.Measured.SeriesResistanceOhm.Value, 0.003)
		})
	}
}

// 20 V over a loop of 179 milliohm at four currents. Worked by hand from the
// rows (0.10 A, 20.02 V), (0.95, 19.87), (1.90, 19.70), (3.00, 19.50): the
// slope is -179.34 milliohm.
func TestSeriesResistance(t *testing.T) {
	a := []float64{0.10, 0.95, 1.90, 3.00}
	v := []float64{20.02, 19.87, 19.70, 19.50}
	r := rows(4000, 0.01, func(t float64) (float64, float64) { return v[int(t/10)], a[int(t/10)] }).Result()
	require.NotNil(t, r.Measured.SeriesResistanceOhm)
	assert.InDelta(t, 0.17934, r.Measured.SeriesResistanceOhm.Value, 0.0005)
	require.NotNil(t, r.Measured.SeriesResistanceOhm.Uncertainty)
}

// A leak of 50 ohm draws 0.1 A at 5 V and 0.4 A at 20 V; constant power of
// 1 W draws 0.2 A and 0.05 A.
func TestLoadExponent(t *testing.T) {
	for _, c := range []struct {
		name        string
		at5, at20   float64
		exponent    float64
		ohm         float64
		leakClaimed bool
	}{
		{"leak", 0.1, 0.4, 1, 50, true},
		{"constant power", 0.2, 0.05, -1, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rows(2000, 0.01, noisy(2, func(t float64) (float64, float64) {
				if t < 5 {
					return 5, c.at5
				}
				return 20, c.at20
			})).Result()
			require.NotNil(t, r.Measured.LoadExponent)
			assert.InDelta(t, c.exponent, r.Measured.LoadExponent.Value, 0.02)
			if !c.leakClaimed {
				assert.Nil(t, r.Measured.LeakResistanceOhm)
				return
			}
			require.NotNil(t, r.Measured.LeakResistanceOhm)
			assert.InDelta(t, c.ohm, r.Measured.LeakResistanceOhm.Value, 1)
		})
	}
	one := rows(1000, 0.01, noisy(2, func(float64) (float64, float64) { return 20, 0.4 })).Result()
	assert.Nil(t, one.Measured.LoadExponent, "one voltage only")
}

// A logger of 1 to 20 samples a second, each the mean since the one before it.
// A step may hold one sample, and only the collapses tell it from a ramp. At 1
// sample a second two steps are one.
func TestStaircaseOnASlowMeter(t *testing.T) {
	for _, c := range []struct{ hz, step, dwell float64 }{{1, 0.128, 1}, {2, 0.064, 0.5}, {4, 0.064, 0.5}, {10, 0.064, 0.5}, {20, 0.064, 0.5}} {
		t.Run(fmt.Sprint(c.hz), func(t *testing.T) {
			r := rows(int(90*c.hz), 1/c.hz, noisy(5, func(at float64) (float64, float64) {
				sum := 0.0
				for k := range 20 {
					if p := math.Mod(at-float64(k)/20/c.hz, 9.3); p >= 1.3 {
						sum += climbing(p - 1.3)
					}
				}
				return 5, sum / 20
			})).Result()
			require.Len(t, r.Staircases, 1)
			s := r.Staircases[0]
			assert.InDelta(t, c.step, s.StepA, 0.004)
			assert.InDelta(t, c.dwell, s.DwellS, 0.05)
			assert.LessOrEqual(t, s.Resets, 9)
			assert.GreaterOrEqual(t, s.Resets, 6, "a climb whose steps two samples blur is not counted")
			require.NotNil(t, s.PeriodS)
			assert.InDelta(t, 9.3, *s.PeriodS, 0.4)
		})
	}
}

// The charge current comes up evenly and stays: no climb in steps, whatever
// the meter makes of it.
func TestSlowRampIsNoStaircase(t *testing.T) {
	for _, hz := range []float64{1, 2, 5, 10, 100} {
		for _, pace := range []float64{0.1, 0.3, 3} {
			r := rows(int(60*hz), 1/hz, noisy(4, func(t float64) (float64, float64) {
				return 20, math.Min(0.1+math.Max(0, t-3)*pace, 3)
			})).Result()
			assert.Empty(t, r.Staircases, "%g samples a second, %g A/s", hz, pace)
		}
	}
}

// A fast meter sees the ramp to the foot of a climb sample by sample. It is no
// part of the steps: 64 mA each 0.4 s from 0.7 A, open laptop embedded-controller
// firmware.
func TestRampToTheFootOfAClimb(t *testing.T) {
	an := draw.New(draw.Options{})
	at := 0.0
	put := func(a float64) {
		an.Add(&captures.Sample{At: time.Duration(at * float64(time.Second)), Volts: 5, Amps: math.Round(a*100) / 100})
		at += 0.02
	}
	for range 4 {
		for range 50 {
			put(0.08)
		}
		for i := range 15 {
			put(0.12 + 0.04*float64(i))
		}
		for i := range 12 {
			for range 20 {
				put(0.71 + 0.064*float64(i))
			}
		}
	}
	r := an.Result()
	require.Len(t, r.Staircases, 1)
	s := r.Staircases[0]
	assert.Equal(t, 3, s.Resets)
	assert.InDelta(t, 0.064, s.StepA, 0.004)
	assert.InDelta(t, 0.4, s.DwellS, 0.03)
}
