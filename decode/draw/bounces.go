package draw

import "slices"

// Bounce is a draw that is gone for milliseconds while VBUS stands, and comes back in a charge
// that is many times as hard: a contact had opened, and what it feeds fills again at once. A
// switch that closes does so softly, and a converter comes back by its ramp.
type Bounce struct {
	TimeS, OffS, PeakA float64
	LeftA              float64 // what flows on while it is gone, the mean
}

// Common practice.
const (
	bounceRowS  = 0.0025 // rows further apart show no such charge
	bounceA     = 0.02   // a draw that breaks off,
	bounceDrawS = 0.005  // which had lasted,
	bounceLeft  = 0.2    // down to this share of it at most
	bounceLeast = 0.0015 // s that it is gone
	bounceMost  = 0.15
	bounceHard  = 3.0 // times the draw, and
	bounceOver  = 1.3 // or this where it stands
	bounceAlone = 0.15
	bouncePeakA = 0.25
	bounceBackS = 0.003 // until it is half of that again
	bounceV     = 0.03  // of VBUS, which stands
)

// bounceFinder follows the draw.
type bounceFinder struct {
	drewA, sinceS float64 // the mean of the draw that goes on, and since when
	n             int
	offS          float64 // when it was gone, 0 else
	offV          float64
	leftA         float64 // the mean since then,
	left          int     // of so many rows
	open          Bounce
	backS         float64
	last          point
	out           keep[Bounce]
}

func newBounceFinder() *bounceFinder {
	return &bounceFinder{out: keep[Bounce]{size: func(b Bounce) float64 { return b.PeakA }}}
}

func (f *bounceFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

// result takes what the charges make of VBUS out of its collapses.
func (f *bounceFinder) result(r *Result, left *int) {
	r.Bounces = f.out.take(left)
	r.Collapses = slices.DeleteFunc(r.Collapses, func(c Collapse) bool {
		return c.BackS != nil && *c.BackS <= bounceBackS+2*bounceRowS && slices.ContainsFunc(r.Bounces, func(b Bounce) bool {
			return c.TimeS >= b.TimeS && c.TimeS <= b.TimeS+b.OffS+bounceBackS
		})
	})
}

// add takes a sample with both quantities.
func (f *bounceFinder) add(p point, n *noise) {
	gap := p.t-f.last.t > gapFactor*bounceRowS
	f.last = p
	switch {
	case n.intervalS > bounceRowS || gap || p.v < slideFromV:
		f.begin(p)
	case f.backS > 0: // comes back
		f.open.PeakA = max(f.open.PeakA, p.a)
		switch {
		case p.a <= f.open.PeakA/2 && f.open.PeakA >= max(bouncePeakA, bounceHard*f.drewA),
			p.a <= bounceAlone*f.open.PeakA && f.open.PeakA >= max(bouncePeakA, bounceOver*f.drewA):
			f.out.add(f.open)
			f.begin(p)
		case p.t-f.backS > bounceBackS:
			f.begin(p)
		}
	case f.offS > 0 && p.a <= bounceLeft*f.drewA:
		f.left++
		f.leftA += (p.a - f.leftA) / float64(f.left)
		if p.t-f.offS > bounceMost || p.v < f.offV*(1-bounceV) {
			f.begin(p)
		}
	case f.offS > 0 && p.t-f.offS >= bounceLeast && p.a >= max(bouncePeakA, f.drewA)/2:
		f.open, f.backS = Bounce{TimeS: f.offS, OffS: p.t - f.offS, PeakA: p.a, LeftA: f.leftA}, p.t
	case f.offS > 0:
		f.begin(p)
	case f.drewA >= bounceA && p.t-f.sinceS >= bounceDrawS && p.a <= bounceLeft*f.drewA:
		f.offS, f.offV, f.leftA, f.left = p.t, p.v, p.a, 1
	case p.a > 2*f.drewA+bounceA || p.a < f.drewA/2:
		f.begin(p)
	default:
		f.n++
		f.drewA += (p.a - f.drewA) / float64(min(f.n, bounceMean))
	}
}

// bounceMean is how many rows the draw is a mean of.
const bounceMean = 50

// begin starts anew with this sample.
func (f *bounceFinder) begin(p point) {
	f.drewA, f.sinceS, f.n, f.offS, f.backS = p.a, p.t, 1, 0, 0
}

// addChunk passes over one that draws on.
func (f *bounceFinder) addChunk(c *chunk, n *noise) {
	if n.intervalS > bounceRowS || f.offS == 0 && f.backS == 0 && f.n >= bounceMean && c.minV >= slideFromV && c.minA > f.drewA/2 && c.maxA <= 2*f.drewA+bounceA {
		f.last = c.samples[len(c.samples)-1]
		f.drewA = c.sA / float64(c.n)
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
