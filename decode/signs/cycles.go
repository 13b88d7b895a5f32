package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// A machine that starts, gives up and starts again does so after the same time each round;
// one that works does so at no beat. Common practice.
const (
	cycleStarts = 4    // rounds that have to begin
	cycleSpread = 0.25 // of the usual round, between the shortest and the longest
	cycleLow    = 0.55 // of the highest draw: below it lies the floor, of a machine that runs too
	cycleHigh   = 0.7  // and above this a round has begun
	cycleBeat   = 0.06 // or off the usual round, and a few that work falls into, where
	cycleTry    = 0.35 // of a round at most is drawn: a charge that is let on and off by design takes more
	cycleWorks  = 0.2  // of a round at least, above the floor: what wakes for a moment goes on sleeping
	cycleTries  = 0.08 // which is no sleep where the floor is a machine that runs, and the beat is
	cycleSlowS  = 3.0  // s: software that polls does so each second
	cycleLowS   = 0.4  // that the floor holds at least
	cycleMost   = 20.0 // s that a round lasts: a machine that sleeps wakes seldomer
	cycleLast   = 2.0  // rounds before the end: a start that comes off in the end is one
	cycleRunsW  = 12.0 // of a floor on which a machine does its work
	cycleIdlesW = 5.0  // and of one on which it idles: then a few rounds may be its work
	cycleFew    = 6
	cycleLetsGo = 0.35 // s that a draw comes down in, where something lets it; what trips ends at once
	cycleSlowly = 2.0  // and no more: a load that comes off part by part takes longer
	cycleRows   = 3.5  // or so many rows
)

// cycles looks for a draw that climbs and falls back to a floor, round after round, while
// VBUS stands.
func (p Picture) cycles(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() || p.Is("contact-unsteady", rules.Note) { // what moves VBUS moves the draw
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
	usual, blur := middle(slices.Clone(lengths)), 2*d.Sampling.IntervalS
	least := cycleWorks
	if floorW >= cycleIdlesW && usual >= cycleSlowS {
		least = cycleTries
	}
	if usual > cycleMost || worked < least*(starts[len(starts)-1]-starts[0]) || d.Sampling.EndS-starts[len(starts)-1] > cycleLast*usual {
		return nil, ""
	}
	if slices.Max(lengths)-slices.Min(lengths) > cycleSpread*usual+blur && (len(starts) < cycleFew || worked > cycleTry*(starts[len(starts)-1]-starts[0]) || !beat(lengths, usual, cycleBeat*usual+blur)) {
		return nil, ""
	}
	text := fmt.Sprintf("the draw begins anew %d times from %.2f s on, each %.3g s, while VBUS stands", len(starts), starts[0], usual)
	if s := middle(comesDown(d, starts)); s > max(cycleLetsGo, cycleRows*d.Sampling.IntervalS) && s <= cycleSlowly {
		return Exactly(DrawPauses), fmt.Sprintf("%d times from %.2f s on, each %.3g s, the draw goes down within %.2g s and comes back, while VBUS stands", len(starts), starts[0], usual, s)
	}
	if floorW >= cycleIdlesW {
		return Exactly(DrawCuts), fmt.Sprintf("%s and the machine runs on %.2g W", text, floorW)
	}
	return Exactly(DrawCycles), text
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

// The part of a swing, at its top and at its foot, that counts as there, and the most that one step
// of a ramp takes. Common practice.
const (
	cycleEdge = 0.15
	cycleStep = 0.35
)

// comesDown are the times that the draw takes in each whole round from near its top to near its
// foot, 0 where it does so in steps.
func comesDown(d *draw.Result, starts []float64) (seconds []float64) {
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
		edge, left, largest, last := cycleEdge*(top-foot), math.NaN(), 0.0, top
		for _, q := range round {
			largest, last = max(largest, last-amps(q)), amps(q)
			switch {
			case amps(q) >= top-edge:
				left, largest = q.EndS, 0
			case amps(q) > foot+edge || left != left:
			case largest > cycleStep*(top-foot):
				seconds, left = append(seconds, 0), math.NaN()
			default:
				seconds, left = append(seconds, q.StartS-left), math.NaN()
			}
		}
	}
	return seconds
}
