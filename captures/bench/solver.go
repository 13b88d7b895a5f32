package bench

import "math"

// The circuit is stiff: microseconds in the filters, hours in the battery. An
// L-stable singly diagonally implicit Runge-Kutta method of order 2 (Alexander
// 1977) takes long steps in quiet and short ones where something moves.
const (
	sdirkGamma = 1 - math.Sqrt2/2
	newtonMax  = 12
	minStepS   = 1e-9
	firstStepS = 2e-6 // after every event
	maxGrowth  = 3.0
)

// Tolerances of one step, absolute, by state.
var stepTolerance = state{1e-4, 1e-4, 1e-4, 1e-4, 2e-4, 1e-3}

const relativeTolerance = 1e-4

// step is one accepted step: the new state, its stages and the weights with
// which a flow integrates over the step exactly as the states do.
type step struct {
	y      state
	t1, t2 float64 // times of the stages
	y1     state   // first stage; the second is y
	h      float64
	failed bool
	err    float64 // in units of the tolerance
}

type system func(t float64, y *state) state

// try takes one step of length h without accepting it.
func try(f system, t float64, y *state, h, tolerance float64) step {
	s := step{h: h, t1: t + sdirkGamma*h, t2: t + h}
	lu, ok := factor(f, s.t1, y, sdirkGamma*h)
	if !ok {
		s.failed = true
		return s
	}
	y1, ok := solveStage(f, lu, s.t1, y, y, sdirkGamma*h, tolerance)
	if !ok {
		s.failed = true
		return s
	}
	k1 := scaled(&y1, y, 1/(sdirkGamma*h))
	base := *y
	for i := range base {
		base[i] += (1 - sdirkGamma) * h * k1[i]
	}
	y2, ok := solveStage(f, lu, s.t2, &base, &y1, sdirkGamma*h, tolerance)
	if !ok {
		s.failed = true
		return s
	}
	k2 := scaled(&y2, &base, 1/(sdirkGamma*h))
	// Against the first-order result y + h·k1, damped by the step's matrix so
	// that decayed stiff parts do not count.
	var difference state
	for i := range difference {
		difference[i] = sdirkGamma * h * (k2[i] - k1[i])
	}
	lu.solve(&difference)
	s.y1, s.y = y1, y2
	s.err = norm(&difference, &y2) / tolerance
	return s
}

func scaled(a, b *state, by float64) state {
	var out state
	for i := range out {
		out[i] = (a[i] - b[i]) * by
	}
	return out
}

func norm(e, y *state) float64 {
	var worst float64
	for i := range e {
		worst = max(worst, math.Abs(e[i])/(stepTolerance[i]+relativeTolerance*math.Abs(y[i])))
	}
	return worst
}

// solveStage finds x with x = base + a·f(t, x) by Newton's method.
func solveStage(f system, lu *factored, t float64, base, guess *state, a, tolerance float64) (state, bool) {
	x := *guess
	for n := range newtonMax {
		d := f(t, &x)
		var r state
		for i := range r {
			r[i] = base[i] + a*d[i] - x[i]
		}
		lu.solve(&r)
		for i := range x {
			x[i] += r[i]
		}
		if norm(&r, &x) < 0.01*tolerance {
			return x, true
		}
		if n%4 == 3 { // a kink was passed: take the slopes anew
			var ok bool
			if lu, ok = factor(f, t, &x, a); !ok {
				return x, false
			}
		}
	}
	return x, false
}

// factored is the LU decomposition of I − a·J.
type factored struct {
	m     [stateSize][stateSize]float64
	pivot [stateSize]int
}

// factor builds and decomposes I − a·J with slopes taken by differences.
func factor(f system, t float64, y *state, a float64) (*factored, bool) {
	lu := new(factored)
	d0 := f(t, y)
	for j := range stateSize {
		moved := *y
		delta := 1e-6 * (1 + math.Abs(y[j]))
		moved[j] += delta
		d := f(t, &moved)
		for i := range stateSize {
			lu.m[i][j] = -a * (d[i] - d0[i]) / delta
		}
		lu.m[j][j]++
	}
	return lu, lu.decompose()
}

func (lu *factored) decompose() bool {
	m := &lu.m
	for k := range stateSize {
		p := k
		for i := k + 1; i < stateSize; i++ {
			if math.Abs(m[i][k]) > math.Abs(m[p][k]) {
				p = i
			}
		}
		lu.pivot[k] = p
		m[k], m[p] = m[p], m[k]
		if m[k][k] == 0 || math.IsNaN(m[k][k]) {
			return false
		}
		for i := k + 1; i < stateSize; i++ {
			m[i][k] /= m[k][k]
			for j := k + 1; j < stateSize; j++ {
				m[i][j] -= m[i][k] * m[k][j]
			}
		}
	}
	return true
}

func (lu *factored) solve(b *state) {
	for k := range stateSize {
		p := lu.pivot[k]
		b[k], b[p] = b[p], b[k]
	}
	for i := 1; i < stateSize; i++ {
		for j := range i {
			b[i] -= lu.m[i][j] * b[j]
		}
	}
	for i := stateSize - 1; i >= 0; i-- {
		for j := i + 1; j < stateSize; j++ {
			b[i] -= lu.m[i][j] * b[j]
		}
		b[i] /= lu.m[i][i]
	}
}

// nextLength proposes the length of the next step from the error of the last.
func nextLength(h, err float64) float64 {
	if err <= 0 {
		return h * maxGrowth
	}
	return h * min(maxGrowth, max(0.2, 0.9/math.Sqrt(err)))
}
