package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
)

// A standby that is lost with a surge, and won again: common practice.
const (
	belowHeldS  = 0.2 // what stands so long is a standby, or what is left of it
	belowWithin = 0.1 // s between the two, the surge in it
	belowShare  = 0.6 // of the standby, or less, is left
	belowTimes  = 5.0 // the standby, at least, is the surge
	belowLeastA = 0.005
	belowFrom   = 3
)

// fallsBelow tells a standby that each surge takes away for a while: what it feeds starts
// anew, where a machine that wakes and sleeps keeps it.
func (p Picture) fallsBelow(d *draw.Result) (Seen, string) {
	if !p.Contract {
		return nil, ""
	}
	count, firstS, keptA, leftA := 0, 0.0, 0.0, 0.0
	var before draw.Plateau
	surge := 0.0
	for _, q := range d.Plateaus {
		switch {
		case q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < contractV:
			before, surge = draw.Plateau{}, 0
		case q.EndS-q.StartS < belowHeldS:
			surge = max(surge, *q.CurrentA)
		default:
			was := amps(before)
			if was > belowLeastA && was <= standbyA && q.StartS-before.EndS <= belowWithin && surge >= belowTimes*was &&
				*q.CurrentA <= belowShare*was && was-*q.CurrentA >= belowLeastA+d.Sampling.ResolutionA {
				if count++; count == 1 {
					firstS, keptA, leftA = before.EndS, was, *q.CurrentA
				}
				leftA = math.Max(leftA, *q.CurrentA)
			}
			before, surge = q, 0
		}
	}
	if count < belowFrom {
		return nil, ""
	}
	return Exactly(DrawCycles), fmt.Sprintf("%d times, first at %.2f s, a surge takes the standby of %.0f mA away, and no more than %.0f mA flow until it begins anew", count, firstS, 1000*keptA, 1000*leftA)
}
