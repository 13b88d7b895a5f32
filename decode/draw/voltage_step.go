package draw

import (
	"math"
	"slices"
)

// The draw across a contract's step: what flows at 5 V before it and directly
// after it, before the charger circuit starts (tenths of a second: common
// practice), is one state of the load.
const (
	stepWithinS  = 0.5 // after the voltage has arrived
	stepZeroRows = 3   // without VBUS
	stepHighRows = 2   // after the step
	stepSlowRows = 3   // the same where rows are so far apart that what starts after it may hide among fewer
	stepSlowS    = 0.12
	stepEveryS   = 0.25  // rows further apart mix the step with what starts after it
	stepLeastA   = 0.12  // after the step: less is what a board takes that comes to life
	stepLeastLow = 0.020 // before it: less is a controller alone
	offsetA      = 0.010 // of a meter whose zero was not seen: a 12-bit monitor, data sheet SBOS844C
	fiveVolts    = 5.0
)

// reading is a mean with the number of rows behind it.
type reading struct {
	a, v float64
	n    int
	t    float64
}

// voltageStep is the first rise of VBUS from 5 V to a contract.
type voltageStep struct {
	zero      reading // the meter's own reading without VBUS
	low, high reading
	level     float64 // nominal, of the contract
	arrived   float64
	done      bool
}

// add takes segments in time order, with the level that they stand on, 0 for
// off.
func (s *voltageStep) add(c cell, nominal float64) {
	r := reading{a: c.meanA(), v: c.meanV(), n: c.n, t: c.t1}
	switch {
	case s.done:
	case nominal == 0:
		if r.n > s.zero.n {
			s.zero = r
		}
		s.low = reading{}
	case nominal == fiveVolts:
		if r.n >= s.low.n {
			s.low = r
		}
	case s.low.n == 0 || !slices.Contains(nominals[:], nominal): // on the way
	case nominal > s.level:
		s.level, s.arrived, s.high = nominal, c.t0, reading{}
		s.after(r)
	case c.t0 > s.arrived+stepWithinS:
		s.done = true
	default:
		s.after(r)
	}
}

// after keeps the lowest draw: what comes later starts more.
func (s *voltageStep) after(r reading) {
	if r.n >= stepHighRows && (s.high.n == 0 || r.a < s.high.a) {
		s.high = r
	}
}

// exponent is the slope of ln I on ln V across the step, the resistance that
// it comes to, and their standard uncertainties.
func (s *voltageStep) exponent(n noise) (slope, u, ohm, uOhm float64, ok bool) {
	if s.low.n == 0 || s.high.n == 0 || n.intervalS > stepEveryS || n.intervalS > stepSlowS && s.high.n < stepSlowRows {
		return 0, 0, 0, 0, false
	}
	zero, uZero := 0.0, offsetA*rectangular
	if s.zero.n >= stepZeroRows {
		zero, uZero = s.zero.a, n.a/math.Sqrt(float64(s.zero.n))
	}
	low, high := s.low.a-zero, s.high.a-zero
	if low < stepLeastLow || high < stepLeastA {
		return 0, 0, 0, 0, false
	}
	of := func(r reading) float64 {
		return math.Hypot(math.Hypot(n.a/math.Sqrt(float64(r.n)), n.qa/math.Sqrt(12)), uZero)
	}
	span := math.Log(s.high.v / s.low.v)
	slope = math.Log(high/low) / span
	u = math.Hypot(math.Hypot(of(s.low)/low, of(s.high)/high), accuracyShare*rectangular) / span
	di, dv := high-low, s.high.v-s.low.v
	ohm = dv / di
	uOhm = ohm * math.Hypot(math.Hypot(of(s.low), of(s.high))/di, accuracyShare*rectangular*math.Sqrt2)
	return slope, u, ohm, uOhm, di > 0
}
