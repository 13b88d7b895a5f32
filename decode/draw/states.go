package draw

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"portside/decode/series"
)

// state is the load in its one state at one level.
type state struct {
	v, a float64
	u    float64 // standard uncertainty of the current, of the reading; without gain, bend and zero
	at   float64
}

type states []state

// states are those of the levels with a lasting draw in one state. It is false where there
// is no current to speak of, or where a level held several and fewer than enoughStates
// remain without it.
func (l *loads) states(n noise) (states, bool) {
	var out states
	several := false
	for _, g := range l.list {
		if g.steadyW == 0 || g.nominal < 4 {
			continue
		}
		a, v := g.steadyA/g.steadyW, g.steadyV/g.steadyW
		spread := g.restMax - g.steadyMin
		if a < leastPulseA {
			return nil, false
		}
		if spread > max(steadyShare*a, 4*n.a) {
			several = true
			continue
		}
		rows := int(g.steadyW)
		own := deviation(rows, g.steadyA, g.steadyAA)
		u := max(own*fewer(rows)/math.Sqrt(g.steadyW), n.qa/math.Sqrt(12)/spreads, leastA) / a
		u = math.Hypot(u, max(0, spread-2*n.a)*rectangular/a)
		out = append(out, state{v: v, a: a, u: u, at: g.lastT})
	}
	return out, !several || len(out) >= enoughStates
}

// enoughStates show by themselves whether they are one.
const enoughStates = 3

// spreads is what a mean over noise gains on a single digit's rounding at least.
const spreads = 2.0

// fewer is what the scatter of so few rows understates: Student's t over the normal
// distribution, at 95 %.
func fewer(rows int) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: float64(max(rows-1, 1))}.Quantile(0.975) / distuv.UnitNormal.Quantile(0.975)
}

// exponent is the slope of ln I on ln V, where the meter's zeros are off by so much.
func (s states) exponent(zeroV, zeroA float64) (slope, u float64) {
	var x, y, us []float64
	for _, p := range s {
		x, y, us = append(x, math.Log(p.v+zeroV)), append(y, math.Log(p.a+zeroA)), append(us, p.u)
	}
	l, ok := series.FitLine(x, y, us)
	if !ok {
		return math.NaN(), math.NaN()
	}
	return l.Slope, l.SlopeSE
}

// bends is what a meter whose gain is not the same everywhere does to the slope: readings
// that are alike share its error, and those far apart have any part of it between them,
// from none to all.
func (s states) bends(slope float64) float64 {
	lowV, highV, lowA, highA := math.Inf(1), 0.0, math.Inf(1), 0.0
	for _, p := range s {
		lowV, highV = min(lowV, p.v), max(highV, p.v)
		lowA, highA = min(lowA, p.a), max(highA, p.a)
	}
	return bendShare * math.Hypot(1-lowA/highA, slope*(1-lowV/highV)) / math.Log(highV/lowV)
}

// leak is the resistance of what rises with the voltage: of two voltages all of
// it, of three or more the part beside a constant power.
func (s states) leak(zero float64) (ohm, u float64, ok bool) {
	if len(s) == 2 {
		a, b := s[0], s[1]
		di, dv := b.a-a.a, b.v-a.v
		ohm = dv / di
		uA, uB := math.Hypot(a.u, linearShare*rectangular), math.Hypot(b.u, linearShare*rectangular)
		return ohm, ohm * math.Hypot(a.a*uA, b.a*uB) / math.Abs(di), ohm > 0
	}
	l, _ := series.FitLine(s.powers(zero))
	return 1 / l.Slope, l.SlopeSE / (l.Slope * l.Slope), l.Slope > 2*l.SlopeSE
}

// besidePower reports currents that a resistor beside a constant power explains: those of
// a constant current, or of one power of the voltage, it does not, though their line
// rises too.
func (s states) besidePower(zero float64) bool {
	worst := 0.0
	squares, power, us := s.powers(0)
	l, _ := series.FitLine(squares, power, us)
	for i := range s {
		u := math.Hypot(us[i], s[i].v*zero)
		worst = max(worst, math.Abs(power[i]-l.Intercept-l.Slope*squares[i])/u)
	}
	return worst <= clearSigmas
}

// powers are what each state takes, over the square of its voltage, with the standard
// uncertainties of the former.
func (s states) powers(zero float64) (squares, power, us []float64) {
	for _, p := range s {
		w := p.v * (p.a + zero)
		squares, power, us = append(squares, p.v*p.v), append(power, w), append(us, w*math.Hypot(p.u, linearShare*rectangular))
	}
	return squares, power, us
}
