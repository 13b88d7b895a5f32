package signs

import (
	"slices"

	"portside/decode/draw"
)

// A machine that is used rests at its standby and works when it is asked to. What a fault
// cuts off goes down to next to nothing before its rails come back, or does so at a beat.
// Common practice.
const (
	useRests  = 3   // to tell a beat
	useSpread = 1.4 // the longest rest over the shortest
	useRestS  = 3.0 // usual rest: what tries again waits for less, or always for as long
	useBriefS = 1.0 // or so long, where all that is on in a sleep goes on
	useAwakeA = 0.03
)

// restsSeen are the stretches without work in a draw that comes and goes.
type restsSeen struct {
	lengths []float64
	leastA  float64 // of all that held
	open    float64 // how long the rest so far is
}

// note takes the plateaus in order, with how long the machine had worked before.
func (r *restsSeen) note(q draw.Plateau, lasts, worked float64) {
	if worked == 0 && len(r.lengths) == 0 && r.open == 0 {
		return // nothing was stopped yet
	}
	if *q.CurrentA > standbyA {
		if r.open >= onAndOffLast {
			r.lengths = append(r.lengths, r.open)
		}
		r.open = 0
		return
	}
	if len(r.lengths) == 0 && r.open == 0 {
		r.leastA = *q.CurrentA
	}
	r.open += lasts
	r.leastA = min(r.leastA, *q.CurrentA)
}

// use is how the rests look: of use where they are of all lengths at a standby, of a fault
// where something goes down to nothing or keeps a beat, and either where they are too few.
func (r *restsSeen) use(s draw.Sampling) Seen {
	if r.leastA <= quietA {
		return Exactly(DrawOnOff)
	}
	if len(r.lengths) < useRests {
		return Seen{DrawOnOff: 1, DrawInUse: 1}
	}
	sorted := slices.Sorted(slices.Values(r.lengths))
	least, most := sorted[0], sorted[len(sorted)-1]
	usual := middle(sorted)
	if usual < useRestS && (usual < useBriefS || r.leastA <= useAwakeA) || most < useSpread*least+2*s.IntervalS {
		return Exactly(DrawOnOff)
	}
	return Exactly(DrawInUse)
}
