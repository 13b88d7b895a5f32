package draw_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
)

// drawn is a log of a waveform, everyS apart.
func drawn(everyS, endS float64, at func(t float64) (volts, amps float64)) *draw.Result {
	return rows(int(endS/everyS), everyS, at).Result()
}

// TestRunOuts: 20 mA empty 1 mF by 20 V in 1 s (C V = I t); tSafe0V is 0.65 s (USB PD R3.2
// V1.1, table 7.25).
func TestRunOuts(t *testing.T) {
	falling := func(beginS, takesS, before, after float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			switch {
			case t < beginS:
				return 20, before
			case t < beginS+takesS:
				return 20 * (1 - (t-beginS)/takesS), after
			}
			return 0, 0
		}
	}
	// emptied sags from 20 to 18 V in 10 ms, from a draw of 2 A, and then takes as long without one.
	emptied := func(amps, takesS, toV float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			switch {
			case t < 3:
				return 20, 2
			case t < 3.01:
				return 20 - 200*(t-3), amps
			case t < 3.01+takesS && toV == 0:
				return 18 * (1 - (t-3.01)/takesS), 0.005
			}
			return toV, 0.005
		}
	}
	tests := []struct {
		name string
		at   func(float64) (float64, float64)
		want int
	}{
		{"1 s under 40 mA", falling(3, 1, 0.04, 0.04), 1},
		{"0.4 s, as after a Hard Reset", falling(3, 0.4, 0.04, 0.04), 0},
		{"1 s, and the draw ends first, as with a plug that is pulled", falling(3, 1, 0.04, 0), 0},
		{"1 s, and most of the draw ends first", falling(3, 1, 0.1, 0.025), 0},
		{"under 2 A, which may trip a source", falling(3, 1, 2, 2), 0},
		{"sags by 2 V under 2 A for 10 ms, the machine lets go, and it falls on for 0.6 s", emptied(2, 0.6, 0), 1},
		{"the same in 0.1 s, as a source takes its output down", emptied(2, 0.1, 0), 0},
		{"the same, and it comes back", emptied(2, 0.6, 20), 0},
		{"sags under a quarter of the draw, as once a plug is pulled", emptied(0.5, 0.6, 0), 0},
		{"sags under three times the draw, as a short does to it", emptied(6, 0.6, 0), 0},
		{"what has stood for 0.2 s only", falling(0.2, 1, 0.04, 0.04), 0},
		{"it comes back on the way", func(t float64) (float64, float64) {
			if t > 3 && t < 3.6 {
				return 20 - 20*(t-3), 0.04
			}
			return 20, 0.04
		}, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, everyS := range []float64{0.001, 0.02} {
				if everyS > 0.015 && strings.HasPrefix(tt.name, "sags by") {
					continue // a row that long mixes the sag with what follows
				}
				assert.Len(t, drawn(everyS, 10, tt.at).RunOuts, tt.want, "each %v s", everyS)
			}
		})
	}
}

