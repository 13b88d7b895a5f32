package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

// A machine that starts, gives up and starts again does so after the same time each round;
// one that works does so at no beat. Common practice.
const (
	cycleStarts = 4    // rounds that have to begin
	cycleSpread = 0.25 // of the usual round, between the shortest and the longest
	cycleLow    = 0.55 // of the highest draw: below it lies the floor, of a machine that runs too
	cycleHigh   = 0.7  // and above this a round has begun
	cycleWorks  = 0.2  // of a round at least, above the floor: what wakes for a moment goes on sleeping
	cycleLowS   = 0.4  // that the floor holds at least
	cycleMost   = 20.0 // s that a round lasts: a machine that sleeps wakes seldomer
	cycleLast   = 2.0  // rounds before the end: a start that comes off in the end is one
	cycleRunsW  = 12.0 // of a floor on which a machine does its work
	cycleIdlesW = 5.0  // and of one on which it idles: then a few rounds may be its work
	cycleFew    = 6
)

// cycles looks for a draw that climbs and falls back to a floor, round after round, while
// VBUS stands.
func (p Picture) cycles(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() {
		return nil, ""
	}
	starts, swingW, worked, floorW := rounds(d)
	if len(starts) < cycleStarts || swingW < onAndOffW/2 || floorW >= cycleRunsW || floorW >= cycleIdlesW && len(starts) < cycleFew {
		return nil, ""
	}
	var lengths []float64
	for i := 1; i < len(starts); i++ {
		lengths = append(lengths, starts[i]-starts[i-1])
	}
	slices.Sort(lengths)
	usual, blur := middle(lengths), 2*d.Sampling.IntervalS
	if usual > cycleMost || worked < cycleWorks*(starts[len(starts)-1]-starts[0]) || d.Sampling.EndS-starts[len(starts)-1] > cycleLast*usual || lengths[len(lengths)-1]-lengths[0] > cycleSpread*usual+blur {
		return nil, ""
	}
	return Exactly(DrawCycles), fmt.Sprintf("the draw begins anew %d times from %.2f s on, each %.3g s, while VBUS stands", len(starts), starts[0], usual)
}

// rounds are the times at which the draw leaves its floor, how far it goes, how long it
// stays above it from the first to the last, and the floor's mean.
func rounds(d *draw.Result) (starts []float64, swingW, worked, meanW float64) {
	watts := func(q draw.Plateau) (float64, bool) {
		if q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < contractV {
			return 0, false
		}
		return *q.CurrentA * *q.VoltageV, true
	}
	peakW := 0.0
	for _, q := range d.Plateaus {
		if w, ok := watts(q); ok && q.EndS-q.StartS+d.Sampling.IntervalS >= beganS {
			peakW = max(peakW, w)
		}
	}
	floorS, floorEndS, floorW, above, high := 0.0, 0.0, peakW, 0.0, false
	lowS := 0.0 // in all
	for _, q := range d.Plateaus {
		w, ok := watts(q)
		lasts := q.EndS - q.StartS + d.Sampling.IntervalS
		if len(starts) > 0 && w > cycleLow*peakW {
			above += lasts
		}
		switch {
		case q.VoltageV != nil && *q.VoltageV < contractV: // another story from here on
			starts, floorS, high, above, worked = nil, 0, false, 0, 0
		case !ok:
		case w <= cycleLow*peakW:
			if high {
				floorS = 0
			}
			floorS, floorEndS, floorW, high = floorS+lasts, q.EndS, min(floorW, w), false
			lowS += lasts
			meanW += (w - meanW) * lasts / lowS
		case w >= cycleHigh*peakW && !high:
			if floorS >= cycleLowS {
				starts, worked = append(starts, floorEndS), above
			}
			high, floorS = true, 0
		}
	}
	return starts, peakW - floorW, worked, meanW
}
