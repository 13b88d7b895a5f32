package signs

import (
	"fmt"

	"portside/decode/draw"
)

// Common practice.
const (
	comesTimes = 4   // more often than a plug is put in again by hand
	comesS     = 0.2 // a source that sees Rd go takes VBUS away sooner
	comesLoad  = 4   // of so many, one may meet a load: capacitors that fill in one row
)

// comesAndGoes tells VBUS that stands at 5 V, carries no load and goes, again and again: what the
// source sees on CC ends with its own VBUS, or the source gives up by itself a while later.
func comesAndGoes(d *draw.Result) (Seen, string) {
	if d == nil {
		return nil, ""
	}
	var stood []float64
	loaded, firstS := 0, 0.0
	for i := 1; i < len(d.Levels); i++ {
		l := d.Levels[i-1]
		switch {
		case d.Levels[i].NominalV > 5:
			return nil, ""
		case d.Levels[i].NominalV == 0 && l.NominalV == 5:
			if stood = append(stood, l.EndS-l.StartS); len(stood) == 1 {
				firstS = l.StartS
			}
			if l.MaxA >= standbyA {
				loaded++
			}
		}
	}
	if len(stood) < comesTimes || comesLoad*loaded > len(stood) {
		return nil, ""
	}
	up := middle(stood)
	text := fmt.Sprintf("%d times, first at %.2f s, VBUS comes up to 5 V and goes; nothing is drawn from it, and the source says nothing", len(stood), firstS)
	switch {
	case up > comesS:
		return Exactly(ComesAndGoes), text
	case up+d.Sampling.IntervalS < comesS:
		return Exactly(GoesAtOnce), text + fmt.Sprintf("; it stands for %.0f ms", 1000*up)
	}
	return Seen{ComesAndGoes: 1, GoesAtOnce: 1}, text
}
