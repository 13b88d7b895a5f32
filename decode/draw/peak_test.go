package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
)

// averaged reads f as a meter does whose rows are means over interval.
func averaged(interval float64, f func(t float64) (v, a float64)) func(t float64) (v, a float64) {
	const parts = 1000
	return func(t float64) (v, a float64) {
		for k := range parts {
			x, y := f(t - interval*(float64(k)+0.5)/parts)
			v, a = v+x/parts, a+y/parts
		}
		return v, a
	}
}

// busySteps is a draw that changes at once, every 0.7337 s.
func busySteps(t float64) (v, a float64) {
	levels := [...]float64{0.3, 1.1, 0.5, 1.9, 0.8, 2.2, 0.4, 1.5}
	return 20, levels[int(math.Max(t, 0)/0.7337)%len(levels)]
}

// Loads that step at once leave a row between two levels where rows are means, and
// none where they are instants.
func TestEdgesTellMeansFromInstants(t *testing.T) {
	cases := []struct {
		name     string
		interval float64
		read     func(interval float64, f func(t float64) (v, a float64)) func(t float64) (v, a float64)
		want     any
	}{
		{"means of a tenth of a second", 0.1, averaged, true},
		{"instants a tenth of a second apart", 0.1, instants, false},
		{"instants of a fast meter", 0.01, instants, false},
		{"a row on the way of a fast meter may be the load's own", 0.01, averaged, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := rows(int(20/c.interval), c.interval, noisy(2, c.read(c.interval, busySteps))).Result().Sampling.Averaging
			if c.want == nil {
				assert.Nil(t, got)
				return
			}
			require.NotNil(t, got)
			assert.Equal(t, c.want, *got)
		})
	}
	few := rows(20, 0.1, noisy(2, busySteps)).Result()
	assert.Nil(t, few.Sampling.Averaging, "two edges tell nothing")
}

func instants(_ float64, f func(t float64) (v, a float64)) func(t float64) (v, a float64) { return f }

// 200 uF from 5 V to 20 V are 3 mC; in 1 ms they are 3 A on top of 0.1 A, which a mean
// of 20 ms shows as 0.15 A. At 30 V/ms (USB PD R3.2 V1.1 table 7.23) they are 6 A.
func TestPeakOfAnAveragedStep(t *testing.T) {
	step := func(t float64) (v, a float64) {
		switch {
		case t < 1.0042:
			return 5, 0.1
		case t < 1.0052:
			return 5 + (t-1.0042)*15e3, 3.1
		}
		return 20, 0.1
	}
	r := rows(200, 0.02, noisy(2, averaged(0.02, step))).Result()
	require.NotNil(t, r.Peak)
	assert.InDelta(t, 0.25, r.Peak.LeastA, 0.02)
	require.NotNil(t, r.Peak.MostA)
	assert.InDelta(t, 6.1, *r.Peak.MostA, 0.8)
	assert.Less(t, 3.1, *r.Peak.MostA)
	assert.Nil(t, r.Peak.Samples)
	moved := r.Retimed(func(t float64) float64 { return t + 100 })
	assert.InDelta(t, r.Peak.TimeS+100, moved.Peak.TimeS, 1e-9)
}

// At attach no limit of the standard holds for the slope.
func TestPeakAtAttachIsBoundedFromBelow(t *testing.T) {
	on := func(t float64) (v, a float64) {
		switch {
		case t < 1.0042:
			return 0, 0
		case t < 1.0052:
			return (t - 1.0042) * 5e3, 1
		}
		return 5, 0
	}
	r := rows(200, 0.02, noisy(2, averaged(0.02, on))).Result()
	require.NotNil(t, r.Peak)
	assert.Nil(t, r.Peak.MostA)
	assert.LessOrEqual(t, r.Peak.LeastA, 1.0)
	var none *draw.Peak
	assert.Equal(t, none, rows(200, 0.02, noisy(2, busySteps)).Result().Peak)
}

// A charge that still flows where VBUS has arrived is the end of one that an instant
// caught: 1.5 mC (100 uF from 5 to 20 V) read as a tenth to a third of it.
func TestTheEndOfAChargeIsNotTheCharge(t *testing.T) {
	charged := func(interval, tau, from float64) *draw.Quantity {
		return rows(int(3/interval), interval, func(t float64) (float64, float64) {
			if t < from {
				return 5, 0
			}
			gone := math.Exp(-(t - from) / tau)
			a := 100e-6 * 15 / tau * gone
			if t > from+0.3 {
				a = 0.03
			}
			return 20 - 15*gone, a
		}).Result().Measured.InrushChargeC
	}
	for _, from := range []float64{0.9963, 0.9967, 0.9971} {
		q := charged(0.01, 0.0008, from)
		require.NotNil(t, q)
		assert.Nil(t, q.Uncertainty, "%g C", q.Value)
	}
	for _, from := range []float64{1.00001, 1.00005, 1.00009} { // rows of 0.1 ms
		q := charged(0.0001, 0.001, from)
		require.NotNil(t, q)
		assert.InDelta(t, 0.0015, q.Value, 0.0001)
	}
}
