package draw

import (
	"math"
	"slices"
)

const maxBins = 1024

// crowded is how many bins may be left over from a merge that spares the gaps. A log of
// more gaps than that has them in its bins.
const crowded = maxBins * 3 / 4

// trace keeps the extent of the samples over time. When its bins are full
// they are merged in pairs, so no extreme is ever lost. A gap lies between bins.
type trace struct {
	bins  []Bin
	per   int // samples a bin takes
	total int
}

// add takes a sample; more than gapS after the last one is a gap.
func (tr *trace) add(p point, gapS float64) {
	tr.total++
	if b := tr.room(1); b != nil && p.t-b.EndS <= gapS {
		b.add(p)
		return
	}
	if len(tr.bins) == maxBins {
		tr.per *= 2
		if tr.merge(gapS); len(tr.bins) > crowded {
			tr.merge(math.Inf(1))
		}
	}
	nan := math.NaN()
	b := Bin{StartS: p.t, EndS: p.t, MinV: nan, MaxV: nan, MinA: nan, MaxA: nan}
	b.add(p)
	tr.bins = append(tr.bins, b)
}

// merge merges neighbours that no gap parts.
func (tr *trace) merge(gapS float64) {
	out := tr.bins[:0]
	for i := 0; i < len(tr.bins); i++ {
		b := tr.bins[i]
		if i+1 < len(tr.bins) && tr.bins[i+1].StartS-b.EndS <= gapS {
			b = merged(b, tr.bins[i+1])
			i++
		}
		out = append(out, b)
	}
	tr.bins = out
}

// addChunk takes a chunk at once where the last bin has room for it.
func (tr *trace) addChunk(c *chunk, gapS float64) {
	b := tr.room(c.n)
	if b == nil {
		for _, p := range c.samples {
			tr.add(p, gapS)
		}
		return
	}
	tr.total += c.n
	*b = merged(*b, Bin{StartS: c.t0, EndS: c.t1, N: c.n, MinV: c.minV, MaxV: c.maxV, MinA: c.minA, MaxA: c.maxA})
}

// room is the last bin where it has room for n samples more.
func (tr *trace) room(n int) *Bin {
	tr.per = max(1, tr.per)
	if last := len(tr.bins) - 1; last >= 0 && tr.bins[last].N+n <= tr.per {
		return &tr.bins[last]
	}
	return nil
}

// lastT is the time of the last sample, NaN before any.
func (tr *trace) lastT() float64 {
	if len(tr.bins) == 0 {
		return math.NaN()
	}
	return tr.bins[len(tr.bins)-1].EndS
}

func (b *Bin) add(p point) {
	b.N++
	b.EndS = p.t
	if p.v == p.v && !(p.v >= b.MinV && p.v <= b.MaxV) {
		b.MinV, b.MaxV = least(b.MinV, p.v), most(b.MaxV, p.v)
	}
	if p.a == p.a && !(p.a >= b.MinA && p.a <= b.MaxA) {
		b.MinA, b.MaxA = least(b.MinA, p.a), most(b.MaxA, p.a)
	}
}

func merged(a, b Bin) Bin {
	return Bin{
		StartS: a.StartS, EndS: b.EndS, N: a.N + b.N,
		MinV: least(a.MinV, b.MinV), MaxV: most(a.MaxV, b.MaxV),
		MinA: least(a.MinA, b.MinA), MaxA: most(a.MaxA, b.MaxA),
	}
}

// least and most take the other one where one is NaN.
func least(a, b float64) float64 {
	if a < b || math.IsNaN(b) {
		return a
	}
	return b
}

func most(a, b float64) float64 {
	if a > b || math.IsNaN(b) {
		return a
	}
	return b
}

func (tr *trace) result() []Bin {
	if tr.bins == nil {
		return []Bin{}
	}
	return slices.Clone(tr.bins)
}
