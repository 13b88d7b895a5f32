package draw

import (
	"math"
	"slices"
)

const (
	joinSigmas = 2.0 // neighbours closer than this are one steady draw: common practice
	joinSteps  = 2.0 // of the meter's resolution
	shortest   = 3   // an excursion of so few samples is a spike, not a steady draw
	settledN   = 5   // samples its base has at least
	shortS     = 0.1
)

// shapes takes the segments in order and hands them to each detector.
type shapes struct {
	plateaus  keep[Plateau]
	spikes    keep[Spike]
	a         float64 // noise of the current, set with each segment
	q         float64
	voltsOnly bool   // the log has no current: segments are of VBUS
	run       []cell // up to two segments whose plateau is not settled
	loads     loads
	pulses    pulseFinder
	stairs    stairFinder
	tapers    taperFinder
	edges     edgeCounter
}

func (s *shapes) init() {
	s.plateaus.size = func(p Plateau) float64 { return p.EndS - p.StartS }
	s.spikes.size = func(k Spike) float64 { return math.Abs(k.PeakA - k.BaselineA) }
	s.pulses.init()
	s.stairs.init()
	s.tapers.init()
}

func (s *shapes) clone() shapes {
	c := *s
	c.plateaus, c.spikes = s.plateaus.clone(), s.spikes.clone()
	c.run = slices.Clone(s.run)
	c.loads = s.loads.clone()
	c.pulses = s.pulses.clone()
	c.stairs = s.stairs.clone()
	c.tapers = s.tapers.clone()
	return c
}

func (s *shapes) segment(c cell) {
	if s.voltsOnly {
		s.plateau(c)
		return
	}
	s.loads.add(c)
	s.edges.add(c, s.a, s.q, s.pulses.interval)
	s.pulses.segment(c, s.a, s.q)
	s.stairs.segment(c, s.a, s.q)
	s.tapers.segment(c, s.a)
	s.plateau(c)
}

func (s *shapes) spike(k Spike) {
	s.keepSpike(k)
	if !s.voltsOnly {
		s.pulses.spike(k, s.a, s.q)
	}
}

// keepSpike lists a spike of the current.
func (s *shapes) keepSpike(k Spike) {
	if !s.voltsOnly {
		s.spikes.add(k)
	}
}

// part ends everything that cannot go on over a gap.
func (s *shapes) part() {
	s.settle()
	s.edges.part()
	s.pulses.part()
	s.stairs.part(s.a, s.q)
	s.tapers.part(s.a)
}

func (s *shapes) finish() { s.part() }

// plateau joins what is one steady draw, over a short excursion too.
func (s *shapes) plateau(c cell) {
	n := len(s.run)
	switch {
	case n == 0:
		s.run = append(s.run, c)
	case n == 1 && s.same(s.run[0], c):
		s.run[0].join(&c)
	case n == 1:
		s.run = append(s.run, c)
	case s.excursion(s.run[1]) && s.run[0].n >= settledN && s.same(s.run[0], c) && math.Abs(s.run[1].meanA()-s.run[0].meanA()) > spikeSigmas*s.a:
		x, base := s.run[1], s.run[0].meanA()
		peak := x.maxA
		if x.meanA() < base {
			peak = x.minA
		}
		s.keepSpike(Spike{TimeS: x.t0, PeakA: peak, BaselineA: base, DurationS: c.t0 - x.t0, VoltageV: x.meanV()})
		s.run[0].join(&c)
		s.run = s.run[:1]
	case s.same(s.run[1], c):
		s.run[1].join(&c)
		if !s.excursion(s.run[1]) {
			s.publish(s.run[0])
			s.run = append(s.run[:0], s.run[1])
		}
	default:
		s.publish(s.run[0])
		s.run = append(s.run[:0], s.run[1], c)
	}
}

func (s *shapes) excursion(c cell) bool { return c.n <= shortest && c.t1-c.t0 <= shortS }

func (s *shapes) same(a, b cell) bool {
	if math.Abs(a.meanA()-b.meanA()) > max(joinSigmas*s.a, joinSteps*s.q) {
		return false
	}
	if a.nV == 0 || b.nV == 0 {
		return true
	}
	return math.Abs(a.meanV()-b.meanV()) <= max(spanV/2, spanShare/2*a.meanV())
}

func (s *shapes) settle() {
	for _, c := range s.run {
		s.publish(c)
	}
	s.run = s.run[:0]
}

func (s *shapes) publish(c cell) {
	p := Plateau{StartS: c.t0, EndS: c.t1, N: c.n}
	if !s.voltsOnly {
		a := c.meanA()
		p.CurrentA = &a
		p.AmpsSD = deviation(c.n, c.sA, c.sAA)
	}
	if c.nV > 0 {
		v := c.meanV()
		p.VoltageV = &v
		p.VoltsSD = deviation(c.nV, c.sV, c.sVV)
	}
	s.plateaus.add(p)
}

func (s *shapes) result(r *Result, endS float64) {
	r.Plateaus = s.plateaus.take(&r.LeftOut)
	slices.SortStableFunc(s.spikes.items, func(a, b Spike) int { return compareTimes(a.TimeS, b.TimeS) })
	r.Spikes = s.spikes.take(&r.LeftOut)
	r.Pulses = s.pulses.result(&r.LeftOut, endS)
	r.Staircases = s.stairs.result(&r.LeftOut)
	r.Tapers, r.Fades = s.tapers.result(&r.LeftOut)
	r.Profile = profile(r)
	r.Plateaus = withoutTapers(r.Plateaus, r.Tapers)
}

// withoutTapers drops the pieces of tapers, which are no steady draws.
func withoutTapers(plateaus []Plateau, tapers []Taper) []Plateau {
	next := 0
	return slices.DeleteFunc(plateaus, func(p Plateau) bool {
		for next < len(tapers) && tapers[next].EndS < p.EndS {
			next++
		}
		return next < len(tapers) && p.StartS >= tapers[next].StartS
	})
}

func compareTimes(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