// TestHunts: a sine of 2 V about 18 V turns twice in each of its periods.
func TestHunts(t *testing.T) {
	swinging := func(amplitude, periodS, amps float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) { return 18 + amplitude*math.Sin(2*math.Pi*t/periodS), amps }
	}
	for _, everyS := range []float64{0.001, 0.1} {
		hunts := drawn(everyS, 10, swinging(2, 2, 0.03)).Hunts
		require.Len(t, hunts, 1)
		assert.InDelta(t, 10, hunts[0].Turns, 1)
		assert.InDelta(t, 16, hunts[0].LowV, 0.05)
		assert.InDelta(t, 20, hunts[0].HighV, 0.05)
		assert.Empty(t, drawn(everyS, 10, swinging(0.5, 2, 0.03)).Hunts, "within a window")
		assert.Empty(t, drawn(everyS, 10, swinging(2, 2, 2)).Hunts, "under a load that may do it")
		assert.Empty(t, drawn(everyS, 3, swinging(2, 2, 0.03)).Hunts, "three turns")
	}
	// A converter takes its power whatever VBUS is; a contact takes from 20 V and gives nothing to it.
	converter := func(openV, amplitude, watts float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			v := openV + amplitude*math.Sin(math.Pi*t)
			return v, watts / v
		}
	}
	for _, everyS := range []float64{0.001, 0.1} {
		hunts := drawn(everyS, 10, converter(20, 3, 24)).Hunts
		require.Len(t, hunts, 1)
		assert.InDelta(t, 24, hunts[0].AtW, 0.1)
		assert.InDelta(t, 23, hunts[0].HighV, 0.05)
		assert.Empty(t, drawn(everyS, 7.5, converter(20, 3, 24)).Hunts, "seven or eight turns")
		assert.Empty(t, drawn(everyS, 10, converter(17, 3, 24)).Hunts, "from 14 V to 20 V: a contact")
		assert.Empty(t, drawn(everyS, 10, func(t float64) (float64, float64) {
			v, a := converter(20, 3, 24)(t)
			return v, a * (1 + 0.2*math.Sin(5*t))
		}).Hunts, "a draw that does not keep its power")
	}
	assert.Empty(t, drawn(0.001, 10, func(t float64) (float64, float64) {
		if t < 1 {
			return 18, 0.03
		}
		return swinging(2, 2, 2)(t)
	}).Hunts, "under a load that begins, and may do it")
	assert.Empty(t, drawn(0.001, 5.5, func(t float64) (float64, float64) {
		swing := func(t float64) (float64, float64) { return converter(20, 3, 24)(4 * t) } // four turns a second
		switch {
		case t < 1.625:
			return swing(t)
		case t < 3.625: // it stands at the top
			return 23, 12.0 / 23
		}
		return swing(t - 2)
	}).Hunts, "half of the draw goes in between")
	assert.Empty(t, drawn(1, 60, func(t float64) (float64, float64) { return 20 - 8*math.Mod(t, 2), 0.02 }).Hunts, "rows that are means of VBUS and none")
}

// TestFollows: 40 ohm take 0.225 A at 9 V and 0.5 A at 20 V (Ohm's law), 1 W of a converter
// beside it 0.11 and 0.05 A more.
func TestFollows(t *testing.T) {
	step := func(draws func(volts, t float64) float64) []draw.Follow {
		return drawn(0.01, 8, func(t float64) (float64, float64) {
			v := 20.0
			switch {
			case t < 3:
				v = 9
			case t < 3.1:
				v = 9 + 110*(t-3)
			}
			return v, draws(v, t)
		}).Follows
	}
	got := step(func(v, _ float64) float64 { return v / 40 })
	require.Len(t, got, 1)
	assert.InDelta(t, 1, got[0].Exponent, 0.02)
	got = step(func(v, _ float64) float64 { return v/40 + 1/v })
	require.Len(t, got, 1)
	assert.InDelta(t, math.Log(0.55/0.336)/math.Log(20/9.0), got[0].Exponent, 0.02)
	got = step(func(v, _ float64) float64 { return v / 360 })
	require.Len(t, got, 1, "25 mA at 9 V")
	assert.InDelta(t, 1, got[0].Exponent, 0.02)
	assert.Empty(t, step(func(v, _ float64) float64 { return v / 600 }), "15 mA at 9 V, as a controller takes")
	assert.Empty(t, step(func(v, _ float64) float64 { return 0.022 + v/400 }), "27 mA more, of which an error may be a part")
	assert.Empty(t, step(func(v, _ float64) float64 { return 3 / v }), "a converter")
	assert.Empty(t, step(func(v, t float64) float64 {
		if t > 2.9 && t < 3.3 {
			return 0.05
		}
		return v / 40
	}), "a machine that lets go of its load before the step")
	assert.Empty(t, step(func(_, t float64) float64 {
		if t > 3.1 {
			return 0.45
		}
		return 0.225
	}), "a machine that takes up its load once VBUS is there")
	assert.Empty(t, step(func(v, t float64) float64 { return 0.25 + 0.02*math.Sin(40*t)*v }), "a draw that is not steady")
}

