package draw

import (
	"math"
	"slices"
)

const (
	cellSamples  = 64  // most samples of a quiet cell
	windowCells  = 256 // cells cut at once by the exact dynamic program
	commitCells  = 192 // of which so many are final; the rest waits for what follows
	cellSigmas   = 4.0 // a sample further from its cell begins a new one
	spikeSigmas  = 6.0 // one sample in 5e8 by chance
	spikeSteps   = 3.0 // nor is it the last digits of the meter
	spikeBase    = 3   // samples a baseline needs
	penaltySigma = 3.0 // beta = 3 sigma^2 ln n, the stricter use: Killick, Fearnhead & Eckley 2012; common practice
	spanV        = 1.0 // a segment holds one VBUS level
	spanShare    = 0.08
)

// cell is a run of samples with the sums that a segment needs. Times in the
// sums are relative to t0.
type cell struct {
	t0, t1       float64
	n, nV        int
	sA, sAA      float64
	sV, sVV      float64
	sT, sTT, sTA float64
	minV, maxV   float64
	minA, maxA   float64
}

func newCell(p point) cell {
	c := cell{t0: p.t, minV: math.Inf(1), maxV: math.Inf(-1), minA: math.Inf(1), maxA: math.Inf(-1)}
	c.add(p)
	return c
}

func (c *cell) add(p point) {
	c.n++
	c.t1 = p.t
	d := p.t - c.t0
	c.sA += p.a
	c.sAA += p.a * p.a
	c.sT += d
	c.sTT += d * d
	c.sTA += d * p.a
	c.minA, c.maxA = min(c.minA, p.a), max(c.maxA, p.a)
	if p.v == p.v {
		c.nV++
		c.sV += p.v
		c.sVV += p.v * p.v
		c.minV, c.maxV = min(c.minV, p.v), max(c.maxV, p.v)
	}
}

// join appends a later cell.
func (c *cell) join(b *cell) {
	d := b.t0 - c.t0
	n := float64(b.n)
	c.sTT += b.sTT + 2*d*b.sT + n*d*d
	c.sTA += b.sTA + d*b.sA
	c.sT += b.sT + n*d
	c.t1 = b.t1
	c.n, c.nV = c.n+b.n, c.nV+b.nV
	c.sA, c.sAA = c.sA+b.sA, c.sAA+b.sAA
	c.sV, c.sVV = c.sV+b.sV, c.sVV+b.sVV
	c.minV, c.maxV = min(c.minV, b.minV), max(c.maxV, b.maxV)
	c.minA, c.maxA = min(c.minA, b.minA), max(c.maxA, b.maxA)
}

func (c *cell) meanA() float64 { return c.sA / float64(c.n) }

func (c *cell) meanV() float64 {
	if c.nV == 0 {
		return math.NaN()
	}
	return c.sV / float64(c.nV)
}

func deviation(n int, sum, squares float64) float64 {
	if n < 2 {
		return 0
	}
	return math.Sqrt(max(0, squares-sum*sum/float64(n)) / float64(n-1))
}

// slope is the change of the current over time within the cell, by least
// squares; zero where it cannot be told.
func (c *cell) slope() float64 {
	n := float64(c.n)
	d := c.sTT - c.sT*c.sT/n
	if c.n < 3 || d <= 0 {
		return 0
	}
	return (c.sTA - c.sT*c.sA/n) / d
}

// segmenter cuts the current into runs of one mean: quiet stretches go into
// cells, an exact dynamic program finds the best cuts between cells.
type segmenter struct {
	cells   []cell
	open    cell
	has     bool
	held    point // a sample off the open cell; the next one says what it is
	holding bool
	spikes  []Spike // found, and not yet passed on with the segment they lie in
	lastT   float64
	work    cutter
}

func (s *segmenter) clone() segmenter {
	c := *s
	c.cells = slices.Clone(s.cells)
	c.spikes = slices.Clone(s.spikes)
	c.work = cutter{}
	return c
}

// add takes a sample. Without current in the log it is cut by VBUS alone, the
// current taken as zero.
func (s *segmenter) add(p point, n noise, out *shapes) {
	if p.a != p.a {
		p.a = 0
	}
	if s.holding {
		s.decide(p, n, out)
		return
	}
	if !s.has {
		s.open, s.has = newCell(p), true
		return
	}
	if s.near(p, n) {
		s.put(p, n, out)
		return
	}
	if s.open.n < spikeBase {
		s.start(p, n, out)
		return
	}
	s.held, s.holding = p, true
}

// near reports a sample that may belong to the open cell.
func (s *segmenter) near(p point, n noise) bool {
	if math.Abs(p.a-s.open.meanA()) > cellSigmas*n.a {
		return false
	}
	return s.sameV(p)
}

func (s *segmenter) sameV(p point) bool {
	if p.v != p.v || s.open.nV == 0 {
		return true
	}
	m := s.open.sV / float64(s.open.nV)
	return math.Abs(p.v-m) <= max(spanV/2, spanShare/2*m)
}

