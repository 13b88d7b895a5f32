package clocks

import "math"

// sure is what a match leaves possible of the clocks, whether or not the source
// keeps its times.
type sure struct {
	offsets     Span    // that every match allows, where one offset explains all
	width       float64 // of the widest match, where the clocks run apart
	first, last float64 // matches on the meter's clock
}

// newSure takes the matches in the order of time.
func newSure(x []float64, offsets Span) sure {
	s := sure{offsets: Span{offsets.Lo - softestStep, offsets.Hi + softestStep}, first: x[0], last: x[0]}
	for _, at := range x {
		s.first, s.last = min(s.first, at), max(s.last, at)
	}
	return s
}

// softwareS is how far off a stamp is that one side took in its own software: 2.1 to
// 5.0 ms in recorded logs.
const softwareS = 0.005

// widen grants by seconds either way.
func (s *sure) widen(by float64) {
	s.offsets.Lo -= by
	s.offsets.Hi += by
	s.width += by
}

// Surely is when, on the messages' clock, a time of the meter may have been at most.
// It is wider than [Alignment.Uncertainty]: no source is trusted to keep its times
// beyond moving VBUS between Accept and PS_RDY, and away from the matches two clocks
// may drift apart as fast as any that recorders have.
func (a Alignment) Surely(t float64) Span {
	if a.RateU > 0 {
		at, by := a.At(t), a.sure.width
		if span := a.sure.last - a.sure.first; span > 0 {
			// A line that is off by a width at both ends, either way.
			by += 2 * a.sure.width * max(a.sure.first-t, t-a.sure.last, 0) / span
		}
		return Span{at - by, at + by}
	}
	drift := ceramicRate * max(math.Abs(t-a.sure.first), math.Abs(t-a.sure.last))
	return Span{t + a.sure.offsets.Lo - drift, t + a.sure.offsets.Hi + drift}
}

// Spread is how wide [Alignment.Surely] is for the time of the meter that is at the
// latest at the given one on the messages' clock.
func (a Alignment) Spread(latest float64) float64 {
	t := latest - a.OffsetS
	for range 2 { // the width changes slowly: exact to far below a microsecond
		t -= a.Surely(t).Hi - latest
	}
	s := a.Surely(t)
	return s.Hi - s.Lo
}
