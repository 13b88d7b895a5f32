package series_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"portside/decode/series"
)

// Montgomery & Runger, Applied Statistics and Probability for Engineers, table
// 16-8: target 99, K = 1, H = 10.
func TestCUSUMOfTheTextbook(t *testing.T) {
	x := []float64{102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0}
	upper := []float64{2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0}
	lower := []float64{0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0}
	c := series.CUSUM{Target: 99, K: 1, H: 10}
	for i, v := range x {
		up, down, alarm := c.Add(v)
		assert.InDelta(t, upper[i], up, 1e-9, "row %d", i+1)
		assert.InDelta(t, lower[i], down, 1e-9, "row %d", i+1)
		assert.False(t, alarm)
	}
}

func TestCUSUMFindsASmallStep(t *testing.T) {
	c := series.CUSUM{K: 0.5, H: 2}
	want := []float64{0, 0, 0, 0, 0, 0.7, 1.1, 1.7, 2.0, 2.5} // by hand
	first := 0
	for i, v := range []float64{.1, -.2, 0, .3, -.1, 1.2, .9, 1.1, .8, 1.0} {
		up, _, alarm := c.Add(v)
		assert.InDelta(t, want[i], up, 1e-9)
		if alarm && first == 0 {
			first = i + 1
		}
	}
	// 0.8 and 0.5 are no binary fractions, so the sum may fall a hair short of
	// H at value 9 and must be over it at value 10.
	assert.Contains(t, []int{9, 10}, first)
	c.Reset()
	up, down, alarm := c.Add(0)
	assert.Zero(t, up)
	assert.Zero(t, down)
	assert.False(t, alarm)
}

// Average run lengths by R spc 0.6.7, xcusum.arl(0.5, h, mu, sided = "two").
func TestCUSUMRunLength(t *testing.T) {
	tests := []struct{ h, mu, want float64 }{{4, 0, 167.6838}, {4, 1, 8.383132}, {5, 1, 10.37597}}
	for _, tt := range tests {
		r := rand.New(rand.NewPCG(11, uint64(tt.h)))
		var lengths []float64
		for range 4000 {
			c := series.CUSUM{K: 0.5, H: tt.h}
			n := 0.0
			for alarm := false; !alarm; n++ {
				_, _, alarm = c.Add(tt.mu + r.NormFloat64())
			}
			lengths = append(lengths, n)
		}
		se := stat.StdDev(lengths, nil) / math.Sqrt(float64(len(lengths)))
		assert.InDelta(t, tt.want, stat.Mean(lengths, nil), 4*se, "h %g shift %g", tt.h, tt.mu)
	}
}

func TestDTW(t *testing.T) {
	tests := []struct {
		name   string
		a, b   []float64
		want   float64
		source string
	}{
		{"stretched", []float64{0, 1, 2, 3, 2, 0}, []float64{0, 0, 1, 2, 3, 3, 2, 1}, 1, "npm dynamic-time-warping 1.0.0 and dtw 0.0.3, both 1"},
		{"stairs of other lengths", []float64{0, 0, 5, 5, 20, 20, 20}, []float64{0, 5, 5, 5, 20, 20}, 0, "the same"},
		{"half a unit off", []float64{1, 2, 3, 3, 1}, []float64{1, 2, 2, 2, 3, 1.5}, 0.5, "the same"},
		{"one value each", []float64{3}, []float64{5}, 2, "by hand"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := series.DTW(tt.a, tt.b, 0)
			require.True(t, ok)
			assert.InDelta(t, tt.want, got, 1e-12, tt.source)
			back, _ := series.DTW(tt.b, tt.a, 0)
			assert.InDelta(t, got, back, 1e-12, "symmetric")
			banded, ok := series.DTW(tt.a, tt.b, 0.5)
			require.True(t, ok)
			assert.InDelta(t, tt.want, banded, 1e-12, "a wide band changes nothing")
		})
	}
	_, ok := series.DTW(nil, []float64{1}, 0)
	assert.False(t, ok)
}

// By hand: the pulse may move by one place within a band of 10 % of ten values,
// so at two places of distance it costs its height twice.
func TestDTWBand(t *testing.T) {
	a := []float64{0, 0, 0, 0, 1, 0, 0, 0, 0, 0}
	b := []float64{0, 0, 0, 0, 0, 1, 0, 0, 0, 0}
	c := []float64{0, 0, 0, 0, 0, 0, 1, 0, 0, 0}
	near, _ := series.DTW(a, b, 0.1)
	far, _ := series.DTW(a, c, 0.1)
	free, _ := series.DTW(a, c, 0)
	assert.Zero(t, near)
	assert.Equal(t, 2.0, far)
	assert.Zero(t, free)
}

// A band always leaves a path, however unlike the lengths.
func TestDTWBandLeavesAPath(t *testing.T) {
	for n := 1; n < 30; n++ {
		for m := 1; m < 30; m++ {
			d, ok := series.DTW(make([]float64, n), make([]float64, m), 0.001)
			require.True(t, ok)
			require.Zero(t, d, "%d against %d", n, m)
		}
	}
}

