package draw

import (
	"math"
	"slices"
)

// Recurrence is a course of the draw that comes again and again while VBUS stands, in whatever shape:
// found by how alike the draw is to itself one period ago.
type Recurrence struct {
	StartS, EndS float64
	PeriodS      float64
	Rounds       int
	Likeness     float64 // 1 where each round is the same as the one before
	LowA, HighA  float64 // all but the lowest and the highest twentieth lie between
	LowW         float64 // what LowA takes
	Works        float64 // of the time, well above LowA
}

// Common practice.
const (
	recurBinS   = 0.1
	recurBins   = 600  // looked at together
	recurMostS  = 13.0 // of a period
	recurLeast  = 6    // bins of a period
	recurRounds = 5
	recurDip    = 0.3  // likeness in between: what changes slowly is like itself for a while
	recurAlike  = 0.85 // likeness of rounds
	recurBetter = 0.02 // by which two periods are more alike than one, where they are the round
	recurSwingA = 0.15
	recurTail   = 0.05
	recurWorks  = 0.3  // of the way from low to high
	recurStands = 0.85 // of the highest VBUS so far
)

// recurFinder puts the draw into bins of one length and compares them with those before.
type recurFinder struct {
	fromS, binS float64 // begin and length of the bin that is filled
	sumA        float64
	n           int
	amps        []float64 // the bins so far, the first at startS
	startS      float64
	topV        float64
	lastS       float64
	out         keep[Recurrence]
}

func newRecurFinder() *recurFinder {
	return &recurFinder{out: keep[Recurrence]{size: func(r Recurrence) float64 { return r.Likeness * float64(r.Rounds) }}}
}

func (f *recurFinder) clone() finder {
	c := *f
	c.amps, c.out = slices.Clone(f.amps), f.out.clone()
	return &c
}

func (f *recurFinder) result(r *Result, left *int) {
	c := f.clone().(*recurFinder)
	c.look()
	r.Recurs = c.out.take(left)
}

// add takes a sample with both quantities.
func (f *recurFinder) add(p point, n *noise) {
	if p.t-f.lastS > max(minGapS, gapFactor*n.intervalS) || p.v < FiveFrom || p.v < recurStands*f.topV {
		f.begin(p.t)
	}
	f.lastS = p.t
	if p.v < FiveFrom {
		return
	}
	f.fill(p.t, n)
	f.topV = max(f.topV, p.v)
	f.sumA, f.n = f.sumA+p.a, f.n+1
}

// begin looks at what there is, and begins anew.
func (f *recurFinder) begin(t float64) {
	f.look()
	f.amps, f.startS, f.topV = f.amps[:0], t, 0
	f.fromS, f.binS, f.sumA, f.n = t, 0, 0, 0
}

// fill closes the bins that end before t.
func (f *recurFinder) fill(t float64, n *noise) {
	if f.binS == 0 {
		f.binS = max(recurBinS, n.intervalS)
	}
	for f.n > 0 && t >= f.fromS+f.binS {
		a := f.sumA / float64(f.n)
		f.amps = append(f.amps, a)
		f.fromS += f.binS
		if t < f.fromS+f.binS {
			f.sumA, f.n = 0, 0
		}
		if len(f.amps) == recurBins {
			f.look()
			half := len(f.amps) / 2
			f.startS += float64(half) * f.binS
			f.amps = append(f.amps[:0], f.amps[half:]...)
		}
	}
}

// look keeps what recurs in the bins.
func (f *recurFinder) look() {
	if len(f.amps) < recurRounds*recurLeast {
		return
	}
	order := slices.Sorted(slices.Values(f.amps))
	tail := int(recurTail * float64(len(order)))
	low, high := order[tail], order[len(order)-1-tail]
	if high-low < recurSwingA {
		return
	}
	period, alike := f.period()
	rounds := 0
	if period > 0 {
		rounds = len(f.amps) / period
	}
	if alike < recurAlike || period < recurLeast || rounds < recurRounds {
		return
	}
	works := 0
	for _, a := range f.amps {
		if a > low+recurWorks*(high-low) {
			works++
		}
	}
	f.out.add(Recurrence{
		StartS: f.startS, EndS: f.startS + float64(len(f.amps))*f.binS, PeriodS: float64(period) * f.binS, Rounds: rounds,
		Likeness: alike, LowA: low, HighA: high, LowW: low * f.topV, Works: float64(works) / float64(len(f.amps)),
	})
}

// period is the number of bins after which the draw is most like itself, once it was not.
func (f *recurFinder) period() (bins int, alike float64) {
	x, mean, spread := f.amps, 0.0, 0.0
	for _, a := range x {
		mean += a / float64(len(x))
	}
	for _, a := range x {
		spread += (a - mean) * (a - mean) / float64(len(x))
	}
	dip := 1.0
	for lag := 2; lag <= len(x)/recurRounds && float64(lag)*f.binS <= recurMostS; lag++ {
		unlike := 0.0
		for i := lag; i < len(x); i++ {
			unlike += (x[i] - x[i-lag]) * (x[i] - x[i-lag])
		}
		like := 1 - unlike/float64(len(x)-lag)/(2*spread)
		dip = math.Min(dip, like)
		if dip < recurDip && like > alike+recurBetter {
			bins, alike = lag, like
		}
	}
	return bins, alike
}

// addChunk takes a chunk that lies in one bin by its sums.
func (f *recurFinder) addChunk(c *chunk, n *noise) {
	last := c.samples[len(c.samples)-1]
	if f.n > 0 && c.minV >= FiveFrom && c.minV >= recurStands*f.topV && c.t0-f.lastS <= minGapS && last.t < f.fromS+f.binS {
		f.topV, f.lastS = max(f.topV, c.maxV), last.t
		f.sumA, f.n = f.sumA+c.sA, f.n+c.n
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
