package draw

import (
	"math"
	"slices"

	"portside/decode/series"
)

// Dip is VBUS lower for a while at an unchanged current, and back again: the resistance
// upstream of the meter jumps.
type Dip struct {
	StartS, EndS float64
	FromV, ToV   float64
	AtA          float64
}

const (
	dipOhm      = 0.1  // twice what a worn contact adds: USB Type-C R2.0 section 3.7.8.1
	dipLeastA   = 0.5  // at less that is no more than a meter's digits. This and what follows: common practice
	dipSameA    = 0.15 // a converter takes that much more from VBUS as low as a dip leaves it
	dipLongest  = 5.0  // longer is another state
	dipSigmas   = 6.0  // nor is it noise
	dipSteps    = 3.0  // of the meter's resolution
	dipRefRows  = 3    // rows that make a standing voltage
	dipMemory   = 64   // rows that its mean follows
	dipDeepest  = 0.5  // of where it stood: lower is a fall
	dipBackPart = 0.5  // of the least dip: nearer to where it stood is back
	dipWayS     = 0.05 // a contact opens at once: what takes longer on its way, by more than two rows, is a supply that walks
	dipWayRows  = 2.5
	dipNear     = 32 // rows that tell the noise under this draw: a meter's noise may grow with its reading
	dipNearRows = 8  // fewer tell nothing
)

// dipFinder follows VBUS about where it stands under a draw that stands.
type dipFinder struct {
	v, a float64 // where they stand
	n    int     // rows behind that, 0 for none
	low  float64 // the lowest VBUS of the open dip
	from float64 // its time; NaN where none is open
	left float64 // time at which VBUS left where it stands, on its way down; NaN where it did not
	last float64 // VBUS of the row before, under the same draw; NaN after another state
	near [dipNear]float64
	rows int // behind near, the latest over the oldest
	out  keep[Dip]
}

func newDipFinder() *dipFinder {
	f := &dipFinder{out: keep[Dip]{size: func(d Dip) float64 { return (d.FromV - d.ToV) / d.AtA }}}
	f.reset()
	return f
}

func (f *dipFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

func (f *dipFinder) result(r *Result, left *int) { r.Dips = f.out.take(left) }

func (f *dipFinder) reset() { f.n, f.from, f.left, f.last = 0, math.NaN(), math.NaN(), math.NaN() }

// note keeps by how much VBUS moves from row to row under the draw.
func (f *dipFinder) note(v float64) {
	if f.last == f.last {
		f.near[f.rows%dipNear] = math.Abs(v - f.last)
		f.rows++
	}
	f.last = v
}

// noisy reports a difference that the noise of the rows nearby may be. Their
// median is hardly moved by a contact that opens now and then.
func (f *dipFinder) noisy(volts float64) bool {
	n := min(f.rows, dipNear)
	if n < dipNearRows {
		return false
	}
	d := slices.Clone(f.near[:n])
	slices.Sort(d)
	return volts < dipSigmas*series.MADToSigma*d[n/2]/math.Sqrt2
}

// bar is the least that counts.
func (f *dipFinder) bar(n *noise) float64 {
	return max(dipOhm*f.a, dipSigmas*n.v, dipSteps*n.qv)
}

// add takes a sample with both quantities.
func (f *dipFinder) add(p point, n *noise) {
	open := f.from == f.from
	same := math.Abs(p.a-f.a) <= dipSameA*f.a
	least := f.bar(n)
	if p.a >= dipLeastA && p.v >= slideFromV && f.n > 0 && same {
		f.note(p.v)
	}
	switch {
	case p.a < dipLeastA || p.v < slideFromV:
		f.reset()
	case f.n == 0 || !same:
		f.reset()
		f.v, f.a, f.n = p.v, p.a, 1
	case math.Abs(p.v-f.v) <= dipBackPart*least:
		if open && !f.noisy(f.v-f.low) {
			f.out.add(Dip{StartS: f.from, EndS: p.t, FromV: f.v, ToV: f.low, AtA: f.a})
		}
		f.from, f.left = math.NaN(), math.NaN()
		f.n = min(f.n+1, dipMemory)
		f.v += (p.v - f.v) / float64(f.n)
		f.a += (p.a - f.a) / float64(f.n)
	case open && p.t-f.from <= dipLongest && p.v < f.v && p.v > dipDeepest*f.v:
		f.low = min(f.low, p.v)
	case !open && f.n >= dipRefRows && p.v < f.v && p.v > dipDeepest*f.v && !f.walks(p.t, n):
		if p.v < f.v-least {
			f.from, f.low = p.t, p.v
		}
	default:
		f.from, f.left = math.NaN(), math.NaN()
		f.v, f.a, f.n = p.v, p.a, 1
	}
}

// walks reports VBUS that is on its way down for longer than a contact takes to open.
func (f *dipFinder) walks(t float64, n *noise) bool {
	if f.left != f.left {
		f.left = t
	}
	return t-f.left > max(dipWayS, dipWayRows*n.intervalS)
}

// addChunk passes over a chunk that stands where VBUS stood.
func (f *dipFinder) addChunk(c *chunk, n *noise) {
	part := dipBackPart * f.bar(n)
	switch {
	case c.maxA < dipLeastA:
		f.reset()
	case f.n >= dipRefRows && f.from != f.from && math.Abs(c.minV-f.v) <= part && math.Abs(c.maxV-f.v) <= part &&
		math.Abs(c.minA-f.a) <= dipSameA*f.a && math.Abs(c.maxA-f.a) <= dipSameA*f.a:
		f.n, f.last = dipMemory, math.NaN()
		f.v += (c.meanV() - f.v) / 2
		f.a += (c.meanA() - f.a) / 2
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
