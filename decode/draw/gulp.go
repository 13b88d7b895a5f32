package draw

import (
	"math"

	"portside/pd"
)

// Gulp is a short charge that stands alone, at a standing VBUS which had not been drawn from
// before, or with VBUS on its way up and more than what lies on it there may take: capacitors fill
// behind a switch that closes, and nothing starts.
type Gulp struct {
	TimeS, ChargeC, VoltageV float64
}

// Common practice.
const (
	gulpRestA = 0.1    // a machine's standby
	gulpAlone = 0.02   // s of rest before it
	gulpOverA = 0.05   // it stands above the rest
	gulpS     = 0.05   // inputs fill within milliseconds, and a row may hold both ends of it
	gulpRowS  = 0.12   // rows further apart tell a charge from nothing else
	gulpC     = 0.1e-3 // 10 uF at 10 V
	gulpMostC = 0.1    // a rail's bulk of 5 mF at 20 V
	gulpQuiet = 0.3    // s of rest behind it
	gulpRiseS = 0.5    // a rise to a contract takes less
	gulpRiseA = 0.02   // above what flowed before it, at least
	gulpTimes = 2      // as much as cSnkBulk takes
)

// gulpState is what VBUS and the draw do.
type gulpState int

const (
	gulpMoves gulpState = iota // VBUS does
	gulpRests
	gulpFlows
	gulpOver // it rests again
)

// gulpFinder follows the draw while VBUS stands.
type gulpFinder struct {
	state gulpState
	since float64 // begin of the state
	restA float64 // the last draw at rest
	restV float64 // VBUS there
	last  point
	open  Gulp
	rise  rise
	early bool // the open one came with the rise
	out   keep[Gulp]
}

// rise is what flows from where VBUS leaves 5 V until it rests, above what flowed before.
type rise struct {
	under            bool // way
	beganS, baseA    float64
	chargeC          float64
	peakA, peakTimeS float64
}

// fills takes a row and reports whether something flows in it.
func (r *rise) fills(p point, dt float64) bool {
	over := p.a - r.baseA
	if over < gulpRiseA {
		return false
	}
	r.chargeC += over * dt
	if over > r.peakA {
		r.peakA, r.peakTimeS = over, p.t
	}
	return true
}

// filled is that charge once VBUS stands, where it is more than VBUS itself may take (cSnkBulk,
// USB Type-C R2.4 table 4-3).
func (r *rise) filled(volts float64) (Gulp, bool) {
	g := Gulp{TimeS: r.peakTimeS, ChargeC: r.chargeC, VoltageV: volts}
	own := volts * pd.CSnkBulk.Limits(pd.Revision32).MaxSI()
	return g, r.under && g.ChargeC >= max(gulpTimes*own, gulpC)
}

func newGulpFinder() *gulpFinder {
	return &gulpFinder{out: keep[Gulp]{size: func(g Gulp) float64 { return g.ChargeC }}}
}

func (f *gulpFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

func (f *gulpFinder) result(r *Result, left *int) {
	if f.state == gulpOver && f.last.t-f.since >= gulpQuiet {
		f.keep()
	}
	r.Gulps = f.out.take(left)
}

func (f *gulpFinder) enter(s gulpState, t float64) { f.state, f.since = s, t }

// keep takes the open one where it is a charge.
func (f *gulpFinder) keep() {
	if f.open.ChargeC >= gulpC && f.open.ChargeC <= gulpMostC {
		f.out.add(f.open)
	}
}

// add takes a sample with both quantities.
func (f *gulpFinder) add(p point, _ *noise) {
	dt, before := p.t-f.last.t, f.last
	f.last = p
	switch {
	case dt > gulpRowS, p.v < slideFromV, f.rise.under && p.t-f.rise.beganS > gulpRiseS:
		f.rise = rise{}
	case before.v < slideFromV:
		f.rise = rise{under: true, beganS: before.t, baseA: before.a}
	}
	stands := math.Abs(p.v-f.restV) <= (1-topShare)*f.restV
	fills := f.rise.under && f.rise.fills(p, dt)
	rests, lasts := p.a <= gulpRestA && (f.state == gulpMoves || p.a <= f.restA+gulpOverA), p.t-f.since
	if dt > gulpRowS || p.v < slideFromV || f.state != gulpFlows && !stands {
		f.restV, f.restA = p.v, p.a
		f.enter(gulpMoves, p.t)
		return
	}
	switch {
	case f.state == gulpMoves && fills:
		f.since = p.t
	case f.state == gulpMoves && rests && lasts >= gulpAlone:
		f.restA = p.a
		f.enter(gulpRests, p.t)
		if g, ok := f.rise.filled(p.v); ok {
			f.open, f.early = g, true
			f.enter(gulpOver, p.t)
		}
		f.rise = rise{}
	case f.state == gulpMoves && !rests:
		f.since = p.t
	case f.state == gulpRests && rests:
		f.restA = p.a
	case f.state == gulpRests:
		f.open, f.early = Gulp{TimeS: p.t, ChargeC: (p.a - f.restA) * dt, VoltageV: f.restV}, false
		f.enter(gulpFlows, p.t)
	case f.state == gulpFlows && lasts > gulpS+dt:
		f.enter(gulpMoves, p.t) // a draw
	case f.state == gulpFlows && rests && stands:
		f.enter(gulpOver, p.t)
	case f.state == gulpFlows:
		f.open.ChargeC += max(0, p.a-f.restA) * dt
	case f.state == gulpOver && !rests && f.early: // the rest of it
		f.open.ChargeC, f.early = f.open.ChargeC+(p.a-f.restA)*dt, false
		f.enter(gulpFlows, p.t)
	case f.state == gulpOver && !rests: // it goes on, or comes again
		f.enter(gulpMoves, p.t)
	case f.state == gulpOver && lasts >= gulpQuiet:
		f.keep()
		f.enter(gulpRests, p.t)
	}
}

// addChunk passes over VBUS that stands at rest.
func (f *gulpFinder) addChunk(c *chunk, n *noise) {
	last := c.samples[len(c.samples)-1]
	near := (1 - topShare) * f.restV
	switch {
	case f.state == gulpRests && c.maxA <= min(gulpRestA, f.restA+gulpOverA) && c.minV >= max(slideFromV, f.restV-near) && c.maxV <= f.restV+near:
		f.last, f.restA = last, last.a
	case f.state == gulpMoves && (c.maxV < slideFromV || c.minA > gulpRestA):
		f.last, f.restV, f.since = last, last.v, last.t
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
