package line

import "math"

// The thorough way to read a frame: of all ways to understand the edges, as
// one or two halves of a bit, as a spike or as a pulse that was lost, the one
// that fits the transmitter's clock best. It is dynamic programming over two
// states, an edge at the start of a bit and one in its middle, and each keeps
// the clock of its own history.

// phases of an edge.
const (
	start  = 0
	middle = 1
)

// survivor is the best history that ends in one state.
type survivor struct {
	cost  float64 // infinite where there is none
	clock clock
}

// back says where a survivor came from.
type back struct {
	edge   int32
	phase  uint8
	halves uint8
	err    float32
}

// move is one way from an edge to the next.
type move struct {
	from, to uint8
	halves   float64
	cost     float64
}

// Costs are in squares of a standard deviation. A spike and a lost pulse must
// explain more than any jitter inside the mask would.
const (
	spikeCost = 10 // and as much again for each half of a bit that it is wide
	lostCost  = 16
	// far is where the cost of an error stops to grow with its square.
	far = 3
	// leastSpread and mostSpread bound the standard deviation of an edge in
	// halves of a bit: the receive mask leaves 0.14 on each side (USB PD R3.2
	// V1.1, table 5.16), a grid of 1 MS/s gives 0.19. The preamble may show less
	// than there is: where the bit is a whole number of samples, its edges all
	// fall into the same place between two.
	leastSpread = 0.15
	mostSpread  = 0.25
	// mostWrong is how far from its place an edge is still tried.
	mostWrong = 1.2
)

// moves are all the ways of the bit code. A pulse of half a bit that was lost
// leaves three halves, the other cases are not unambiguous.
var moves = [...]move{
	{start, start, 2, 0},
	{start, middle, 1, 0},
	{middle, start, 1, 0},
	{start, middle, 3, lostCost},
	{middle, start, 3, lostCost},
}

// sequencer holds the room that thorough readings share.
type sequencer struct {
	backs [][2]back // of each edge from the lock on
	last  [4][2]survivor
}

// read reads a frame from a preamble on, up to the first silence. The edges
// behind an EOP are no bits, and may pull the last ones wrong: it tries
// without them too.
func (s *sequencer) read(edges []int64, l lock, p *parser, steps []step) ([]step, clock, outcome) {
	first := l.edge + lockEdges - 1
	last := s.run(edges, l, first)
	begin := len(steps)
	var c clock
	var o outcome
	for _, without := range [...]int{0, 1, 2, 3, 0} { // the last time for what could be read of a broken frame
		end := max(last-without, first)
		best := uint8(start)
		if s.last[end%4][middle].cost < s.last[end%4][start].cost {
			best = middle
		}
		c = s.last[end%4][best].clock
		p.reset()
		var inMiddle bool
		steps, inMiddle = preambleSteps(l, p, steps[:begin])
		steps = s.trace(steps, first, end, best)
		steps, o = parse(steps, begin+lockEdges, inMiddle, p)
		if o.reason == FellSilent && last+1 < len(edges) && float64(edges[last+1]-edges[last]) < silentHalves*l.clock.half {
			o.reason = BadTiming
		}
		if o.reason == Whole {
			break
		}
	}
	return steps, c, o
}

// parse gives the bits of the steps from an index on to the parser.
func parse(steps []step, from int, inMiddle bool, p *parser) ([]step, outcome) {
	for n := from; n < len(steps); n++ {
		for _, bit := range []byte(bitsOf(int(steps[n].halves), &inMiddle)) {
			if p.push(bit) {
				return steps[:n+1], outcome{p.reason, int(steps[n].edge)}
			}
		}
	}
	return steps, outcome{FellSilent, int(steps[len(steps)-1].edge) + 1}
}

// bitsOf are the bits that a step completes.
func bitsOf(halves int, inMiddle *bool) string {
	switch {
	case halves == 2:
		return "\x00"
	case halves == 1 && *inMiddle:
		*inMiddle = false
		return "\x01"
	case halves == 1:
		*inMiddle = true
		return ""
	case *inMiddle: // three halves
		*inMiddle = false
		return "\x01\x01"
	}
	*inMiddle = true
	return "\x01"
}

// run extends both survivors edge by edge, and says where it ended.
func (s *sequencer) run(edges []int64, l lock, first int) (end int) {
	s.backs = s.backs[:0]
	none := survivor{cost: math.Inf(1)}
	for i := range s.last {
		s.last[i] = [2]survivor{none, none}
	}
	s.last[first%4][middle] = survivor{clock: l.clock} // the lock ends in the middle of a 1
	half := l.clock.half
	spread := min(max(l.clock.jitter, leastSpread*half), mostSpread*half)
	i := first + 1
	for ; i < len(edges) && float64(edges[i]-edges[i-1]) < silentHalves*half; i++ {
		if !s.extend(edges, i, first, 1/spread) {
			break
		}
	}
	return i - 1
}

// extend finds the best way to edge i; false where there is none.
func (s *sequencer) extend(edges []int64, i, first int, perSpread float64) bool {
	next := [2]survivor{{cost: math.Inf(1)}, {cost: math.Inf(1)}}
	var backs [2]back
	for _, j := range [2]int{i - 1, i - 3} {
		if j < first {
			break
		}
		for phase := range s.last[j%4] {
			from := &s.last[j%4][phase]
			if math.IsInf(from.cost, 1) {
				continue
			}
			late := from.clock.late(edges[i])
			cost := from.cost
			if j != i-1 {
				cost += spikeCost * (1 + float64(edges[i-1]-edges[i-2])/from.clock.half)
			}
			for m := range moves {
				mv := &moves[m]
				if int(mv.from) != phase {
					continue
				}
				err := late - mv.halves*from.clock.half
				if math.Abs(err) > mostWrong*from.clock.half {
					continue
				}
				if total := cost + mv.cost + costOf(err*perSpread); total < next[mv.to].cost {
					next[mv.to] = survivor{cost: total, clock: from.clock}
					backs[mv.to] = back{edge: int32(j), phase: uint8(phase), halves: uint8(mv.halves), err: float32(err)}
				}
			}
		}
	}
	s.backs = append(s.backs, backs)
	for phase := range next {
		n := &next[phase]
		if !math.IsInf(n.cost, 1) {
			limit := float64(maxPull) * n.clock.half
			n.clock.take(float64(backs[phase].halves), min(max(float64(backs[phase].err), -limit), limit))
		}
	}
	s.last[i%4] = next
	return !math.IsInf(next[start].cost, 1) || !math.IsInf(next[middle].cost, 1)
}

// maxPull is how far one edge may pull a clock, in halves of a bit.
const maxPull = 0.5

// costOf is the square of an error up to far, and a straight line from there.
func costOf(x float64) float64 {
	x = math.Abs(x)
	if x < far {
		return x * x
	}
	return far * (2*x - far)
}

// trace follows the survivor back and appends its steps in order.
func (s *sequencer) trace(steps []step, first, end int, phase uint8) []step {
	begin := len(steps)
	for i := end; i > first; {
		b := s.backs[i-first-1][phase]
		steps = append(steps, step{edge: int32(i), halves: b.halves, err: b.err})
		i, phase = int(b.edge), b.phase
	}
	for a, b := begin, len(steps)-1; a < b; a, b = a+1, b-1 {
		steps[a], steps[b] = steps[b], steps[a]
	}
	return steps
}
