package series

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Line is y = Intercept + Slope x by ordinary least squares, with standard
// errors from the scatter about it.
type Line struct {
	Slope, Intercept     float64
	SlopeSE, InterceptSE float64 // NaN where two points leave no scatter
	ResidualSD           float64 // with n-2 degrees of freedom; NaN of two points
}

// FitLine fits a line to the points. ok is false where there are fewer than
// two, the lengths differ, or all x are equal.
func FitLine(x, y []float64) (l Line, ok bool) {
	n := float64(len(x))
	if len(x) < 2 || len(x) != len(y) {
		return Line{}, false
	}
	mean := stat.Mean(x, nil)
	var spread, squares float64
	for _, v := range x {
		spread += (v - mean) * (v - mean)
	}
	if !(spread > 0) {
		return Line{}, false
	}
	l.Intercept, l.Slope = stat.LinearRegression(x, y, nil, false)
	for i := range x {
		r := y[i] - l.Intercept - l.Slope*x[i]
		squares += r * r
	}
	if len(x) == 2 {
		l.SlopeSE, l.InterceptSE, l.ResidualSD = math.NaN(), math.NaN(), math.NaN()
		return l, true
	}
	l.ResidualSD = math.Sqrt(squares / (n - 2))
	l.SlopeSE = l.ResidualSD / math.Sqrt(spread)
	l.InterceptSE = l.ResidualSD * math.Sqrt(1/n+mean*mean/spread)
	return l, true
}
