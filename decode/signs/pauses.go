package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// A charge that something lets down does so by a ramp: a pack that is warm, a limit that is set.
// Common practice.
const (
	pauseS     = 0.35 // that it takes; what trips ends at once
	pauseRows  = 3.5  // or so many rows
	pauseMostS = 2.0  // a load that comes off part by part takes longer
	pauseLongS = 12.0 // and what is let down evenly may take so long
	pauseEdge  = 0.15 // of the swing, at its top and at its foot, that counts as there
	pauseStep  = 0.35 // of it that one step of a ramp takes at most
	pauseEven  = 0.15 // and of one that takes long
)

// letsGo looks for rounds whose draw is let down by design.
func letsGo(d *draw.Result, starts []float64) (Seen, string) {
	if len(starts) < glimpses {
		return nil, ""
	}
	s, gently := comesDown(d, starts)
	if !gently {
		return nil, ""
	}
	return Exactly(DrawPauses), fmt.Sprintf("%d times from %.2f s on the draw goes down by a ramp of %.2g s and comes back, as a charge that is let go of by design, while VBUS stands", len(starts), starts[0], s)
}

// comesDown is what the draw takes from near the top of a round to near its foot, and whether
// it does so gently.
func comesDown(d *draw.Result, starts []float64) (usualS float64, gently bool) {
	var seconds, steps []float64 // s, 0 where it comes down in steps; the largest step's share of the swing
	i := 0
	for n := range starts[1:] {
		for i < len(d.Plateaus) && d.Plateaus[i].EndS < starts[n] {
			i++
		}
		round := d.Plateaus[i:]
		if end := slices.IndexFunc(round, func(q draw.Plateau) bool { return q.StartS >= starts[n+1] }); end >= 0 {
			round = round[:end]
		}
		top, foot := 0.0, math.Inf(1)
		for _, q := range round {
			if q.EndS-q.StartS+d.Sampling.IntervalS >= beganS {
				top, foot = max(top, amps(q)), min(foot, amps(q))
			}
		}
		edge, left, largest, last := pauseEdge*(top-foot), math.NaN(), 0.0, top
		for _, q := range round {
			largest, last = max(largest, last-amps(q)), amps(q)
			switch {
			case amps(q) >= top-edge:
				left, largest = q.EndS, 0
			case amps(q) > foot+edge || left != left:
			case largest > pauseStep*(top-foot):
				seconds, left = append(seconds, 0), math.NaN()
			default:
				seconds, steps, left = append(seconds, q.StartS-left), append(steps, largest/(top-foot)), math.NaN()
			}
		}
	}
	usualS = middle(seconds)
	most := pauseMostS
	if middle(steps) <= pauseEven {
		most = pauseLongS
	}
	return usualS, usualS > max(pauseS, pauseRows*d.Sampling.IntervalS) && usualS <= most
}
