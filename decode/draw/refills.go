package draw

import "math"

// Refill is a short charge that stands alone at a standing VBUS, after a draw that was cut
// off: capacitors that ran empty behind an open switch fill again. Those before a stopped
// converter have stayed full.
type Refill struct {
	TimeS, ChargeC float64
}

// Common practice.
const (
	refillWorkA = 0.1    // a draw that is cut off
	refillWorkS = 0.022  // and how long it lasts at least: a charger's try is 10 ms (data sheets SLUSDU3 and SLUSE65A)
	refillRestA = 0.03   // no more than a port controller and its switch take
	refillRestS = 0.02   // on both sides of the charge
	refillS     = 0.025  // inputs fill within milliseconds: longer is a draw
	refillPeakA = 0.06   // a draw that creeps up begins below
	refillNextS = 0.4    // from the charge to a draw that stays: a soft start waits for less
	refillC     = 0.1e-3 // 10 uF at 10 V
	refillMostC = 6e-3   // 300 uF at 20 V: more is a try
)

// refillState is what the draw has done so far.
type refillState int

const (
	refillNone   refillState = iota
	refillDraws              // works
	refillRests              // was cut off
	refillFills              // takes a charge
	refillFilled             // and rests again
)

// refillFinder follows one draw after the other.
type refillFinder struct {
	state refillState
	since float64 // begin of the state
	last  point
	out   keep[Refill]
	open  Refill
	peak  float64 // of the open one
	restV float64 // VBUS before it
	due   bool    // it is one if a draw follows: a try does not end in it
}

func newRefillFinder() *refillFinder {
	return &refillFinder{out: keep[Refill]{size: func(r Refill) float64 { return r.ChargeC }}}
}

func (f *refillFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

func (f *refillFinder) result(r *Result, left *int) { r.Refills = f.out.take(left) }

func (f *refillFinder) enter(s refillState, t float64) { f.state, f.since = s, t }

// add takes a sample with both quantities.
func (f *refillFinder) add(p point, _ *noise) {
	dt := p.t - f.last.t
	moved := p.v-f.last.v > transientV || f.last.v-p.v > transientV
	f.last = p
	filling := f.state == refillRests || f.state == refillFills // a charge so quick shakes VBUS
	if p.v < slideFromV || moved && !filling || dt > refillS {
		f.enter(refillNone, p.t)
	}
	rests, lasts := p.a <= refillRestA, p.t-f.since
	switch {
	case f.state == refillNone && p.a >= refillWorkA:
		f.enter(refillDraws, p.t)
	case f.state == refillDraws && rests && lasts >= refillWorkS:
		f.follow()
		f.restV = p.v
		f.enter(refillRests, p.t)
	case f.state == refillDraws && rests: // a converter's own capacitors, before it starts
		f.enter(refillNone, p.t)
	case f.state == refillDraws && lasts >= refillWorkS:
		f.follow()
	case f.state == refillRests && !rests && lasts < refillRestS, f.state == refillFilled && !rests && lasts < refillRestS, f.state == refillFills && !rests && lasts > refillS:
		f.enter(refillDraws, p.t) // it had not stopped, or goes on from there
	case f.state == refillRests && !rests:
		f.open, f.peak = Refill{TimeS: p.t, ChargeC: p.a * dt}, p.a
		f.enter(refillFills, p.t)
	case f.state == refillFills && !rests:
		f.open.ChargeC += p.a * dt
		f.peak = max(f.peak, p.a)
	case f.state == refillFills && math.Abs(p.v-f.restV) > transientV:
		f.enter(refillNone, p.t) // another contract
	case f.state == refillFills:
		f.enter(refillFilled, p.t)
	case f.state == refillFilled && lasts >= refillRestS:
		f.due = f.open.ChargeC >= refillC && f.open.ChargeC <= refillMostC && f.peak >= refillPeakA
		f.enter(refillNone, p.t)
	}
}

// follow keeps a charge that a draw follows at once.
func (f *refillFinder) follow() {
	if f.due && f.since-f.open.TimeS <= refillNextS {
		f.out.add(f.open)
	}
	f.due = false
}

// addChunk passes over what changes nothing.
func (f *refillFinder) addChunk(c *chunk, n *noise) {
	still := c.minV >= slideFromV && c.maxV-c.minV <= transientV && c.minV > f.last.v-transientV && c.maxV < f.last.v+transientV
	if still && (f.state == refillDraws && c.minA > refillRestA || f.state == refillRests && c.maxA <= refillRestA || f.state == refillNone && c.maxA < refillWorkA) {
		f.last = c.samples[len(c.samples)-1]
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
