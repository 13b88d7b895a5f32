package draw

import (
	"math"
	"slices"

	"portside/decode/series"
)

const (
	cellSamples  = 256 // most samples of a quiet cell: a shift that hides in one is less than joins two steady draws
	windowCells  = 128 // cells cut at once by the exact dynamic program
	commitCells  = 96  // of which so many are final; the rest waits for what follows
	cellSigmas   = 4.0 // a sample further from its cell begins a new one
	shiftSigmas  = 1.0 // CUSUM's allowance: a lasting shift by twice this ends a cell too, Page 1954
	shiftLimit   = 4.0 // and its decision interval: one false alarm in 10,000 samples at this allowance
	shiftBase    = 4   // samples whose mean it is held against
	spikeSigmas  = 6.0 // one sample in 5e8 by chance
	spikeSteps   = 3.0 // nor is it the last digits of the meter
	spikeBase    = 3   // samples a baseline needs
	penaltySigma = 3.0 // beta = 3 sigma^2 ln n, the stricter use: Killick, Fearnhead & Eckley 2012; common practice
	leastCounted = 8   // samples that the penalty counts at least
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
	at           int // its first sample in the window, -1 where they are no longer held
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
// cells, the best cuts between cells are found at once over a window, and each
// cut is then moved to the sample where it fits best.
type segmenter struct {
	cells   []cell
	samples []point // of the cells, in order, spikes left out
	open    cell
	has     bool
	shift   series.CUSUM // of the open cell, in units of the noise
	held    point        // a sample off the open cell; the next one says what it is
	holding bool
	spikes  []Spike // found, and not yet passed on with the segment they lie in
	began   bool
	lastT   float64 // of the last sample
	noise   noise   // with it
}

func (s *segmenter) clone() segmenter {
	c := *s
	c.cells = slices.Clone(s.cells)
	c.samples = slices.Clone(s.samples)
	c.spikes = slices.Clone(s.spikes)
	return c
}

// add takes a sample.
func (s *segmenter) add(p point, n noise, out *shapes) {
	s.noise = n
	if s.holding {
		s.decide(p, n, out)
		return
	}
	if !s.has {
		s.begin(p)
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
	if s.open.n >= cellSamples || s.shifted(p.a, n) {
		s.start(p, n, out)
		return
	}
	s.open.add(p)
	s.samples = append(s.samples, p)
}

// alike reports a chunk that goes on as the open cell does: no sample of it is
// off, VBUS is the same, and the current does not shift.
func (s *segmenter) alike(c *chunk, n noise) bool {
	if !s.has || s.holding || s.open.n < shiftBase {
		return false
	}
	mean := s.open.meanA()
	if c.maxA-mean > cellSigmas*n.a || mean-c.minA > cellSigmas*n.a {
		return false
	}
	if !s.sameV(point{v: c.minV}) || !s.sameV(point{v: c.maxV}) {
		return false
	}
	shift, scale := s.shift, 1/n.a
	for i := range c.samples {
		if _, _, alarm := shift.Add((c.samples[i].a - mean) * scale); alarm {
			return false
		}
	}
	s.shift = shift
	return true
}

// addChunk adds a chunk that is alike.
func (s *segmenter) addChunk(c *chunk, n noise, out *shapes) {
	s.noise = n
	full := s.open.n+c.n > cellSamples
	if full {
		s.cells = append(s.cells, s.open)
		s.open = c.cell
		s.shift.Reset()
		s.open.at = len(s.samples)
	} else {
		s.open.join(&c.cell)
	}
	s.samples = append(s.samples, c.samples...)
	if full && len(s.cells) >= windowCells {
		s.commit(commitCells, n, out)
	}
}

// shifted reports a lasting shift too small for a single sample to show.
func (s *segmenter) shifted(a float64, n noise) bool {
	if s.open.n < shiftBase {
		return false
	}
	_, _, alarm := s.shift.Add((a - s.open.meanA()) / n.a)
	return alarm
}

func (s *segmenter) begin(p point) {
	s.open, s.has = newCell(p), true
	s.open.at = len(s.samples)
	s.shift = series.CUSUM{K: shiftSigmas, H: shiftLimit}
	s.samples = append(s.samples, p)
}

func (s *segmenter) start(p point, n noise, out *shapes) {
	s.cells = append(s.cells, s.open)
	s.begin(p)
	if len(s.cells) >= windowCells {
		s.commit(commitCells, n, out)
	}
}

// flush ends the stretch: everything held is cut and passed on.
func (s *segmenter) flush(out *shapes) {
	if s.holding {
		s.cells = append(s.cells, s.open)
		s.begin(s.held)
		s.holding = false
	}
	if s.has {
		s.cells = append(s.cells, s.open)
		s.has = false
	}
	s.commit(len(s.cells), s.noise, out)
	for _, c := range s.cells {
		s.pass(c, out)
	}
	s.cells, s.samples = s.cells[:0], s.samples[:0]
	for _, k := range s.spikes {
		out.spike(k)
	}
	s.spikes = s.spikes[:0]
}

// commit cuts the window and passes on what ends within its first limit cells.
// The last piece stays, since it may go on: joined, but for its last cells,
// which a later cut may move into.
func (s *segmenter) commit(limit int, n noise, out *shapes) {
	ends := s.cut(n)
	from := 0
	var last cell
	lastFrom := 0
	for _, end := range ends {
		end = min(end, limit)
		if end <= from {
			break
		}
		if from > 0 {
			s.pass(last, out)
		}
		last, lastFrom = joinAll(s.cells[from:end]), from
		from = end
	}
	if from == 0 {
		return
	}
	if from == len(s.cells) && !s.has {
		s.cells = append(s.cells[:0], last)
		return
	}
	s.keep(lastFrom, from)
}

// keepCells is how many cells of the last piece stay as they are.
const keepCells = 2

// keep drops the cells before from, and joins those from there to to but the
// last ones.
func (s *segmenter) keep(from, to int) {
	rest := s.cells[from:]
	if head := to - from - keepCells; head > 1 {
		joined := joinAll(rest[:head])
		joined.at = -1
		rest = rest[head-1:]
		rest[0] = joined
	}
	s.cells = append(s.cells[:0], rest...)
	first := s.open.at
	for _, c := range s.cells {
		if c.at >= 0 {
			first = c.at
			break
		}
	}
	s.samples = append(s.samples[:0], s.samples[first:]...)
	s.open.at -= first
	for i := range s.cells {
		if s.cells[i].at >= 0 {
			s.cells[i].at -= first
		}
	}
}

func joinAll(cells []cell) cell {
	c := cells[0]
	for i := 1; i < len(cells); i++ {
		c.join(&cells[i])
	}
	return c
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

// cut returns the ends (exclusive) of the segments: where VBUS leaves its
// level, and between these where the penalised deviation is least.
func (s *segmenter) cut(n noise) []int {
	beta := series.Beta(penaltySigma, n.a, max(n.count, leastCounted))
	var out []int
	for from := 0; from < len(s.cells); {
		to := s.levelEnd(from)
		moments := make([]series.Moments, 0, to-from)
		for _, c := range s.cells[from:to] {
			moments = append(moments, series.Moments{N: float64(c.n), Sum: c.sA, Squares: c.sAA})
		}
		first := len(out)
		for _, end := range series.PELT(moments, beta, 1).Ends {
			out = append(out, from+end)
		}
		s.refine(from, out[first:])
		from = to
	}
	return out
}

// levelEnd is the first cell after from whose VBUS is another level's.
func (s *segmenter) levelEnd(from int) int {
	low, high := math.Inf(1), math.Inf(-1)
	for i := from; i < len(s.cells); i++ {
		if s.cells[i].nV == 0 {
			continue
		}
		m := s.cells[i].meanV()
		low, high = min(low, m), max(high, m)
		if high-low > spanV && high-low > spanShare*high {
			return i
		}
	}
	return len(s.cells)
}

// refine moves each cut to the sample where both sides fit best, within the two
// cells that meet there.
func (s *segmenter) refine(from int, ends []int) {
	for i := 0; i+1 < len(ends); i++ {
		mid := ends[i]
		l, r := &s.cells[mid-1], &s.cells[mid]
		if l.at < 0 || r.at < 0 || l.n+r.n <= 2 {
			from = mid
			continue
		}
		before, after := joinAll(s.cells[from:mid]), joinAll(s.cells[mid:ends[i+1]])
		samples := s.samples[l.at : r.at+r.n]
		if best := bestCut(samples, l.n, before, after); best != l.n {
			*l, *r = cellOf(samples[:best], l.at), cellOf(samples[best:], l.at+best)
		}
		from = mid
	}
}

// bestCut is where before should end among the samples around its end, which
// stand at now. What both sides save is n times the square of their means.
func bestCut(samples []point, now int, before, after cell) int {
	n1, s1 := float64(before.n-now), before.sA
	n2, s2 := float64(after.n+now), after.sA
	for _, p := range samples[:now] {
		s1 -= p.a
		s2 += p.a
	}
	best, most := now, math.Inf(-1)
	for i, p := range samples[:len(samples)-1] {
		n1, s1, n2, s2 = n1+1, s1+p.a, n2-1, s2-p.a
		if saved := s1*s1/n1 + s2*s2/n2; saved > most {
			best, most = i+1, saved
		}
	}
	return best
}

func cellOf(samples []point, at int) cell {
	c := newCell(samples[0])
	for _, p := range samples[1:] {
		c.add(p)
	}
	c.at = at
	return c
}
