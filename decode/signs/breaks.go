package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

// A working draw that is gone for moments and there again at once, while VBUS stands: a
// converter that stops comes back by a ramp, and at its own time. Common practice.
const (
	breakRowS   = 0.01 // rows further apart mix it with what it is not
	breakFromA  = 0.5  // what breaks off
	breakLeft   = 0.05 // of it that flows on
	breakMostS  = 0.3  // off
	breakBackS  = 0.03 // until half of it flows again
	breakCount  = 4
	bounceCount = 2
	breakOdd    = 1.5 // the longest over the shortest
)

// breaks looks for a draw that a contact lets go of.
func (p Picture) breaks(d *draw.Result) (Seen, string) {
	if n := len(d.Bounces); n >= bounceCount && p.Contract {
		b := d.Bounces[0]
		text := fmt.Sprintf("%d times, first at %.2f s, the draw is gone for milliseconds and comes back at once, in a charge of %.2g A, while VBUS stands", n, b.TimeS, b.PeakA)
		if amps := stillFed(d); amps > 0 {
			return Exactly(DrawBouncesFed), text + fmt.Sprintf("; meanwhile %.2g mA flow on, as a port controller takes", 1000*amps)
		}
		return Exactly(DrawBounces), text
	}
	if !p.Contract || p.BreaksDown() || d.Sampling.IntervalS <= 0 || d.Sampling.IntervalS > breakRowS {
		return nil, ""
	}
	count, firstS, shortest, longest := 0, 0.0, 0.0, 0.0
	drew, off, offS := 0.0, 0.0, 0.0 // the draw before, how long it is gone, and since when
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < contractV {
			drew, off = 0, 0
			continue
		}
		amps, lasts := *q.CurrentA, q.EndS-q.StartS+d.Sampling.IntervalS
		switch {
		case drew >= breakFromA && amps <= breakLeft*drew:
			if off == 0 {
				offS = q.StartS
			}
			off += lasts
		case off > 0 && off <= breakMostS && amps >= drew/2 && q.StartS-offS-off <= breakBackS:
			if count == 0 {
				firstS, shortest = offS, off
			}
			count++
			shortest, longest = min(shortest, off), max(longest, off)
			drew, off = amps, 0
		case off > 0 && q.StartS-offS-off > breakBackS:
			drew, off = amps, 0
		case off == 0 && lasts > breakBackS:
			drew = amps
		}
	}
	if count < breakCount || longest < breakOdd*shortest+d.Sampling.IntervalS {
		return nil, ""
	}
	return Exactly(DrawBreaks), fmt.Sprintf("from %.2f s on the draw breaks off %d times for %.2g to %.2g s and is there again at once, while VBUS stands", firstS, count, shortest, longest)
}

// fedLeastA is the least draw of a port controller that is told from a meter's zero: common practice.
const fedLeastA = 0.0018

// stillFed is what flows while the draw is gone, above what the meter shows without VBUS; 0 where
// that is nothing, or is not known.
func stillFed(d *draw.Result) float64 {
	zero, known := zeroOf(d)
	if !known {
		return 0
	}
	var left []float64
	for _, b := range d.Bounces {
		left = append(left, b.LeftA-zero)
	}
	if amps := middle(left); amps >= max(fedLeastA, 2*d.Sampling.ResolutionA) {
		return amps
	}
	return 0
}

// zeroOf is what the meter shows where nothing flows: without VBUS.
func zeroOf(d *draw.Result) (amps float64, known bool) {
	i := slices.IndexFunc(d.Levels, func(l draw.Level) bool { return l.VoltageV < absentV && l.N >= restRows })
	if i < 0 {
		return 0, false
	}
	return d.Levels[i].MeanA, true
}
