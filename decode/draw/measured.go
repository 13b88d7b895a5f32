package draw

import (
	"math"
	"slices"

	"portside/decode/series"
)

const (
	leastSpanA    = 0.2  // a slope of VBUS on the current needs this much: common practice
	lastingS      = 0.15 // a steady draw, past the transition: tSrcTransition and tSnkStdby are below 50 ms
	steadyShare   = 0.15 // one state of the load: its draw varies by no more
	accuracyShare = 0.01 // limit of a meter's error, of the reading: common practice
	leakExponent  = 0.4  // -1 constant power, 0 constant current, +1 resistor
	mostExponent  = 1.3  // a draw that rises faster with the voltage is another state of the load
	maxLoads      = 24
	binA          = 0.05 // currents of one bin
	maxBinsA      = 160  // up to 8 A
	outlierMADs   = 5.0  // a bin further off the line is not the cable: a supply at its limit
)

// rectangular is the standard uncertainty of a limit: GUM, JCGM 100:2008, 4.3.7.
const rectangular = 0.5773502691896258

// bin sums the segments of like current.
type bin struct{ w, a, v float64 }

// load sums the segments that stand on one VBUS level.
type load struct {
	nominal            float64
	low, high          float64
	bins               []bin
	steadyMin, restMax float64 // of lasting segments
	steadyW, steadyA   float64
	steadyV            float64
	lastT              float64
}

// loads keeps what the measured quantities come from.
type loads struct {
	list []load
	now  int
	step voltageStep
}

func (l *loads) clone() loads {
	c := *l
	c.list = slices.Clone(l.list)
	for i := range c.list {
		c.list[i].bins = slices.Clone(c.list[i].bins)
	}
	return c
}

func (l *loads) add(c cell) {
	if c.nV < c.n {
		return
	}
	g := l.group(c.meanV(), c.n)
	if g == nil {
		l.step.add(c, nominal(c.meanV()))
		return
	}
	l.step.add(c, g.nominal)
	n, a, v := float64(c.n), c.meanA(), c.meanV()
	if i := int(a / binA); a >= 0 && i < maxBinsA {
		for len(g.bins) <= i {
			g.bins = append(g.bins, bin{})
		}
		k := &g.bins[i]
		k.w, k.a, k.v = k.w+n, k.a+n*a, k.v+n*v
	}
	if c.t1-c.t0 >= lastingS {
		g.steadyMin, g.restMax = min(g.steadyMin, a), max(g.restMax, a)
		g.steadyW += n
		g.steadyA += n * a
		g.steadyV += n * v
	}
	g.lastT = c.t1
}

// group finds the level that a voltage belongs to.
func (l *loads) group(v float64, n int) *load {
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
	if len(l.list) == maxLoads || (n < 2 && !slices.Contains(nominals[:], nom)) {
		l.now = len(l.list)
		return nil // one sample on the way to another level
	}
	g := load{nominal: nom, steadyMin: math.Inf(1), restMax: math.Inf(-1)}
	g.low, g.high = band(nom)
	l.list = append(l.list, g)
	l.now = len(l.list) - 1
	return &l.list[l.now]
}

