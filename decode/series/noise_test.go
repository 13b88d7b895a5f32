package series_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"portside/decode/series"
)

// s1 is a step by 1 with a noise of about 0.02.
var s1 = []float64{0.50, 0.52, 0.51, 0.49, 0.50, 1.50, 1.52, 1.49, 1.51, 1.50, 1.50, 1.48}

func TestSigma(t *testing.T) {
	tests := []struct {
		name   string
		x      []float64
		want   float64
		within float64
		source string
	}{
		{"a step does not count", s1, 0.02096713, 5e-9, "R 4.2.2: mad(diff(x))/sqrt(2)"},
		{"Nile", nile(t), 115.3192, 5e-5, "R 4.2.2: mad(diff(Nile))/sqrt(2)"},
		{"a ramp has no noise", []float64{1, 2, 3, 4, 5}, 0, 0, "by hand: all differences are equal"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.InDelta(t, tt.want, series.Sigma(tt.x), tt.within, tt.source)
		})
	}
	assert.InDelta(t, 0.5130, stat.StdDev(s1, nil), 5e-5, "the plain standard deviation takes the step for noise")
	assert.True(t, math.IsNaN(series.Sigma([]float64{1})))
}

func TestMADToSigma(t *testing.T) {
	assert.InDelta(t, 1/distuv.UnitNormal.Quantile(0.75), series.MADToSigma, 5e-6)
}

func TestSigmaOfNormalNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 20000)
	for i := range x {
		x[i] = 3 + 0.7*r.NormFloat64()
	}
	assert.InDelta(t, stat.StdDev(x, nil), series.Sigma(x), 0.02)
}

func TestMedian(t *testing.T) {
	x := []float64{5, 1, 4, 2, 3}
	assert.Equal(t, 3.0, series.Median(x))
	assert.Equal(t, []float64{5, 1, 4, 2, 3}, x, "left as it is")
	assert.Equal(t, 2.5, series.Median([]float64{4, 1, 3, 2}))
	assert.True(t, math.IsNaN(series.Median(nil)))
	median, mad := series.MAD([]float64{1, 1, 2, 2, 4, 6, 9})
	assert.Equal(t, 2.0, median)
	assert.Equal(t, 1.0, mad)
}

func TestFloored(t *testing.T) {
	tests := []struct {
		name            string
		sigma, q, floor float64
		want            float64
		source          string
	}{
		{"noise above all floors", 0.02, 0.01, 0.001, 0.02, "by hand"},
		{"10 mV steps leave 2.89 mV", 0, 0.010, 0, 0.00288675, "GUM, JCGM 100:2008, F.2.2.1"},
		{"1 mV steps leave 0.289 mV", 0, 0.001, 0, 0.000288675, "GUM, JCGM 100:2008, F.2.2.1"},
		{"the instrument's floor", 6.8e-5, 0, 0.001, 0.001, "common practice: a 1 mA class"},
		{"noise that could not be told", math.NaN(), 0, 0.001, 0.001, "by hand"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.InDelta(t, tt.want, series.Floored(tt.sigma, tt.q, tt.floor), 1e-8, tt.source)
		})
	}
}

func TestResolution(t *testing.T) {
	assert.InDelta(t, 0.01, series.Resolution([]float64{20.1, 20.11, 20.11, 20.3, 20.1}), 1e-9)
	assert.InDelta(t, 0.2, series.Resolution([]float64{0.1 + 0.2, 0.3, 0.5}), 1e-9, "rounding of a float64 is no step")
	assert.Zero(t, series.Resolution([]float64{1, 1, 1}))
	assert.Zero(t, series.Resolution(nil))
}

func TestSigmaKeepsScale(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		x, scaled := make([]float64, 40), make([]float64, 40)
		for i := range x {
			x[i] = r.NormFloat64()
			scaled[i] = 1000*x[i] + 17
		}
		require.InEpsilon(t, 1000*series.Sigma(x), series.Sigma(scaled), 1e-9)
	}
}

// SortedMAD gives to the last digit what two full sorts give.
func TestSortedMAD(t *testing.T) {
	chance := rand.New(rand.NewPCG(3, 4))
	for n := range 60 {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Round(20*chance.NormFloat64()) / 4 // with ties
		}
		wantMedian, want := series.MAD(x)
		slices.Sort(x)
		median, got := series.SortedMAD(x)
		if n == 0 {
			assert.True(t, math.IsNaN(median) && math.IsNaN(got))
			continue
		}
		assert.Equal(t, wantMedian, median, "median of %v", x)
		assert.Equal(t, want, got, "deviation of %v", x)
	}
}