// TestFollowsAtOnce: a step within 10 ms leaves no row on the way that tells a resistor from a
// load that is taken up; what fills 125 uF at 0.8 V/ms takes 0.1 A on the way (I = C dV/dt).
func TestFollowsAtOnce(t *testing.T) {
	step := func(everyS, lastsS float64, draws func(volts, t float64) float64) []draw.Follow {
		return drawn(everyS, 6, func(t float64) (float64, float64) {
			v := 9 + 11*min(1, max(0, (t-3)/lastsS))
			return v, draws(v, t)
		}).Follows
	}
	leak := func(v, _ float64) float64 { return v / 60 }
	for _, c := range []struct {
		name           string
		everyS, lastsS float64
		draws          func(volts, t float64) float64
		found, atOnce  bool
	}{
		{"ten rows on the way", 0.01, 0.1, leak, true, false},
		{"none", 0.02, 0.001, leak, true, true},
		{"none, in rows of 0.1 s", 0.1, 0.001, leak, false, false},
		{"fourteen rows, and capacitors fill", 0.001, 0.014, func(v, t float64) float64 {
			if v > 9 && v < 20 {
				return v/60 + 0.1
			}
			return v / 60
		}, true, false},
		{"as much as the leak takes on top, and more", 0.001, 0.014, func(v, t float64) float64 {
			if v > 9 && v < 20 {
				return v/60 + 0.4
			}
			return v / 60
		}, false, false},
	} {
		got := step(c.everyS, c.lastsS, c.draws)
		if assert.Equal(t, c.found, len(got) == 1, "%s: %v", c.name, got) && c.found {
			assert.Equal(t, c.atOnce, got[0].AtOnce, c.name)
		}
	}
	for lasts, want := range map[float64]int{0.1: 1, 0.05: 0} { // of 5 V, between the attach and the contract
		got := drawn(0.005, 4, func(t float64) (float64, float64) {
			v := 0.0
			if t >= 1 {
				v = 5 + 4*min(1, max(0, (t-1-lasts)/0.05))
			}
			return v, v / 60
		}).Follows
		assert.Len(t, got, want, "5 V for %g s", lasts)
	}
}

// TestRecoveries: a source that gives way by 1.2 V and comes back with a time constant of
// 0.3 s is 0.79 V up after 0.32 s (1 - 1/e^1.07); a lead of 0.4 ohm gives its 0.4 V back at
// once (Ohm's law).
func TestRecoveries(t *testing.T) {
	const works, each = 1.0, 3.0
	tests := []struct {
		name string
		at   func(since float64, drawing bool) (volts, amps float64)
		want int
	}{
		{"a source that gave way", func(since float64, drawing bool) (float64, float64) {
			if drawing {
				return 20 - 1.2*since, 1
			}
			return 20 - 1.2*math.Exp(-since/0.3), 0.05
		}, 4}, // the log ends in the last
		{"a lossy lead", func(_ float64, drawing bool) (float64, float64) {
			if drawing {
				return 18.8, 1
			}
			return 20, 0.05
		}, 0},
		{"a contract that changes", func(since float64, drawing bool) (float64, float64) {
			if drawing {
				return 15, 1
			}
			return min(20, 15+17*since), 0.05
		}, 0},
		{"two steps up, as of two leads", func(since float64, drawing bool) (float64, float64) {
			switch {
			case drawing:
				return 18.8, 1
			case since < 0.5:
				return 19.4, 0.1
			}
			return 20, 0.05
		}, 0},
		{"a draw that fades, and its drop with it", func(since float64, drawing bool) (float64, float64) {
			amps := 1.0
			if !drawing {
				amps = max(0.05, 1-since)
			}
			return 20 - 0.4*amps, amps
		}, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, everyS := range []float64{0.002, 0.1} {
				r := drawn(everyS, 10.5, func(at float64) (float64, float64) {
					in := math.Mod(at, each)
					if in < works {
						return tt.at(in, true)
					}
					return tt.at(in-works, false)
				})
				assert.Len(t, r.Recovers, tt.want, "each %v s", everyS)
			}
		})
	}
}

// TestRecoversThroughNoise: of 2000 rows one lies 3.5 standard deviations off (normal table), either
// way. A source at 20 V that is read to 1 % comes back by nothing of it.
func TestRecoversThroughNoise(t *testing.T) {
	source := func(dropV float64) func(float64) (float64, float64) {
		random := rand.New(rand.NewPCG(1, 2))
		return func(t float64) (float64, float64) {
			volts, amps := 20.0, 0.05
			switch since := math.Mod(t, 2); {
			case since < 1:
				volts, amps = 19.9, 1
			default:
				volts -= dropV * max(0, 1-(since-1)/0.5)
			}
			return volts * (1 + 0.01*random.NormFloat64()), amps
		}
	}
	for _, everyS := range []float64{0.05, 0.1, 0.02} {
		assert.Empty(t, drawn(everyS, 120, source(0)).Recovers, "each %g s", everyS)
	}
	assert.NotEmpty(t, drawn(0.1, 60, source(2.5)).Recovers)
}
