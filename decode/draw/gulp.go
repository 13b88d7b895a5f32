package draw

import "math"

// Gulp is a short charge that stands alone at a standing VBUS which had not been drawn from
// before: capacitors fill behind a switch that closes, and nothing starts.
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
	out   keep[Gulp]
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
	dt := p.t - f.last.t
	f.last = p
	stands := math.Abs(p.v-f.restV) <= (1-topShare)*f.restV
	rests, lasts := p.a <= gulpRestA && (f.state == gulpMoves || p.a <= f.restA+gulpOverA), p.t-f.since
	if dt > gulpRowS || p.v < slideFromV || f.state != gulpFlows && !stands {
		f.restV, f.restA = p.v, p.a
		f.enter(gulpMoves, p.t)
		return
	}
	switch {
	case f.state == gulpMoves && rests && lasts >= gulpAlone:
		f.restA = p.a
		f.enter(gulpRests, p.t)
	case f.state == gulpMoves && !rests:
		f.since = p.t
	case f.state == gulpRests && rests:
		f.restA = p.a
	case f.state == gulpRests:
		f.open = Gulp{TimeS: p.t, ChargeC: (p.a - f.restA) * dt, VoltageV: f.restV}
		f.enter(gulpFlows, p.t)
	case f.state == gulpFlows && lasts > gulpS+dt:
		f.enter(gulpMoves, p.t) // a draw
	case f.state == gulpFlows && rests && stands:
		f.enter(gulpOver, p.t)
	case f.state == gulpFlows:
		f.open.ChargeC += max(0, p.a-f.restA) * dt
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
