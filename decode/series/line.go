package series

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// Line is y = Intercept + Slope x by least squares, with standard errors.
type Line struct {
	Slope, Intercept     float64
	SlopeSE, InterceptSE float64 // NaN where two points of unknown uncertainty leave no scatter
	ResidualSD           float64 // with n-2 degrees of freedom, in us where these are given; NaN of two points
}

// FitLine fits a line to the points. us are the standard uncertainties of y, nil where
// they are unknown and alike: then the standard errors come from the scatter about the
// line, and else they are never below what the scatter says. ok is false where there are
// fewer than two points, the lengths differ, or all x are equal.
func FitLine(x, y, us []float64) (l Line, ok bool) {
	if len(x) < 2 || len(x) != len(y) || us != nil && len(us) != len(x) {
		return Line{}, false
	}
	var weights []float64
	total := float64(len(x))
	if us != nil {
		weights = make([]float64, len(us))
		for i, u := range us {
			weights[i] = 1 / (u * u)
		}
		total = floats.Sum(weights)
	}
	mean := stat.Mean(x, weights)
	l.Intercept, l.Slope = stat.LinearRegression(x, y, weights, false)
	var spread, squares float64
	for i := range x {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		r := y[i] - l.Intercept - l.Slope*x[i]
		spread += w * (x[i] - mean) * (x[i] - mean)
		squares += w * r * r
	}
	if !(spread > 0) {
		return Line{}, false
	}
	l.ResidualSD = math.NaN()
	if len(x) > 2 {
		l.ResidualSD = math.Sqrt(squares / float64(len(x)-2))
	}
	scale := l.ResidualSD
	if us != nil {
		scale = 1
		if l.ResidualSD > 1 {
			scale = l.ResidualSD
		}
	}
	l.SlopeSE = scale / math.Sqrt(spread)
	l.InterceptSE = scale * math.Sqrt(1/total+mean*mean/spread)
	return l, true
}
