package line

// step is one edge of a frame as it was understood.
type step struct {
	edge   int32 // index of the edge
	halves uint8 // of a bit since the step before it
	err    float32
}

// Bounds of an interval between edges in halves of a bit: half-way between
// those that the bit code has, and half a one beyond them.
const (
	leastHalves = 0.5
	oneOrTwo    = 1.5
	mostHalves  = 2.5
	// silentHalves without an edge are silence, not an edge that is missing.
	silentHalves = 6
)

// outcome is how the reading of one frame ended.
type outcome struct {
	reason Reason
	end    int // index of the edge behind the last bit, or where it broke
}

// follow reads bits from a preamble on, deciding edge by edge: the quick way,
// and the right one on any line that is half-way sound. steps grows.
func follow(edges []int64, l lock, p *parser, steps []step) ([]step, clock, outcome) {
	p.reset()
	c := l.clock
	steps, middle := preambleSteps(l, p, steps)
	for i := l.edge + lockEdges; i < len(edges); i++ {
		late := c.late(edges[i])
		halves := 1.0
		switch {
		case late < leastHalves*c.half, middle && late > oneOrTwo*c.half:
			return steps, c, outcome{BadTiming, i}
		case late > mostHalves*c.half:
			return steps, c, outcome{silence(late, c.half), i}
		case late > oneOrTwo*c.half:
			halves = 2
		}
		err := late - halves*c.half
		c.take(halves, err)
		steps = append(steps, step{int32(i), uint8(halves), float32(err)})
		if !middle && halves == 1 {
			middle = true
			continue
		}
		bit := byte(0)
		if middle {
			bit = 1
		}
		middle = false
		if p.push(bit) {
			return steps, c, outcome{p.reason, i}
		}
	}
	return steps, c, outcome{FellSilent, len(edges)}
}

// silence tells a line that fell silent from one edge that is missing.
func silence(late, half float64) Reason {
	if late > silentHalves*half {
		return FellSilent
	}
	return BadTiming
}

// preambleSteps gives the parser the bits of the preamble that the lock was
// found in, and says whether its last edge lies in the middle of a bit.
func preambleSteps(l lock, p *parser, steps []step) ([]step, bool) {
	halves := [periodEdges]uint8{1, 2, 1} // before an edge that begins a 0, a 1, and one in its middle
	steps = append(steps, step{edge: int32(l.edge)})
	for k := 1; k < lockEdges; k++ {
		steps = append(steps, step{edge: int32(l.edge + k), halves: halves[k%periodEdges]})
		switch k % periodEdges {
		case 0:
			p.push(1)
		case 1:
			p.push(0)
		}
	}
	return steps, (lockEdges-1)%periodEdges == 2
}