// decide says what the held sample was: a spike when the current is back at
// once, else the beginning of something new.
func (s *segmenter) decide(p point, n noise, out *shapes) {
	s.holding = false
	h := s.held
	if s.near(p, n) {
		base := s.open.meanA()
		off := math.Abs(h.a - base)
		switch {
		case off > max(spikeSigmas*n.a, spikeSteps*n.qa):
			s.spikes = append(s.spikes, Spike{TimeS: h.t, PeakA: h.a, BaselineA: base, DurationS: max(0, h.t-s.open.t1), VoltageV: h.v})
		case s.sameV(h):
			s.put(h, n, out)
		default:
			s.start(h, n, out)
			s.start(p, n, out)
			return
		}
		s.put(p, n, out)
		return
	}
	s.start(h, n, out)
	if s.near(p, n) {
		s.put(p, n, out)
	} else {
		s.start(p, n, out)
	}
}

func (s *segmenter) put(p point, n noise, out *shapes) {
	if s.open.n >= cellSamples {
		s.start(p, n, out)
		return
	}
	s.open.add(p)
}

func (s *segmenter) start(p point, n noise, out *shapes) {
	s.cells = append(s.cells, s.open)
	s.open = newCell(p)
	if len(s.cells) >= windowCells {
		s.commit(commitCells, n, out)
	}
}

// flush ends the stretch: everything held is cut and passed on.
func (s *segmenter) flush(n noise, out *shapes) {
	if s.holding {
		s.cells = append(s.cells, s.open)
		s.open = newCell(s.held)
		s.holding = false
	}
	if s.has {
		s.cells = append(s.cells, s.open)
		s.has = false
	}
	s.commit(len(s.cells), n, out)
	for _, c := range s.cells {
		s.pass(c, out)
	}
	s.cells = s.cells[:0]
	for _, k := range s.spikes {
		out.spike(k)
	}
	s.spikes = s.spikes[:0]
}

// commit cuts the window and passes on what ends within its first limit cells.
// The last piece stays as one cell, since it may go on.
func (s *segmenter) commit(limit int, n noise, out *shapes) {
	ends := s.work.cut(s.cells, penaltySigma*n.a*n.a*math.Log(float64(max(n.count, 8))))
	var pieces []cell
	from := 0
	for _, end := range ends {
		if end > limit {
			end = limit
		}
		if end > from {
			c := s.cells[from]
			for i := from + 1; i < end; i++ {
				c.join(&s.cells[i])
			}
			pieces = append(pieces, c)
			from = end
		}
	}
	if len(pieces) == 0 {
		return
	}
	for _, c := range pieces[:len(pieces)-1] {
		s.pass(c, out)
	}
	rest := s.cells[from:]
	s.cells = append(append(s.cells[:0:0], pieces[len(pieces)-1]), rest...)
}

// pass hands a segment on, and after it the spikes that lie in it.
func (s *segmenter) pass(c cell, out *shapes) {
	out.segment(c)
	k := 0
	for k < len(s.spikes) && s.spikes[k].TimeS <= c.t1 {
		out.spike(s.spikes[k])
		k++
	}
	s.spikes = append(s.spikes[:0], s.spikes[k:]...)
}

// cutter finds the partition of cells with the least sum of squared
// deviations and penalties: optimal partitioning, Jackson et al. 2005.
type cutter struct {
	best       []float64
	from       []int
	n, sA, sAA []float64
}

// cut returns the ends (exclusive) of the segments.
func (w *cutter) cut(cells []cell, beta float64) []int {
	k := len(cells)
	if k == 0 {
		return nil
	}
	w.prepare(cells)
	for end := 1; end <= k; end++ {
		w.best[end] = math.Inf(1)
		low, high := math.Inf(1), math.Inf(-1)
		n, sA, sAA := w.n[end], w.sA[end], w.sAA[end]
		for start := end - 1; start >= 0; start-- {
			if c := &cells[start]; c.nV > 0 {
				m := c.sV / float64(c.nV)
				low, high = min(low, m), max(high, m)
				if high-low > spanV && high-low > spanShare*high {
					break
				}
			}
			d := sA - w.sA[start]
			cost := w.best[start] + beta + max(0, sAA-w.sAA[start]-d*d/(n-w.n[start]))
			if cost < w.best[end] {
				w.best[end], w.from[end] = cost, start
			}
		}
	}
	var ends []int
	for end := k; end > 0; end = w.from[end] {
		ends = append(ends, end)
	}
	slices.Reverse(ends)
	return ends
}

func (w *cutter) prepare(cells []cell) {
	k := len(cells)
	if cap(w.best) < k+1 {
		w.best, w.from = make([]float64, k+1), make([]int, k+1)
		w.n, w.sA, w.sAA = make([]float64, k+1), make([]float64, k+1), make([]float64, k+1)
	}
	w.best, w.from = w.best[:k+1], w.from[:k+1]
	w.n, w.sA, w.sAA = w.n[:k+1], w.sA[:k+1], w.sAA[:k+1]
	w.best[0] = 0
	for i, c := range cells {
		w.n[i+1] = w.n[i] + float64(c.n)
		w.sA[i+1] = w.sA[i] + c.sA
		w.sAA[i+1] = w.sAA[i] + c.sAA
	}
}
