package signs

import (
	"cmp"
	"fmt"
	"slices"

	"portside/decode/draw"
)

// A draw that surges for a moment beside a machine that runs, and is cut off, at the beat of a clock:
// a pack or its path that trips and is tried again. What software does is longer, or goes at no beat,
// or each second. Common practice.
const (
	surgeCutFrom  = 6
	surgeCutW     = 12.0 // above what the machine takes at least, and as much again
	surgeCutBaseW = 3.0
	surgeCutS     = 0.25 // that one lasts at most
	surgeCutLow   = 2.0  // s from one to the next,
	surgeCutHigh  = 20.0
	surgeCutBeat  = 0.02 // of it that they may be off
	surgeCutSame  = 0.2  // between their tops
	surgeCutRowS  = 0.05 // rows further apart miss some
)

func (p Picture) surgesCut(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() || d.Sampling.IntervalS > surgeCutRowS {
		return nil, ""
	}
	base, volt := runsOn(d)
	over := base + max(surgeCutW/volt, base)/2
	if base*volt < surgeCutBaseW {
		return nil, ""
	}
	var starts, tops []float64
	up, top, sinceS := false, 0.0, 0.0
	for _, q := range d.Plateaus {
		switch a := amps(q); {
		case volts(q) < contractV:
			starts, tops, up = nil, nil, false
		case a > over && !up:
			up, top, sinceS = true, a, q.StartS
		case a > over:
			top = max(top, a)
		case up:
			up = false
			if len(starts) > 0 && sinceS-starts[len(starts)-1] < surgeCutS { // in two steps
				continue
			}
			if q.StartS-sinceS > surgeCutS {
				return nil, ""
			}
			starts, tops = append(starts, sinceS), append(tops, top)
		}
	}
	if len(starts) < surgeCutFrom {
		return nil, ""
	}
	lengths := apart(starts)
	usual, height := middle(slices.Clone(lengths)), middle(slices.Clone(tops))
	if usual < surgeCutLow || usual > surgeCutHigh || (height-base)*volt < surgeCutW || height < 2*base || !mostlyAt(tops, height, surgeCutSame*height) ||
		!beat(lengths, usual, surgeCutBeat*usual+2*d.Sampling.IntervalS) {
		return nil, ""
	}
	return Exactly(DrawCuts), fmt.Sprintf("%d times from %.2f s on, each %.3g s, the draw surges to %.2g A for a moment and is cut off to %.2g A, on which the machine runs, while VBUS stands",
		len(starts), starts[0], usual, height, base)
}

// runsOn is the draw that a contract carries for half of its time, and its voltage.
func runsOn(d *draw.Result) (amperes, voltage float64) {
	type part struct{ a, v, s float64 }
	var parts []part
	all := 0.0
	for _, q := range d.Plateaus {
		if volts(q) >= contractV {
			s := q.EndS - q.StartS + d.Sampling.IntervalS
			parts, all = append(parts, part{amps(q), volts(q), s}), all+s
		}
	}
	slices.SortFunc(parts, func(x, y part) int { return cmp.Compare(x.a, y.a) })
	sum := 0.0
	for _, x := range parts {
		if sum += x.s; sum >= all/2 {
			return x.a, x.v
		}
	}
	return 0, 0
}
