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

// solver takes steps of a system. slopes gives its Jacobian where the system
// knows a shorter way than [system.slopes]. The rest is working space.
type solver struct {
	f      system
	slopes func(t float64, y *state, j *matrix)

	lu    factored // of the step
	fresh factored // of a stage that passed a kink
	x     state
}

type matrix [stateSize][stateSize]float64

// try takes one step of length h without accepting it.
func (v *solver) try(t float64, y *state, h, tolerance float64) step {
	s := step{h: h, t1: t + sdirkGamma*h, t2: t + h}
	if !v.factor(&v.lu, s.t1, y, sdirkGamma*h) {
		s.failed = true
		return s
	}
	y1, ok := v.solveStage(s.t1, y, y, sdirkGamma*h, tolerance)
	if !ok {
		s.failed = true
		return s
	}
	k1 := scaled(&y1, y, 1/(sdirkGamma*h))
	base := *y
	for i := range base {
		base[i] += (1 - sdirkGamma) * h * k1[i]
	}
	y2, ok := v.solveStage(s.t2, &base, &y1, sdirkGamma*h, tolerance)
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
	v.lu.solve(&difference)
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
func (v *solver) solveStage(t float64, base, guess *state, a, tolerance float64) (state, bool) {
	x, lu := &v.x, &v.lu
	*x = *guess
	for n := range newtonMax {
		d := v.f(t, x)
		var r state
		for i := range r {
			r[i] = base[i] + a*d[i] - x[i]
		}
		lu.solve(&r)
		for i := range x {
			x[i] += r[i]
		}
		if norm(&r, x) < 0.01*tolerance {
			return *x, true
		}
		if n%4 == 3 { // a kink was passed: take the slopes anew
			lu = &v.fresh
			if !v.factor(lu, t, x, a) {
				return *x, false
			}
		}
	}
	return *x, false
}

// factored is the LU decomposition of I − a·J.
type factored struct {
	m     matrix
	pivot [stateSize]int
}

// factor builds and decomposes I − a·J.
func (v *solver) factor(lu *factored, t float64, y *state, a float64) bool {
	if v.slopes != nil {
		v.slopes(t, y, &lu.m)
	} else {
		v.f.slopes(t, y, &lu.m)
	}
	for i := range stateSize {
		for j := range stateSize {
			lu.m[i][j] *= -a
		}
		lu.m[i][i]++
	}
	return lu.decompose()
}

// slopes takes a system's Jacobian by differences.
func (f system) slopes(t float64, y *state, j *matrix) {
	d0 := f(t, y)
	moved := *y
	for n := range stateSize {
		delta := slopeStep(y[n])
		moved[n] += delta
		d := f(t, &moved)
		moved[n] = y[n]
		for i := range stateSize {
			j[i][n] = (d[i] - d0[i]) / delta
		}
	}
}

// slopeStep is how far a state is moved to see its slopes.
func slopeStep(x float64) float64 { return 1e-6 * (1 + math.Abs(x)) }

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

// solve is written out: it is what a run does most.
func (lu *factored) solve(b *state) {
	m := &lu.m
	for k, p := range lu.pivot {
		b[k], b[p] = b[p], b[k]
	}
	x0 := b[0]
	x1 := b[1] - m[1][0]*x0
	x2 := b[2] - m[2][0]*x0 - m[2][1]*x1
	x3 := b[3] - m[3][0]*x0 - m[3][1]*x1 - m[3][2]*x2
	x4 := b[4] - m[4][0]*x0 - m[4][1]*x1 - m[4][2]*x2 - m[4][3]*x3
	x5 := b[5] - m[5][0]*x0 - m[5][1]*x1 - m[5][2]*x2 - m[5][3]*x3 - m[5][4]*x4
	x5 /= m[5][5]
	x4 = (x4 - m[4][5]*x5) / m[4][4]
	x3 = (x3 - m[3][4]*x4 - m[3][5]*x5) / m[3][3]
	x2 = (x2 - m[2][3]*x3 - m[2][4]*x4 - m[2][5]*x5) / m[2][2]
	x1 = (x1 - m[1][2]*x2 - m[1][3]*x3 - m[1][4]*x4 - m[1][5]*x5) / m[1][1]
	x0 = (x0 - m[0][1]*x1 - m[0][2]*x2 - m[0][3]*x3 - m[0][4]*x4 - m[0][5]*x5) / m[0][0]
	*b = state{x0, x1, x2, x3, x4, x5}
}

// nextLength proposes the length of the next step from the error of the last.
func nextLength(h, err float64) float64 {
	if err <= 0 {
		return h * maxGrowth
	}
	return h * min(maxGrowth, max(0.2, 0.9/math.Sqrt(err)))
}
