package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

// A start that fails at the same point each time climbs by the same stages and is cut off at
// its top. What wakes for a moment takes its most at once, and lets go by and by. Common
// practice.
const (
	stagesFrom   = 4    // rounds
	stagesSpread = 0.12 // between their lengths, and between what they take
	stagesFloorA = 0.02 // between them at most: a controller and its switch
	stagesFloorS = 0.1
	stagesClimb  = 1.6 // times the first stage is the last
	stagesTop    = 0.8 // of the most that the last stage takes at least
	stagesRows   = 3   // rows that a round has at least
	stagesLastS  = 1.0 // rounds before the end: a start that comes off in the end is one
	stagesLeastA = 0.05
)

// climb is one climb above the floor.
type climb struct {
	startS, endS float64
	first, mostA float64
	before, last float64 // stages: a row that the cut falls into is one of its own
	chargeC      float64
	stages, rows int
}

func (r *climb) take(q draw.Plateau, intervalS float64) {
	if r.stages == 0 {
		r.startS, r.first = q.StartS, amps(q)
	}
	r.stages++
	r.rows += q.N
	r.before, r.last = r.last, amps(q)
	r.endS, r.mostA = q.EndS, max(r.mostA, amps(q))
	r.chargeC += amps(q) * (q.EndS - q.StartS + intervalS)
}

func (r *climb) climbs() bool {
	return r.stages > 1 && r.rows >= stagesRows && r.mostA >= stagesLeastA && max(r.before, r.last) >= stagesTop*r.mostA && r.mostA >= stagesClimb*r.first
}

// stages tells a draw that climbs by the same stages again and again, and each time falls
// from its top to next to nothing while the contract stands.
func (p Picture) stages(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() {
		return nil, ""
	}
	rounds, floorA := climbsOf(d)
	whole := slices.IndexFunc(rounds, func(r climb) bool { return r.climbs() }) // capacitors fill first
	if whole < 0 || len(rounds)-whole < stagesFrom {
		return nil, ""
	}
	rounds = rounds[whole:]
	var lengths, charges []float64
	for i, r := range rounds {
		if !r.climbs() {
			return nil, ""
		}
		charges = append(charges, r.chargeC)
		if i > 0 {
			lengths = append(lengths, r.startS-rounds[i-1].startS)
		}
	}
	last := rounds[len(rounds)-1]
	usual, blur := middle(lengths), 2*d.Sampling.IntervalS
	if !alike(lengths, stagesSpread*usual+blur) || !alike(charges, stagesSpread*middle(charges)+blur*last.mostA) || d.Sampling.EndS-last.endS > (1+stagesLastS)*usual {
		return nil, ""
	}
	return Exactly(DrawStages), fmt.Sprintf("%d times from %.2f s on, each %.3g s, the draw climbs from %.2g A to %.2g A and falls to %.0f mA, while VBUS stands",
		len(rounds), rounds[0].startS, usual, rounds[0].first, last.mostA, 1000*max(0, floorA))
}

// alike reports values that lie no further apart.
func alike(values []float64, apart float64) bool {
	return slices.Max(values)-slices.Min(values) <= apart
}

// climbsOf are the whole rounds above the floor, and the floor's mean.
func climbsOf(d *draw.Result) (rounds []climb, floorA float64) {
	var open climb
	floorS, rests, began := 0.0, 0.0, false
	for _, q := range d.Plateaus {
		lasts := q.EndS - q.StartS + d.Sampling.IntervalS
		switch {
		case volts(q) < contractV:
			rounds, open, rests, began = nil, climb{}, 0, false
		case amps(q) <= stagesFloorA:
			if open.stages > 0 && began {
				rounds = append(rounds, open)
			}
			open = climb{}
			floorS, rests, began = floorS+lasts, rests+lasts, true
			floorA += (amps(q) - floorA) * lasts / floorS
		default:
			if open.stages == 0 && rests < stagesFloorS {
				began = began && len(rounds) > 0
			}
			rests = 0
			open.take(q, d.Sampling.IntervalS)
		}
	}
	return rounds, floorA
}
