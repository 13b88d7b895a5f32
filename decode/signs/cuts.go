package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// A charge that is cut off at its top and tried again, while the machine it stands in runs on.
// Common practice.
const (
	cutsFrom   = 5    // cuts
	cutsSpread = 0.06 // of the time from one to the next
	cutsTops   = 0.2  // between their tops
	cutsOff    = 0.15 // of them off the beat
	cutsSameS  = 0.2  // a fall in two steps is one
	cutsMostS  = 30.0 // from one to the next
	cutsFloor  = 0.45 // of the top, to which it falls at once
	cutsHigh   = 0.85 // of it, where it stays
	cutsHeld   = 0.45 // of the climb at most: what holds its top has been reached
	cutsFootA  = 0.05 // what flows on there at least: the machine runs
	cutsStart  = 0.8  // of the top: the climb began below, and took
	cutsClimbS = 0.3  // at least,
	cutsClimb  = 3    // steady draws of it
	cutsLast   = 2.0  // rounds before the end: a charge that comes off in the end is one
	cutsLeastA = 0.4
)

// cuts tells a draw that climbs from a machine's own, and is cut off at the same top again and
// again, each time after as long.
func (p Picture) cuts(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() {
		return nil, ""
	}
	var times, tops, feet []float64
	for i := cutsClimb; i < len(d.Plateaus); i++ {
		top, foot, ok := cutAt(d, i)
		if n := len(times) - 1; ok && (n < 0 || d.Plateaus[i].StartS-times[n] > cutsSameS) {
			times, tops, feet = append(times, d.Plateaus[i].StartS), append(tops, top), append(feet, foot)
		}
	}
	top := middle(slices.Clone(tops))
	var lengths []float64
	cuts, since := 0, 0.0
	for i, at := range times {
		if math.Abs(tops[i]-top) > cutsTops*top { // work on top of it
			continue
		}
		if cuts++; cuts > 1 {
			lengths = append(lengths, at-since)
		}
		since = at
	}
	usual := middle(slices.Clone(lengths))
	if cuts < cutsFrom || usual > cutsMostS || d.Sampling.EndS-since > cutsLast*usual || !beat(lengths, usual, cutsSpread*usual+2*d.Sampling.IntervalS) {
		return nil, ""
	}
	return Exactly(DrawCuts), fmt.Sprintf("%d times from %.2f s on, each %.3g s, the draw climbs to %.2g A and is cut off to %.2g A, on which the machine runs, while VBUS stands",
		cuts, times[0], usual, top, middle(feet))
}

// apart are the lengths from each of these times to the next.
func apart(times []float64) (lengths []float64) {
	for i := 1; i < len(times); i++ {
		lengths = append(lengths, times[i]-times[i-1])
	}
	return lengths
}

// beat reports lengths that are one, or so many of them where some were missed.
func beat(lengths []float64, usual, apart float64) bool {
	off := 0
	for _, l := range lengths {
		if n := math.Round(l / usual); n < 1 || math.Abs(l-n*usual) > apart {
			off++
		}
	}
	return float64(off) <= cutsOff*float64(len(lengths))
}

// cutAt reports a draw that falls at this plateau from a top that it had climbed to.
func cutAt(d *draw.Result, i int) (topA, footA float64, ok bool) {
	foot, last := d.Plateaus[i], d.Plateaus[i-1]
	if volts(foot) < contractV || amps(foot) < cutsFootA {
		return 0, 0, false
	}
	topA = max(amps(last), amps(d.Plateaus[i-2])) // a row that the cut falls into is one of its own
	if topA < cutsLeastA || amps(foot) > cutsFloor*topA {
		return 0, 0, false
	}
	steps, began, high := 0, foot.StartS, foot.StartS
	for j := i - 1; j >= 0 && volts(d.Plateaus[j]) >= contractV && amps(d.Plateaus[j]) <= topA; j-- {
		steps, began = steps+1, d.Plateaus[j].StartS
		if amps(d.Plateaus[j]) >= cutsHigh*topA {
			high = began
		}
		if amps(d.Plateaus[j]) <= cutsFloor*topA && j < i-1 {
			break
		}
	}
	if foot.StartS-high > cutsHeld*(foot.StartS-began) {
		return 0, 0, false
	}
	return topA, amps(foot), steps >= cutsClimb && foot.StartS-began >= cutsClimbS && amps(d.Plateaus[max(0, i-steps)]) <= cutsStart*topA
}
