package signs

import (
	"fmt"
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
)

// cycles looks for a draw that climbs and falls back to a floor, round after round, while
// VBUS stands.
func (p Picture) cycles(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() || p.Is("contact-unsteady", rules.Note) { // what moves VBUS moves the draw
		return nil, ""
	}
	r := roundsIn(d)
	runs := r.floorW >= cycleIdlesW
	if len(r.starts) < cycleStarts || r.swingW < onAndOffW/2 || r.floorW >= cycleRunsW || runs && len(r.starts) < cycleFew {
		return nil, ""
	}
	usual, even := r.beat(2 * d.Sampling.IntervalS)
	least := cycleWorks
	if runs && usual >= cycleSlowS {
		least = cycleTries
	}
	first, last := r.starts[0], r.starts[len(r.starts)-1]
	if !even || usual > cycleMost || r.worked < least || d.Sampling.EndS-last > cycleLast*usual {
		return nil, ""
	}
	if lets, text := letsGo(d, r.starts); lets != nil {
		return lets, text
	}
	text := fmt.Sprintf("the draw begins anew %d times from %.2f s on, each %.3g s, while VBUS stands", len(r.starts), first, usual)
	if runs {
		return Exactly(DrawCuts), fmt.Sprintf("%s and the machine runs on %.2g W", text, r.floorW)
	}
	return Exactly(DrawCycles), text
}

// rounds are those of a draw that leaves its floor again and again.
type rounds struct {
	starts []float64 // s
	swingW float64   // from the lowest to the highest
	worked float64   // of the time from the first start to the last, well above the floor
	floorW float64   // mean
}

// beat is the usual length of a round, and whether they keep to it.
func (r rounds) beat(blurS float64) (usualS float64, even bool) {
	lengths := apart(r.starts)
	usualS = middle(slices.Clone(lengths))
	if alike(lengths, cycleSpread*usualS+blurS) {
		return usualS, true
	}
	return usualS, len(r.starts) >= cycleFew && r.worked <= cycleTry && beat(lengths, usualS, cycleBeat*usualS+blurS)
}

func roundsIn(d *draw.Result) rounds {
	var r rounds
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
	floorS, floorEndS, lowestW, above, worked, high := 0.0, 0.0, peakW, 0.0, 0.0, false
	lowS := 0.0 // in all
	for _, q := range d.Plateaus {
		w, ok := watts(q)
		lasts := q.EndS - q.StartS + d.Sampling.IntervalS
		if len(r.starts) > 0 && w > cycleLow*peakW {
			above += lasts
		}
		switch {
		case q.VoltageV != nil && *q.VoltageV < contractV: // another story from here on
			r.starts, floorS, high, above, worked = nil, 0, false, 0, 0
		case !ok:
		case w <= cycleLow*peakW:
			if high {
				floorS = 0
			}
			floorS, floorEndS, lowestW, high = floorS+lasts, q.EndS, min(lowestW, w), false
			lowS += lasts
			r.floorW += (w - r.floorW) * lasts / lowS
		case w >= cycleHigh*peakW && !high:
			if floorS >= cycleLowS {
				r.starts, worked = append(r.starts, floorEndS), above
			}
			high, floorS = true, 0
		}
	}
	r.swingW = peakW - lowestW
	if n := len(r.starts); n > 1 {
		r.worked = worked / (r.starts[n-1] - r.starts[0])
	}
	return r
}
