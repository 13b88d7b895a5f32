package signs

import (
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
	pauseEdge  = 0.15 // of the swing, at its top and at its foot, that counts as there
	pauseStep  = 0.35 // of it that one step of a ramp takes at most
)

// comesDown is what the draw takes from near the top of a round to near its foot, and whether
// it does so gently.
func comesDown(d *draw.Result, starts []float64) (usualS float64, gently bool) {
	var seconds []float64 // 0 where it comes down in steps
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
				seconds, left = append(seconds, q.StartS-left), math.NaN()
			}
		}
	}
	usualS = middle(seconds)
	return usualS, usualS > max(pauseS, pauseRows*d.Sampling.IntervalS) && usualS <= pauseMostS
}
