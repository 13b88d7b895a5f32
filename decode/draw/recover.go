package draw

import "slices"

// Recovery is VBUS that climbs back slowly once a draw has ended: no lead keeps a voltage
// drop without a current, so the source itself had given way and takes its time.
type Recovery struct {
	StartS, EndS float64
	FromV, ToV   float64
}

// Common practice.
const (
	recoverA     = 0.12 // a machine that rests
	recoverDrawA = 0.2  // and the draw before it
	recoverLeast = 0.025
	recoverMost  = 0.15  // of VBUS: fixed contracts lie further apart
	recoverStep  = 0.005 // of VBUS, from one kept row to the next
	recoverS     = 0.15  // for most of the way: a source settles from a load within milliseconds
	recoverPart  = 0.7   // of the way
	recoverWay   = 2     // kept rows between recoverEdge of the way and its rest
	recoverEdge  = 0.2
	recoverSigma = 8 // times the noise: of a long rest single rows lie far off
)

// recoverFinder follows VBUS through each rest.
type recoverFinder struct {
	drew  bool // a draw came before
	rests bool
	climb []point // the first row of the rest, and each that stands higher by a step
	last  float64
	noise float64 // of VBUS
	out   keep[Recovery]
}

func newRecoverFinder() *recoverFinder {
	return &recoverFinder{out: keep[Recovery]{size: func(r Recovery) float64 { return r.ToV - r.FromV }}}
}

func (f *recoverFinder) clone() finder {
	c := *f
	c.climb, c.out = slices.Clone(f.climb), f.out.clone()
	return &c
}

func (f *recoverFinder) result(r *Result, left *int) {
	f.end()
	r.Recovers = f.out.take(left)
}

// add takes a sample with both quantities.
func (f *recoverFinder) add(p point, n *noise) {
	gap := p.t-f.last > max(minGapS, gapFactor*n.intervalS)
	f.last, f.noise = p.t, n.v
	switch {
	case gap || p.v < slideFromV:
		f.end()
		f.drew = false
	case p.a > recoverDrawA:
		f.end()
		f.drew = true
	case p.a > recoverA:
		f.end()
	case !f.rests && f.drew, f.rests && p.v < f.climb[0].v: // the latter still falls
		f.rests, f.drew, f.climb = true, false, append(f.climb[:0], p)
	case f.rests && p.v > f.top()*(1+recoverStep):
		f.climb = append(f.climb, p)
		if f.top() > (1+recoverMost)*f.climb[0].v {
			f.rests = false
		}
	}
}

func (f *recoverFinder) top() float64 { return f.climb[len(f.climb)-1].v }

// end keeps a rest in which VBUS came back slowly.
func (f *recoverFinder) end() {
	if !f.rests {
		return
	}
	f.rests = false
	first, last := f.climb[0], f.climb[len(f.climb)-1]
	rise := last.v - first.v
	if rise < max(recoverLeast*last.v, recoverSigma*f.noise) {
		return
	}
	way, most := 0, last.t
	for _, p := range slices.Backward(f.climb) {
		done := (p.v - first.v) / rise
		if done >= recoverPart {
			most = p.t
		}
		if done > recoverEdge && done < 1-recoverEdge {
			way++
		}
	}
	if way >= recoverWay && most-first.t >= recoverS {
		f.out.add(Recovery{StartS: first.t, EndS: last.t, FromV: first.v, ToV: last.v})
	}
}

// addChunk passes over a chunk that works, and one that rests and does not climb.
func (f *recoverFinder) addChunk(c *chunk, n *noise) {
	stands := c.minV >= slideFromV
	switch {
	case stands && c.minA > recoverDrawA && !f.rests:
		f.drew, f.last = true, c.t1
	case stands && c.maxA <= recoverA && !f.rests && !f.drew, f.rests && stands && c.maxA <= recoverA && c.maxV <= f.top()*(1+recoverStep) && c.minV >= f.climb[0].v:
		f.last = c.t1
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