func (d *detectors) measure(r *Result) {
	m := &r.Measured
	if d.seen.withA > 0 {
		m.SeriesResistanceOhm = d.shapes.loads.resistance(d.noise)
		if !d.shapes.loads.exponent(d.noise, m) {
			d.shapes.loads.acrossStep(d.noise, m)
		}
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

// resistance is minus the slope of VBUS on the current within one level; of
// several levels the one that knows it best.
func (l *loads) resistance(n noise) *Quantity {
	var best *Quantity
	for _, g := range l.list {
		if !slices.Contains(nominals[:], g.nominal) {
			continue
		}
		ohm, u, ok := g.slope(n)
		if ok && (best == nil || u < *best.Uncertainty) {
			best = quantity(ohm, &u, g.lastT)
		}
	}
	return best
}

// slope fits a line through the bins by weighted least squares, after those
// far off the median of all slopes (Theil 1950, Sen 1968) are left out.
func (g *load) slope(n noise) (ohm, u float64, ok bool) {
	var a, v, w []float64
	for _, k := range g.bins {
		if k.w > 0 {
			a, v, w = append(a, k.a/k.w), append(v, k.v/k.w), append(w, k.w)
		}
	}
	if len(a) < 2 || a[len(a)-1]-a[0] < leastSpanA {
		return 0, 0, false
	}
	a, v, w = inliers(a, v, w, n)
	span := a[len(a)-1] - a[0]
	if len(a) < 2 || span < leastSpanA {
		return 0, 0, false
	}
	us := make([]float64, len(w))
	for i, k := range w {
		us[i] = max(n.v/math.Sqrt(k), n.v/10) // a reading does not get better than a tenth of its noise
	}
	slope, se := line(a, v, us)
	return -slope, math.Hypot(se, accuracyShare*rectangular*math.Sqrt2*slope), true
}

func inliers(a, v, w []float64, n noise) (ia, iv, iw []float64) {
	var slopes []float64
	for i := range a {
		for j := i + 1; j < len(a); j++ {
			slopes = append(slopes, (v[j]-v[i])/(a[j]-a[i]))
		}
	}
	m := middleOf(slopes)
	offsets := make([]float64, len(a))
	for i := range a {
		offsets[i] = v[i] - m*a[i]
	}
	mid := middleOf(offsets)
	far := make([]float64, len(a))
	for i, o := range offsets {
		far[i] = math.Abs(o - mid)
	}
	limit := max(outlierMADs*series.MADToSigma*middleOf(far), 3*n.v)
	for i := range a {
		if far[i] <= limit {
			ia, iv, iw = append(ia, a[i]), append(iv, v[i]), append(iw, w[i])
		}
	}
	return ia, iv, iw
}

// acrossStep takes the draw on both sides of the first contract's step where the
// levels hold several states of the load.
func (l *loads) acrossStep(n noise, m *Measured) {
	slope, u, ohm, uOhm, ok := l.step.exponent(n)
	if !ok || slope-2*u > mostExponent {
		return
	}
	m.LoadExponent = quantity(slope, &u, l.step.high.t)
	if slope > leakExponent {
		m.LeakResistanceOhm = quantity(ohm, &uOhm, l.step.high.t)
	}
}

// exponent is the slope of ln I on ln V over the levels at which the load was
// in one state, and the leak that follows from it. It is false where no level,
// or not each one, held a single state.
func (l *loads) exponent(n noise, m *Measured) bool {
	var x, y, us, volts, amps []float64
	at := 0.0
	for _, g := range l.list {
		if g.steadyW == 0 || g.nominal < 4 {
			continue
		}
		a, v := g.steadyA/g.steadyW, g.steadyV/g.steadyW
		if a < leastPulseA || g.restMax-g.steadyMin > max(steadyShare*a, 4*n.a) {
			return false // no current to speak of, or several states
		}
		u := math.Hypot(max(n.a/math.Sqrt(g.steadyW), n.qa/math.Sqrt(12))/a, accuracyShare*rectangular)
		u = math.Hypot(u, (g.restMax-g.steadyMin)*rectangular/a)
		x, y, us = append(x, math.Log(v)), append(y, math.Log(a)), append(us, u)
		volts, amps = append(volts, v), append(amps, a)
		at = g.lastT
	}
	if len(x) < 2 {
		return false
	}
	slope, u := line(x, y, us)
	if slope-2*u > mostExponent {
		return true
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
			return true
		}
		ohm, uOhm = 1/g, ug/(g*g)
	case slope > leakExponent:
		// two voltages: what rises with the voltage is the leak
		di, dv := amps[1]-amps[0], volts[1]-volts[0]
		ohm = dv / di
		uOhm = ohm * math.Hypot(amps[0]*us[0], amps[1]*us[1]) / math.Abs(di)
	default:
		return true
	}
	if ohm > 0 {
		m.LeakResistanceOhm = quantity(ohm, &uOhm, at)
	}
	return true
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
