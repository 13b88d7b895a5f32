package draw

import (
	"math"
	"slices"

	"portside/decode/series"
)

const (
	leastSpanA    = 0.2                                     // a slope of VBUS on the current needs this much: common practice
	lastingS      = 0.15                                    // a steady draw, past the transition: tSrcTransition and tSnkStdby are below 50 ms
	steadyShare   = 0.15                                    // one state of the load: its draw varies by no more
	accuracyShare = 0.01                                    // limit of a meter's error, of the reading: common practice
	linearShare   = 0.001                                   // of the reading, by which a meter's readings depart from one gain: common practice
	leakExponent  = 0.4                                     // -1 constant power, 0 constant current, +1 resistor
	mostExponent  = 1.3                                     // a draw that rises faster with the voltage is another state of the load
	bendShare     = linearShare * rectangular * rectangular // of it lies any part between two readings, from none to all
	leastA        = 1e-6                                    // a reading is not known better, whatever its digits say
	maxLoads      = 24
	// of a source that warms up, which few bins may hide in their slope: common practice
	sourceWandersV = 0.003
	binA           = 0.05 // currents of one bin
	maxBinsA       = 160  // up to 8 A
	outlierMADs    = 5.0  // a bin further off the line is not the cable: a supply at its limit
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
	steadyV, steadyAA  float64
	lastT              float64
	walk               walk
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
		c.list[i].walk.v, c.list[i].walk.a = slices.Clone(c.list[i].walk.v), slices.Clone(c.list[i].walk.a)
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
		g.steadyAA += c.sAA
		g.steadyV += n * v
		g.walk.add(v, a)
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
	g.low, g.high = band(nom, 0)
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
		if m.LoadExponent == nil {
			d.shapes.loads.walked(m)
		}
	}
	r.Load = d.shapes.loads.law(m)
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
			u := &x.ChargeU
			if !x.whole(r.Sampling.Averaging) {
				u = nil
			}
			m.InrushChargeC = quantity(charge, u, x.TimeS)
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
		noise := max(n.v/math.Sqrt(k), n.v/10) // a reading does not get better than a tenth of its noise
		us[i] = math.Hypot(noise, sourceWandersV)
	}
	l, ok := series.FitLine(a, v, us)
	// A converter on a source that walks up and down draws a line too, which begins at
	// twice its voltage: no level's
	if !ok || l.Intercept-2*l.InterceptSE > g.nominal*(1+nominalBand) {
		return 0, 0, false
	}
	return -l.Slope, math.Hypot(l.SlopeSE, accuracyShare*rectangular*math.Sqrt2*l.Slope), true
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

// walked takes the level whose supply moved, and knows the exponent best.
func (l *loads) walked(m *Measured) {
	for _, g := range l.list {
		slope, u, ok := g.walk.exponent()
		if ok && (m.LoadExponent == nil || u < *m.LoadExponent.Uncertainty) {
			m.LoadExponent = quantity(slope, &u, g.lastT)
		}
	}
}

// exponent is the slope of ln I on ln V over the levels at which the load was
// in one state, and the leak that follows from it. It is false where no level,
// or not each one, held a single state.
func (l *loads) exponent(n noise, m *Measured) bool {
	states, ok := l.states(n)
	if !ok || len(states) < 2 {
		return false
	}
	zero, zeroV := n.qa*rectangular, n.qv*rectangular // of the meter, to a digit: the same at each level
	slope, u := states.exponent(0, 0)
	u = math.Hypot(u, states.bends(slope))
	for _, z := range [...]reading{{a: zero}, {v: zeroV}} {
		if off, _ := states.exponent(z.v, z.a); off == off {
			u = math.Hypot(u, off-slope)
		}
	}
	if slope-2*u > mostExponent {
		return true
	}
	at := states[len(states)-1].at
	m.LoadExponent = quantity(slope, &u, at)
	if len(states) == 2 && slope <= leakExponent {
		return true
	}
	ohm, uOhm, ok := states.leak(0)
	if !ok || len(states) > 2 && !states.besidePower(zero) {
		return true
	}
	if off, _, ok := states.leak(zero); ok {
		uOhm = math.Hypot(uOhm, off-ohm)
	}
	uOhm = math.Hypot(uOhm, accuracyShare*rectangular*math.Sqrt2*ohm)
	m.LeakResistanceOhm = quantity(ohm, &uOhm, at)
	return true
}

// law is that of the load over the levels, and what it means for the source at the
// highest of them.
func (l *loads) law(m *Measured) Load {
	levels, volts, amps := 0, 0.0, 0.0
	for _, g := range l.list {
		if g.steadyW == 0 || g.nominal < 4 {
			continue
		}
		levels++
		if v := g.steadyV / g.steadyW; v > volts {
			volts, amps = v, g.steadyA/g.steadyW
		}
	}
	out := m.load(levels)
	if levels > 0 {
		out.Converter(volts, amps, m.SeriesResistanceOhm)
	}
	return out
}
