package draw

import (
	"math"
	"slices"
)

const (
	leastSpanA    = 0.2  // a slope of VBUS on the current needs this much: common practice
	lastingS      = 0.15 // a steady draw, past the transition: tSrcTransition and tSnkStdby are below 50 ms
	steadyShare   = 0.15 // one state of the load: its draw varies by no more
	accuracyShare = 0.01 // limit of a meter's error, of the reading: common practice
	leakExponent  = 0.4  // -1 constant power, 0 constant current, +1 resistor
	mostExponent  = 1.3  // a draw that rises faster with the voltage is another state of the load
	maxLoads      = 24
)

// rectangular is the standard uncertainty of a limit: GUM, JCGM 100:2008, 4.3.7.
const rectangular = 0.5773502691896258

// load sums the segments that stand on one VBUS level.
type load struct {
	nominal            float64
	low, high          float64
	k                  int
	w, a, v            float64 // samples, and their sums of current and voltage
	aa, av, vv         float64
	minA, maxA         float64
	steadyMin, restMax float64 // of lasting segments
	steadyW, steadyA   float64
	steadyV            float64
	lastT              float64
}

// loads keeps what the measured quantities come from.
type loads struct {
	voltsOnly bool
	list      []load
	now       int
}

func (l *loads) clone() loads {
	c := *l
	c.list = slices.Clone(l.list)
	return c
}

func (l *loads) add(c cell) {
	if c.n < 2 || c.nV < c.n {
		return
	}
	g := l.group(c.meanV())
	if g == nil {
		return
	}
	n, a, v := float64(c.n), c.meanA(), c.meanV()
	g.k++
	g.w += n
	g.a += n * a
	g.v += n * v
	g.aa += n * a * a
	g.av += n * a * v
	g.vv += n * v * v
	g.minA, g.maxA = min(g.minA, a), max(g.maxA, a)
	if c.t1-c.t0 >= lastingS {
		g.steadyMin, g.restMax = min(g.steadyMin, a), max(g.restMax, a)
		g.steadyW += n
		g.steadyA += n * a
		g.steadyV += n * v
	}
	g.lastT = c.t1
}

// group finds the level that a voltage belongs to.
func (l *loads) group(v float64) *load {
	if l.now < len(l.list) && v >= l.list[l.now].low && v <= l.list[l.now].high {
		return &l.list[l.now]
	}
	nom := nominal(v)
	if nom == 0 {
		l.now = len(l.list)
		return nil
	}
	for i := range l.list {
		if l.list[i].nominal == nom {
			l.now = i
			return &l.list[i]
		}
	}
	if len(l.list) == maxLoads {
		return nil
	}
	g := load{nominal: nom, minA: math.Inf(1), maxA: math.Inf(-1), steadyMin: math.Inf(1), restMax: math.Inf(-1)}
	g.low, g.high = band(nom)
	l.list = append(l.list, g)
	l.now = len(l.list) - 1
	return &l.list[l.now]
}

func (an *Analyser) measure(r *Result) {
	m := &r.Measured
	if an.seen.withA > 0 {
		m.SeriesResistanceOhm = an.shapes.loads.resistance(an.noise)
		an.shapes.loads.exponent(an.noise, m)
	}
	most := 0
	for _, p := range r.Pulses {
		if p.PeriodS != nil && p.Count > most {
			most = p.Count
			m.RetryPeriodS = quantity(*p.PeriodS, p.PeriodU, p.StartS)
		}
	}
	long := 0.0
	for _, t := range r.Tapers {
		if t.TauS != nil && t.EndS-t.StartS > long {
			long = t.EndS - t.StartS
			m.TaperTauS = quantity(*t.TauS, t.TauU, t.StartS)
		}
	}
	charge := 0.0
	for _, x := range r.Rises {
		if x.ChargeC > charge {
			charge = x.ChargeC
			u := x.ChargeU
			m.InrushChargeC = quantity(charge, &u, x.TimeS)
		}
	}
}

func quantity(value float64, u *float64, at float64) *Quantity {
	if u != nil && (math.IsNaN(*u) || math.IsInf(*u, 0)) {
		u = nil
	}
	return &Quantity{Value: value, Uncertainty: u, AtS: &at}
}

