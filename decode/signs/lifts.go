package signs

import (
	"fmt"
)

// Whether CC rises with the draw.
const (
	LiftNot = "no"
	LiftCC  = "rises"
)

// More than twice what a sound ground takes (0.083 ohm), for certain. Common practice.
const (
	liftOhm    = 0.17
	liftSigmas = 6.0
)

// Lifted tells CC that rises with the draw.
func (p Picture) Lifted() (Seen, string) {
	d := p.Meter()
	if d == nil {
		return nil, ""
	}
	for i := range d.CC.Lifts {
		if ohm, u, ok := d.CC.Lifts[i].Slope(); ok && ohm-liftSigmas*u >= liftOhm {
			return Exactly(LiftCC), fmt.Sprintf("CC%d rises by %.0f mV with each ampere, as the ground behind the meter does", i+1, 1000*ohm)
		}
	}
	return nil, ""
}
