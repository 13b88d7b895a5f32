package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// A load that comes at once and goes at once, between the same two levels each time, is one that
// something switches: what a machine works at is of all heights, and a charge is ramped. One that
// runs on what is left may well reach its input limit each time. Common practice.
const (
	spellsFrom  = 5
	spellsHigh  = 0.8  // of the top at least, while it is on
	spellsLow   = 0.3  // of it at most, while it is off
	spellsSame  = 0.02 // between tops
	spellsBase  = 0.06 // between what is left,
	spellsBaseA = 0.005
	spellsOff   = 0.2 // of them off these
	spellsEdgeS = 0.1 // or two rows
	spellsW     = 12.0
)

// spells tells a draw that is switched between two levels while the contract stands.
func (p Picture) spells(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() {
		return nil, ""
	}
	s := spellsOf(d)
	if len(s.tops) < spellsFrom || len(s.rests) == 0 {
		return nil, ""
	}
	top, base := middle(slices.Clone(s.tops)), middle(slices.Clone(s.rests))
	edge := max(spellsEdgeS, 2.1*d.Sampling.IntervalS)
	switch {
	case (top-base)*s.volts < spellsW, base*s.volts >= lightW, middle(s.rises) > edge, middle(s.falls) > edge,
		p.atContracts(s.offs), !mostlyAt(s.tops, top, spellsSame*top), !mostlyAt(s.rests, base, spellsBase*base+spellsBaseA):
		return nil, ""
	}
	return Exactly(DrawOnOff), fmt.Sprintf("%d times from %.2f s on the draw goes at once from %.2g A to %.2g A, and comes back at once, while VBUS stands", len(s.tops), s.offs[0], top, base)
}

// mostlyAt reports values of which few lie further off.
func mostlyAt(values []float64, at, within float64) bool {
	off := 0
	for _, x := range values {
		if math.Abs(x-at) > within {
			off++
		}
	}
	return float64(off) <= spellsOff*float64(len(values))
}

// twoLevels are the spells of a draw on and off, and how long the steps between them take.
type twoLevels struct {
	tops, rests  []float64 // A
	rises, falls []float64 // s
	offs         []float64 // at which it falls
	volts        float64
}

func spellsOf(d *draw.Result) twoLevels {
	var s twoLevels
	most := 0.0
	for _, q := range d.Plateaus {
		if volts(q) >= contractV && q.EndS-q.StartS+d.Sampling.IntervalS >= beganS {
			most = max(most, amps(q))
		}
	}
	var on, off draw.Plateau // the longest of a spell
	was := 0                 // 1 on, -1 off
	edgeS := 0.0             // where the last spell ended
	longer := func(q, than draw.Plateau) bool { return q.EndS-q.StartS >= than.EndS-than.StartS }
	for _, q := range d.Plateaus {
		switch a := amps(q); {
		case volts(q) < contractV:
			was = 0
		case a >= spellsHigh*most:
			if was < 0 && len(s.tops) > 0 {
				s.rests, s.rises = append(s.rests, amps(off)), append(s.rises, q.StartS-edgeS)
			}
			if was <= 0 || longer(q, on) {
				on = q
			}
			was, edgeS = 1, q.EndS
		case a <= spellsLow*most:
			if was > 0 {
				s.offs = append(s.offs, q.StartS)
				s.tops, s.falls, s.volts = append(s.tops, amps(on)), append(s.falls, q.StartS-edgeS), volts(on)
			}
			if was >= 0 || longer(q, off) {
				off = q
			}
			was, edgeS = -1, q.EndS
		}
	}
	return s
}
