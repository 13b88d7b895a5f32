// Package draw reads the samples of one meter log: steady draws, steps,
// spikes, retries, climbs, tapers, and what can be measured from them. State
// is bounded whatever the length of the log.
package draw

import (
	"math"
	"slices"

	"portside/captures"
)

const (
	learnSamples   = 256  // buffered before anything is cut, so that noise and interval come from the log itself
	refreshSamples = 2048 // noise is looked at again this often
	gapFactor      = 3.0  // a longer distance of samples is a gap: common practice
	minGapS        = 1.0
	turnedA        = 0.02 // first draw above this decides the sign: a 12-bit monitor may be off by 10 mA, data sheet SBOS844C
)

// Options is for settings that a log may need; the zero value is right for
// any meter.
type Options struct{}

// point is one sample as the analyser sees it: seconds, volts, amps.
type point struct{ t, v, a float64 }

// Analyser takes the samples of one log in the order of time.
type Analyser struct {
	learning []point // nil once the noise is known
	learnt   bool
	seen     statistics
	sign     float64 // 0 undecided
	last     point
	any      bool
	lastV    float64 // time of the last sample with a voltage
	lastA    float64
	noise    noise

	energyWs float64
	fitted   int
	trace    trace
	levels   leveller
	falls    fallFinder
	rises    riseFinder
	gaps     keep[Gap]
	segments segmenter
	shapes   shapes
}

// noise holds what the thresholds are made of.
type noise struct {
	v, a      float64 // standard deviations, floored
	qa        float64 // resolution of the current
	intervalS float64
	count     int
}

// New returns an empty analyser.
func New(Options) *Analyser {
	a := &Analyser{}
	a.gaps.size = func(g Gap) float64 { return g.EndS - g.StartS }
	a.levels.init()
	a.falls.init()
	a.rises.init()
	a.shapes.init()
	return a
}

// Add takes the next sample. A value that is not finite is a gap.
func (an *Analyser) Add(s *captures.Sample) {
	p := point{t: s.At.Seconds(), v: finite(s.Volts), a: finite(s.Amps)}
	if an.any && p.t < an.last.t {
		p.t = an.last.t
	}
	an.seen.add(p)
	an.last, an.any = p, true
	if an.learnt {
		if an.seen.n%refreshSamples == 0 {
			an.noise = an.seen.noise()
			an.seen.forget()
		}
		an.take(p)
		return
	}
	an.learning = append(an.learning, p)
	if len(an.learning) >= learnSamples {
		an.learn()
	}
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

// learn ends the first stretch: noise and interval are known, and the buffered
// samples go their way.
func (an *Analyser) learn() {
	an.noise = an.seen.noise()
	an.learnt = true
	for _, p := range an.learning {
		an.take(p)
	}
	an.learning = nil
}

func (an *Analyser) take(p point) {
	if an.sign <= 0 {
		p.a = an.turn(p.a)
	}
	an.trace.add(p)
	an.findGap(p)
	hasV, hasA := p.v == p.v, p.a == p.a
	if hasV {
		an.lastV = p.t
	}
	if hasA {
		an.lastA = p.t
	}
	if hasV && hasA {
		if an.fitted > 0 {
			if dt := p.t - an.falls.recent[0].t; dt <= an.gapLimit() {
				an.energyWs += p.v * p.a * dt
			}
		}
		an.fitted++
	}
	if hasV {
		an.levels.add(p, an.noise)
		an.falls.add(p)
		an.rises.add(p, an.falls.recent, an.noise)
	}
	if hasV && hasA {
		an.falls.remember(p)
	}
	an.shapes.a, an.shapes.q = an.noise.a, an.noise.qa
	an.shapes.pulses.interval, an.shapes.stairs.interval = an.noise.intervalS, an.noise.intervalS
	an.shapes.loads.voltsOnly = an.seen.withA == 0
	if hasA {
		an.segments.add(p, an.noise, &an.shapes)
	} else if hasV && an.seen.withA == 0 {
		an.segments.add(p, an.noise, &an.shapes)
	}
}

// turn gives the current its sign: the first significant draw is into the
// device by definition.
func (an *Analyser) turn(a float64) float64 {
	if an.sign == 0 && math.Abs(a) > math.Max(turnedA, 10*an.noise.a) {
		an.sign = math.Copysign(1, a)
	}
	if an.sign < 0 {
		return -a
	}
	return a
}

func (an *Analyser) gapLimit() float64 {
	return math.Max(minGapS, gapFactor*an.noise.intervalS)
}

// findGap notes a stretch without samples or without one quantity, and parts
// the segments where nothing at all was recorded.
func (an *Analyser) findGap(p point) {
	if an.trace.total == 1 {
		an.lastV, an.lastA, an.segments.lastT = p.t, p.t, p.t
		return
	}
	limit := an.gapLimit()
	from := p.t
	if p.v == p.v && an.seen.withV > 0 {
		from = an.lastV
	}
	if p.a == p.a && an.seen.withA > 0 {
		from = math.Min(from, an.lastA)
	}
	if p.t-from > limit {
		an.gaps.add(Gap{StartS: from, EndS: p.t})
	}
	if p.t-an.segments.lastT > limit {
		an.segments.flush(an.noise, &an.shapes)
		an.shapes.part()
	}
	an.segments.lastT = p.t
}

// clone copies all state, so that a snapshot can be finished without the
// analyser noticing.
func (an *Analyser) clone() *Analyser {
	c := *an
	c.learning = slices.Clone(an.learning)
	c.trace.bins = slices.Clone(an.trace.bins)
	c.gaps = an.gaps.clone()
	c.levels = an.levels.clone()
	c.falls = an.falls.clone()
	c.rises = an.rises.clone()
	c.segments = an.segments.clone()
	c.shapes = an.shapes.clone()
	return &c
}

// Result is the state of things after the samples so far. The analyser is not
// changed and goes on.
func (an *Analyser) Result() *Result {
	c := an.clone()
	if !c.learnt {
		c.learn()
	}
	c.segments.flush(c.noise, &c.shapes)
	c.shapes.finish()
	r := &Result{
		Trace:    c.trace.result(),
		Sampling: c.seen.sampling(c.sign < 0),
		Turned:   c.sign < 0,
		Fitted:   c.fitted,
	}
	if c.fitted > 1 {
		wh := c.energyWs / 3600
		r.EnergyWh = &wh
	}
	r.Gaps = c.gaps.take(&r.LeftOut)
	r.Levels = c.levels.finish(&r.LeftOut)
	r.Collapses = c.falls.finish(&r.LeftOut)
	r.Rises = c.rises.finish(&r.LeftOut)
	c.shapes.result(r, c.last.t)
	c.measure(r)
	return r
}
