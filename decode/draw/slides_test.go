package draw_test

import (
	"math"
	"math/rand/v2"
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
		{"a sag under a growing draw, and then a fall at once", func(t float64) float64 {
			switch {
			case t > 7:
				return 2
			case t > 5:
				return 20 - 0.6*(t-5)
			}
			return 20
		}, steady, false},
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

// TestHeldDown: what takes current from VBUS below 2.8 V is a short. Converters lock out
// at 3.6 V and above (data sheet SLUSE65A), PPS ends at 3 V (USB PD R3.0 V1.1, table 10-8).
func TestHeldDown(t *testing.T) {
	for _, c := range []struct {
		name  string
		after func(s float64) (v, a float64) // from the fall on
		held  bool
	}{
		{"a source that limits its current into a short", func(s float64) (float64, float64) {
			if s < 0.03 {
				return 0.6, 3.2
			}
			return 0, 0
		}, true},
		{"a source that trips", func(s float64) (float64, float64) { return max(0, 20-4000*s), max(0, 1-300*s) }, false},
		{"a source that gives way while its current flows", func(s float64) (float64, float64) { x := max(0, 1-s/0.02); return 20 * x * x, 1.5 * math.Ceil(x) }, false},
		{"a lead that opens", func(float64) (float64, float64) { return 0, 0 }, false},
		{"rows that are means of a draw and of none", func(s float64) (float64, float64) {
			if s < 0.01 {
				return 2, 0.1
			}
			return 0, 0
		}, false},
		{"a source that limits its current into 1 ohm", func(s float64) (float64, float64) {
			if s < 0.03 {
				return 3.85, 3.7
			}
			return 0, 0
		}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rows(6000, 0.001, func(t float64) (float64, float64) {
				if t < 5 {
					return 20, 1
				}
				return c.after(t - 5)
			}).Result()
			require.Len(t, r.Collapses, 1)
			fall := r.Collapses[0]
			if !c.held {
				assert.Zero(t, fall.HeldA)
				return
			}
			assert.InDelta(t, 3.45, fall.HeldA, 0.26)
			assert.Less(t, fall.HeldV, 4.0)
		})
	}
}

// TestDips: a contact that opens and closes takes VBUS down and gives it back while the
// draw goes on; a worn one has 40 mohm (USB Type-C R2.0, section 3.7.8.1).
func TestDips(t *testing.T) {
	each := func(period, long, deep float64) func(float64) float64 {
		return func(t float64) float64 {
			if k := math.Mod(t, period); t > period && k < long {
				return deep
			}
			return 0
		}
	}
	for _, c := range []struct {
		name string
		dip  func(t float64) float64 // ohm more
		amps func(t float64) float64
		want int
	}{
		{"0.5 ohm for 0.3 s, each 5 s", each(5, 0.3, 0.5), func(float64) float64 { return 1.5 }, 9},
		{"the converter behind takes more then", each(5, 0.3, 0.5), func(t float64) float64 { return 1.5 * (1 + 2*each(5, 0.3, 0.02)(t)) }, 9},
		{"a sound contact", each(5, 0.3, 0.04), func(float64) float64 { return 1.5 }, 0},
		{"a load that comes and goes behind a sound cable", func(float64) float64 { return 0 }, func(t float64) float64 { return 1 + 2*each(5, 0.3, 1)(t) }, 0},
		{"hardly any draw", each(5, 0.3, 0.5), func(float64) float64 { return 0.2 }, 0},
		{"one that stays", func(t float64) float64 { return 0.5 * min(1, math.Floor(t/20)) }, func(float64) float64 { return 1.5 }, 0},
	} {
		for _, interval := range []float64{0.001, 0.1} {
			r := rows(int(50/interval), interval, noisy(3, func(t float64) (float64, float64) {
				a := c.amps(t)
				return 20 - (0.15+c.dip(t))*a, a
			})).Result()
			require.Len(t, r.Dips, c.want, "%s, rows each %v s", c.name, interval)
			for _, d := range r.Dips {
				assert.InDelta(t, 0.5, (d.FromV-d.ToV)/d.AtA, 0.06, c.name)
			}
		}
	}
}

// A meter whose noise grows with its reading opens no contact, though the log begins with
// a quiet stretch without power (1 % of the reading: common practice).
func TestNoiseOfTheReadingIsNoDip(t *testing.T) {
	for _, interval := range []float64{0.001, 0.01, 0.05} {
		for seed := range uint64(5) {
			random := rand.New(rand.NewPCG(seed, 9))
			loud := rows(int(30/interval), interval, func(t float64) (float64, float64) {
				if t < 10 {
					return 0, 0.001
				}
				return math.Round(20000*(1+0.01*random.NormFloat64())) / 1000, math.Round(1500*(1+0.01*random.NormFloat64())) / 1000
			}).Result()
			assert.Empty(t, loud.Dips, "rows of %g s, seed %d", interval, seed)
		}
	}
}

// A programmable supply that goes down and up again by 1.2 V in three seconds takes its
// time on the way; a contact opens at once.
func TestASupplyThatWalksIsNoDip(t *testing.T) {
	for _, interval := range []float64{0.001, 0.01} {
		walks := rows(int(60/interval), interval, noisy(4, func(t float64) (float64, float64) {
			v := math.Round((9+0.6*math.Sin(t))/0.02) * 0.02
			return v, 18 / v
		})).Result()
		assert.Empty(t, walks.Dips, "rows of %g s", interval)
	}
}

// TestHeldBriefly: a source that latches within 2 ms of a short leaves few rows of it, at one voltage
// and one current; what runs empty moves. Common practice.
func TestHeldBriefly(t *testing.T) {
	for _, c := range []struct {
		name   string
		everyS float64
		rows   []float64 // VBUS, at 1.6 A
		held   bool
	}{
		{"three rows of 0.5 ms at 0.4 V", 0.0005, []float64{0.42, 0.41, 0.41}, true},
		{"two", 0.0005, []float64{0.42, 0.41}, false},
		{"two rows of 1 ms", 0.001, []float64{0.42, 0.41}, false},
		{"two rows of 1 ms, and one on the way down", 0.001, []float64{2.4, 0.42, 0.41}, false},
		{"three on the way down", 0.0005, []float64{2.4, 1.6, 0.8}, false},
	} {
		r := rows(int(5/c.everyS), c.everyS, func(t float64) (float64, float64) {
			switch i := int((t - 3) / c.everyS * 1.0000001); {
			case t < 3:
				return 5.1, 0.01
			case i < len(c.rows):
				return c.rows[i], 1.6
			case t < 4:
				return 0, 0
			}
			return 5.1, 0.01
		}).Result()
		require.Len(t, r.Collapses, 1, c.name)
		assert.Equal(t, c.held, r.Collapses[0].HeldA > 0, c.name)
	}
}

// TestHeldInOneRow: 3.4 A for 10 ms are 34 mC, more than the 20 mC of 1 mF at 20 V (C V):
// the output of a source that tripped holds less.
func TestHeldInOneRow(t *testing.T) {
	for _, c := range []struct {
		name string
		amps float64
		held bool
	}{
		{"a row of 34 mC", 3.4, true},
		{"a row of 12 mC", 1.2, false},
	} {
		r := rows(600, 0.01, func(t float64) (float64, float64) {
			switch {
			case t < 3:
				return 20, 0.01
			case t < 3.0099:
				return 0.7, c.amps
			}
			return 20, 0.01
		}).Result()
		require.Len(t, r.Collapses, 1, c.name)
		assert.Equal(t, c.held, r.Collapses[0].HeldA > 0, c.name)
	}
}
