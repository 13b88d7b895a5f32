package draw

import (
	"math"

	"portside/decode/series"
)

const (
	walkSegments = 8    // steady draws of one level; fewer lie on a line by chance
	walkShare    = 0.05 // of the voltage, by which it has to move: a source and its cable move it by less, common practice
	walkScatter  = 0.03 // of the draw, about the law: more is another state of the load
	steepest     = -1.3 // a converter has -1; where VBUS moves by the draw alone, it is -V/RI, far below
	walkPoints   = 256
)

// walk keeps the steady draws of one level, for a supply that moves within it: PPS, AVS, or
// a source that gives way by itself.
type walk struct {
	v, a   []float64
	every  int // one steady draw in so many is kept
	passed int
}

func (w *walk) add(volts, amps float64) {
	if w.every == 0 {
		w.every = 1
	}
	w.passed++
	if w.passed%w.every != 0 || volts <= 0 || amps < leastPulseA {
		return
	}
	if len(w.v) == walkPoints { // every second one stays
		half := w.v[:0]
		halfA := w.a[:0]
		for i := 1; i < walkPoints; i += 2 {
			half, halfA = append(half, w.v[i]), append(halfA, w.a[i])
		}
		w.v, w.a, w.every = half, halfA, 2*w.every
	}
	w.v, w.a = append(w.v, volts), append(w.a, amps)
}

// exponent is the slope of ln I on ln V over what the level's voltage did. A draw that
// rises with it is left out: whoever asks a supply for more may draw more by himself.
func (w *walk) exponent() (slope, u float64, ok bool) {
	if len(w.v) < walkSegments {
		return 0, 0, false
	}
	x, y := make([]float64, len(w.v)), make([]float64, len(w.v))
	low, high := math.Inf(1), 0.0
	for i := range w.v {
		x[i], y[i] = math.Log(w.v[i]), math.Log(w.a[i])
		low, high = min(low, w.v[i]), max(high, w.v[i])
	}
	if high-low < walkShare*high {
		return 0, 0, false
	}
	l, ok := series.FitLine(x, y, nil)
	if !ok || l.ResidualSD > walkScatter || l.Slope < steepest || l.Slope > leakExponent {
		return 0, 0, false
	}
	return l.Slope, math.Hypot(l.SlopeSE, bendShare/math.Log(high/low)), true
}
