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
	blockSamples = 1024 // taken together, so that their noise is known before anything is cut
	voltsEvery   = 4    // noise of VBUS decides little beside a current: one look in so many blocks
	gapFactor    = 3.0  // a longer distance of samples is a gap: common practice
	minGapS      = 1.0  // a charge is summed over this much anyway
	partS        = 0.25 // a shorter gap parts no steady draw: it hides nothing that lasts
	turnedA      = 0.03 // first draw above this decides the sign: offsets of 10 to 20 mA, data sheet SBOS844C
	turnedSigmas = 10.0 // nor is it noise
)

// Options is for settings that a log may need; the zero value is right for
// any meter.
type Options struct{}

// point is one sample as the analyser sees it: seconds, volts, amps.
type point struct{ t, v, a float64 }

// Analyser takes the samples of one log in the order of time.
type Analyser struct {
	block     []point   // not yet taken
	values    []float64 // room for those of one quantity
	stretches int
	seen      statistics
	volts     noiseMeter
	amps      noiseMeter
	sign      float64 // 0 undecided
	last      point
	any       bool
	lastV     float64 // time of the last sample with a voltage
	lastA     float64
	noise     noise

	energy   energy
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
	qv, qa    float64 // resolutions, 0 unknown
	intervalS float64
	count     int // samples before these
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
	an.block = append(an.block, p)
	if len(an.block) == blockSamples {
		an.takeBlock()
	}
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

// takeBlock takes what was held back, each stretch between gaps with the noise
// of its own, so that what follows a gap changes nothing before it.
func (an *Analyser) takeBlock() {
	an.noise.intervalS = an.seen.interval.median()
	limit := an.partLimit()
	from := 0
	for i := 1; i <= len(an.block); i++ {
		if i < len(an.block) && an.block[i].t-an.block[i-1].t <= limit {
			continue
		}
		an.takeStretch(an.block[from:i])
		from = i
	}
	an.block = an.block[:0]
}

func (an *Analyser) takeStretch(stretch []point) {
	values := an.values[:0]
	for _, p := range stretch {
		if p.a == p.a {
			values = append(values, p.a)
		}
	}
	an.noise.a, an.noise.qa = an.amps.block(values, floorA), an.amps.step
	if len(values) == 0 || an.stretches%voltsEvery == 0 {
		values = values[:0]
		for _, p := range stretch {
			if p.v == p.v {
				values = append(values, p.v)
			}
		}
		an.noise.v, an.noise.qv = an.volts.block(values, floorV), an.volts.step
	}
	an.values = values
	an.stretches++
	an.noise.count = an.trace.total + len(stretch)
	if an.sign == 0 {
		an.decideSign(stretch)
	}
	for _, p := range stretch {
		an.take(p)
	}
}

func (an *Analyser) take(p point) {
	if an.sign < 0 {
		p.a = -p.a
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
		an.energy.add(p, an.gapLimit())
	}
	if hasV {
		an.levels.add(p, an.noise)
		an.falls.add(p)
		an.rises.add(p, an.falls.recent, an.noise)
	}
	if hasV && hasA {
		an.falls.remember(p)
	}
	an.cut(p, hasV, hasA)
}

// cut hands the sample to the segments: by its current, or by VBUS where the
// log has no current so far.
func (an *Analyser) cut(p point, hasV, hasA bool) {
	n := an.noise
	voltsOnly := an.seen.withA == 0
	if voltsOnly {
		p.a, n.a, n.qa = p.v, n.v, n.qv
		hasA = hasV
	}
	if !hasA {
		return
	}
	if an.segments.began && (p.t-an.segments.lastT > an.partLimit() || voltsOnly != an.shapes.voltsOnly) {
		an.segments.flush(&an.shapes)
		an.shapes.part()
	}
	an.segments.began, an.segments.lastT = true, p.t
	an.shapes.voltsOnly = voltsOnly
	an.shapes.a, an.shapes.q = n.a, n.qa
	an.shapes.pulses.interval, an.shapes.stairs.interval = n.intervalS, n.intervalS
	an.segments.add(p, n, &an.shapes)
}

// decideSign finds the sign of the current: the first significant draw is into
// the device by definition. What came before it in the same stretch has it too.
func (an *Analyser) decideSign(stretch []point) {
	bar := math.Max(turnedA, turnedSigmas*an.noise.a)
	for _, p := range stretch {
		if math.Abs(p.a) > bar {
			an.sign = math.Copysign(1, p.a)
			return
		}
	}
}

func (an *Analyser) gapLimit() float64 {
	if an.noise.intervalS == 0 {
		return math.Inf(1)
	}
	return gapFactor * an.noise.intervalS
}

func (an *Analyser) partLimit() float64 { return math.Max(partS, an.gapLimit()) }

// findGap notes a stretch without samples or without one quantity.
func (an *Analyser) findGap(p point) {
	if an.trace.total == 1 {
		an.lastV, an.lastA = p.t, p.t
		return
	}
	from := p.t
	if p.v == p.v && an.seen.withV > 0 {
		from = an.lastV
	}
	if p.a == p.a && an.seen.withA > 0 {
		from = math.Min(from, an.lastA)
	}
	an.noteGap(from, p.t)
}

func (an *Analyser) noteGap(from, to float64) {
	if to-from > an.gapLimit() {
		an.gaps.add(Gap{StartS: from, EndS: to})
	}
}

// endGap notes a quantity that is missing up to the end.
func (an *Analyser) endGap() {
	from := an.last.t
	if an.seen.withV > 0 {
		from = math.Min(from, an.lastV)
	}
	if an.seen.withA > 0 {
		from = math.Min(from, an.lastA)
	}
	an.noteGap(from, an.last.t)
}

// clone copies all state, so that a snapshot can be finished without the
// analyser noticing.
func (an *Analyser) clone() *Analyser {
	c := *an
	c.block, c.values = slices.Clone(an.block), nil
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
	c.takeBlock()
	if c.any {
		c.endGap()
	}
	c.segments.flush(&c.shapes)
	c.shapes.finish()
	r := &Result{
		Trace:    c.trace.result(),
		Sampling: c.seen.sampling(&c.volts, &c.amps, c.sign < 0),
		Turned:   c.sign < 0,
		Fitted:   c.energy.n,
		EnergyWh: c.energy.result(),
	}
	unpublished := 0
	r.Gaps = c.gaps.take(&unpublished)
	r.Levels = c.levels.finish(&unpublished)
	r.Collapses = c.falls.finish(&unpublished)
	r.Rises = c.rises.finish(&unpublished)
	c.shapes.result(r, c.last.t)
	c.measure(r)
	return r
}