func TestFitLine(t *testing.T) {
	tests := []struct {
		name                  string
		x, y                  []float64
		slope, intercept      float64
		slopeSE, residual     float64
		within                float64
		source                string
		slopeWithin, seWithin float64
	}{
		{
			name: "VBUS against current", x: []float64{0.10, 0.95, 1.90, 3.00}, y: []float64{20.02, 19.87, 19.70, 19.50},
			slope: -0.17934, intercept: 20.0393, slopeSE: 0.00085, residual: 0.00184,
			slopeWithin: 5e-6, within: 5e-5, seWithin: 5e-6, source: "by hand, by the normal equations",
		},
		{
			name: "two clocks", x: []float64{10, 70, 130, 190}, y: []float64{12.503, 72.506, 132.509, 192.512},
			slope: 1.00005, intercept: 2.5025, slopeSE: 0, residual: 0,
			slopeWithin: 1e-9, within: 1e-7, seWithin: 1e-9, source: "by hand: 3 ms more each 60 s",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l, ok := series.FitLine(tt.x, tt.y, nil)
			require.True(t, ok)
			assert.InDelta(t, tt.slope, l.Slope, tt.slopeWithin, tt.source)
			assert.InDelta(t, tt.intercept, l.Intercept, tt.within, tt.source)
			assert.InDelta(t, tt.slopeSE, l.SlopeSE, tt.seWithin, tt.source)
			assert.InDelta(t, tt.residual, l.ResidualSD, tt.seWithin, tt.source)
		})
	}
	two, ok := series.FitLine([]float64{0.10, 3.00}, []float64{20.02, 19.50}, nil)
	require.True(t, ok)
	assert.InDelta(t, -0.17931, two.Slope, 5e-6)
	assert.True(t, math.IsNaN(two.SlopeSE), "two points leave no scatter")
	_, ok = series.FitLine([]float64{1, 1}, []float64{1, 2}, nil)
	assert.False(t, ok)
	_, ok = series.FitLine([]float64{1, 2}, []float64{1}, nil)
	assert.False(t, ok)
}

// The standard errors say how far fits of noisy lines scatter.
func TestFitLineErrorsAreHonest(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 13))
	var slopes, intercepts, slopeVar, interceptVar []float64
	for range 3000 {
		x, y := make([]float64, 12), make([]float64, 12)
		for i := range x {
			x[i] = float64(i)
			y[i] = 4 - 0.3*x[i] + 0.5*r.NormFloat64()
		}
		l, _ := series.FitLine(x, y, nil)
		slopes, intercepts = append(slopes, l.Slope), append(intercepts, l.Intercept)
		slopeVar = append(slopeVar, l.SlopeSE*l.SlopeSE)
		interceptVar = append(interceptVar, l.InterceptSE*l.InterceptSE)
	}
	assert.InEpsilon(t, stat.Variance(slopes, nil), stat.Mean(slopeVar, nil), 0.1)
	assert.InEpsilon(t, stat.Variance(intercepts, nil), stat.Mean(interceptVar, nil), 0.1)
}

// Points of known uncertainty: one of half the uncertainty counts as four, and two points
// state what theirs leave open.
func TestFitLineWithUncertainties(t *testing.T) {
	weighted, ok := series.FitLine([]float64{0, 1, 2}, []float64{0, 1.2, 1.9}, []float64{0.1, 0.05, 0.1})
	require.True(t, ok)
	repeated, _ := series.FitLine([]float64{0, 1, 1, 1, 1, 2}, []float64{0, 1.2, 1.2, 1.2, 1.2, 1.9}, nil)
	assert.InDelta(t, repeated.Slope, weighted.Slope, 1e-12)
	assert.InDelta(t, repeated.Intercept, weighted.Intercept, 1e-12)
	two, ok := series.FitLine([]float64{1, 3}, []float64{5, 6}, []float64{0.3, 0.4})
	require.True(t, ok)
	assert.InDelta(t, 0.5, two.Slope, 1e-12)
	assert.InDelta(t, 0.25, two.SlopeSE, 1e-12, "the root of 0.3² + 0.4² over 2, by hand")
	loud, _ := series.FitLine([]float64{0, 1, 2, 3}, []float64{0, 3, 0, 3}, []float64{0.1, 0.1, 0.1, 0.1})
	bare, _ := series.FitLine([]float64{0, 1, 2, 3}, []float64{0, 3, 0, 3}, nil)
	assert.InDelta(t, bare.SlopeSE, loud.SlopeSE, 1e-12, "more scatter than stated: it decides")
}

func TestPeriod(t *testing.T) {
	median, mad, ok := series.Period([]float64{2.0, 2.5, 3.0, 3.6, 4.0, 4.5, 5.0})
	require.True(t, ok)
	assert.InDelta(t, 0.5, median, 1e-12, "by hand: .5 .5 .6 .4 .5 .5")
	assert.InDelta(t, 0, mad, 1e-12)
	_, _, ok = series.Period([]float64{1, 2})
	assert.False(t, ok)
}
