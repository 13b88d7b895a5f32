package series

import (
	"math"
	"slices"
)

// MADToSigma turns the median absolute deviation of normal values into their
// standard deviation: 1 over the upper quartile of the standard normal, rounded
// as in Rousseeuw & Croux 1993 and in R, so that published figures come out.
const MADToSigma = 1.4826

// dust is the share of the largest magnitude below which a difference is
// floating-point rounding and no step of the meter.
const dust = 1e-9

// Median is the middle of x, the mean of the two middle values where their
// number is even, and NaN of nothing. x is left as it is.
func Median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Clone(x)
	slices.Sort(s)
	n := len(s)
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

// MAD is the median of x and the median absolute deviation from it, unscaled:
// Rousseeuw & Croux 1993, JASA 88:1273. Both are NaN of nothing.
func MAD(x []float64) (median, deviation float64) {
	median = Median(x)
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = math.Abs(v - median)
	}
	return median, Median(d)
}

// SortedMAD is [MAD] of values in rising order, which it finds without a sort.
func SortedMAD(x []float64) (median, deviation float64) {
	n := len(x)
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	median = (x[(n-1)/2] + x[n/2]) / 2
	// the deviations rise from the middle to both sides: merge these
	down, up := n/2-1, n/2
	var last, before float64
	for range n/2 + 1 {
		before = last
		if down < 0 || (up < n && x[up]-median <= median-x[down]) {
			last = x[up] - median
			up++
		} else {
			last = median - x[down]
			down--
		}
	}
	if n%2 == 1 {
		return median, last
	}
	return median, (before + last) / 2
}

// Sigma is the standard deviation of the noise of x, in its units, from the
// median absolute deviation of its first differences, so that steps and drift
// do not count: von Neumann et al. 1941; Rice 1984, Ann. Stat. 12; Donoho &
// Johnstone 1994, Biometrika 81. It is NaN of fewer than two values, and far
// too small where a meter repeats one value: see [Floored].
func Sigma(x []float64) float64 {
	if len(x) < 2 {
		return math.NaN()
	}
	d := make([]float64, len(x)-1)
	for i := range d {
		d[i] = x[i+1] - x[i]
	}
	_, mad := MAD(d)
	return MADToSigma * mad / math.Sqrt2
}

// Floored is the noise that can be relied on: never below what the resolution
// q leaves, q over the root of twelve (GUM, JCGM 100:2008, F.2.2.1), nor below
// the floor of the instrument.
func Floored(sigma, q, floor float64) float64 {
	least := math.Max(q/math.Sqrt(12), floor)
	if sigma > least {
		return sigma
	}
	return least
}

// Resolution is the smallest step between neighbours of x, the quantum of the
// meter where the values stay near one another; 0 where there is no step.
func Resolution(x []float64) float64 {
	largest := 0.0
	for _, v := range x {
		largest = math.Max(largest, math.Abs(v))
	}
	least := 0.0
	for i := 1; i < len(x); i++ {
		d := math.Abs(x[i] - x[i-1])
		if d > dust*largest && (least == 0 || d < least) {
			least = d
		}
	}
	return least
}