// resistance is minus the slope of VBUS on the current within one level, by
// weighted least squares over its segments; of several levels the one that
// knows it best.
func (l *loads) resistance(n noise) *Quantity {
	var best *Quantity
	for _, g := range l.list {
		if g.k < 2 || g.maxA-g.minA < leastSpanA || !slices.Contains(nominals[:], g.nominal) {
			continue
		}
		sxx := g.aa - g.a*g.a/g.w
		sxy := g.av - g.a*g.v/g.w
		syy := g.vv - g.v*g.v/g.w
		if sxx <= 0 {
			continue
		}
		ohm := -sxy / sxx
		u := math.Hypot(n.v/(g.maxA-g.minA), accuracyShare*rectangular*math.Sqrt2*ohm)
		if g.k > 2 {
			u = math.Hypot(u, math.Sqrt(max(0, syy-sxy*sxy/sxx)/float64(g.k-2)/sxx))
		}
		if best == nil || u < *best.Uncertainty {
			best = quantity(ohm, &u, g.lastT)
		}
	}
	return best
}

// exponent is the slope of ln I on ln V over the levels at which the load was
// in one state, and the leak that follows from it.
func (l *loads) exponent(n noise, m *Measured) {
	var x, y, us, volts, amps []float64
	at := 0.0
	for _, g := range l.list {
		if g.steadyW == 0 || g.nominal < 4 {
			continue
		}
		a, v := g.steadyA/g.steadyW, g.steadyV/g.steadyW
		if a < leastPulseA || g.restMax-g.steadyMin > max(steadyShare*a, 4*n.a) {
			return // no current to speak of, or several states
		}
		u := math.Hypot(max(n.a/math.Sqrt(g.steadyW), n.qa/math.Sqrt(12))/a, accuracyShare*rectangular)
		u = math.Hypot(u, (g.restMax-g.steadyMin)*rectangular/a)
		x, y, us = append(x, math.Log(v)), append(y, math.Log(a)), append(us, u)
		volts, amps = append(volts, v), append(amps, a)
		at = g.lastT
	}
	if len(x) < 2 {
		return
	}
	slope, u := line(x, y, us)
	if slope-2*u > mostExponent {
		return
	}
	m.LoadExponent = quantity(slope, &u, at)
	var ohm, uOhm float64
	switch {
	case len(x) >= 3:
		var vv, power, up []float64
		for i, v := range volts {
			vv, power, up = append(vv, v*v), append(power, v*amps[i]), append(up, v*amps[i]*us[i])
		}
		g, ug := line(vv, power, up)
		if g <= 2*ug {
			return
		}
		ohm, uOhm = 1/g, ug/(g*g)
	case slope > leakExponent:
		// two voltages: what rises with the voltage is the leak
		di, dv := amps[1]-amps[0], volts[1]-volts[0]
		ohm = dv / di
		uOhm = ohm * math.Hypot(amps[0]*us[0], amps[1]*us[1]) / math.Abs(di)
	default:
		return
	}
	if ohm > 0 {
		m.LeakResistanceOhm = quantity(ohm, &uOhm, at)
	}
}

// line is the slope of y on x with weights 1/u², and its standard error, which
// is never below what the scatter says.
func line(x, y, us []float64) (slope, u float64) {
	var w, sx, sy float64
	for i := range x {
		k := 1 / (us[i] * us[i])
		w, sx, sy = w+k, sx+k*x[i], sy+k*y[i]
	}
	mx, my := sx/w, sy/w
	var sxx, sxy, syy float64
	for i := range x {
		k := 1 / (us[i] * us[i])
		sxx += k * (x[i] - mx) * (x[i] - mx)
		sxy += k * (x[i] - mx) * (y[i] - my)
		syy += k * (y[i] - my) * (y[i] - my)
	}
	slope = sxy / sxx
	u = 1 / math.Sqrt(sxx)
	if len(x) > 2 {
		u *= math.Sqrt(max(1, (syy-slope*sxy)/float64(len(x)-2)))
	}
	return slope, u
}
