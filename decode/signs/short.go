package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// heldDown is a fall of VBUS in which the load held it down.
func heldDown(d *draw.Result) (draw.Collapse, bool) {
	i := slices.IndexFunc(d.Collapses, func(c draw.Collapse) bool { return c.HeldA > 0 })
	if i < 0 {
		return draw.Collapse{}, false
	}
	return d.Collapses[i], true
}

// IntoShortA is more than the capacitors take that a source may meet before a contract:
// 10 uF at 5 V are 50 uC, 50 mA in a row of 1 ms (USB Type-C R2.0 table 4-2). Common practice.
const IntoShortA = 0.2

// IntoShort says how current flows without a voltage, empty where it does not.
func (p Picture) IntoShort(d *draw.Result) (outcome, text string) {
	if c := d.Cold; c.Count >= coldLeast {
		return HeldCold, fmt.Sprintf("%d times, first at %.2f s, up to %.2g A flow from the first moment and VBUS does not come up", c.Count, c.FirstS, c.PeakA)
	}
	if c, held := heldDown(d); held && p.Cold {
		return HeldCold, fmt.Sprintf("at %.2f s, at 5 V and before a contract, %.2f A hold VBUS down at %.2f V", c.TimeS, c.HeldA, c.HeldV)
	} else if held && p.State[ContractHigh]+p.State[ContractLost] == 0 && waits(d) {
		return HeldLate, fmt.Sprintf("at %.2f s %.2f A hold VBUS down at %.2f V, and each time 5 V had stood idle before", c.TimeS, c.HeldA, c.HeldV)
	} else if held {
		return HeldShort, fmt.Sprintf("at %.2f s %.2f A flow on while VBUS is held at %.2f V", c.TimeS, c.HeldA, c.HeldV)
	}
	if p.State[NoVBUS] > 0 && d.Sampling.MaxA >= IntoShortA && d.Sampling.MaxV < rules.LowestContractV {
		return HeldShort, fmt.Sprintf("%.2g A flow, and VBUS does not come up", d.Sampling.MaxA)
	}
	return "", ""
}

// waitsS is how long 5 V stands idle before a short that is let in: what stands on VBUS
// itself takes it down in its first millisecond. Common practice.
const (
	waitsS    = 0.02
	waitsRows = 3    // that show it
	waitsFall = 0.02 // s that the fall takes
	waitsFrom = 3    // falls
)

// waits reports falls of 5 V to a short that each came after a while without a draw.
func waits(d *draw.Result) bool {
	late, held, i, idleTo := 0, 0, 0, math.Inf(-1)
	for _, c := range d.Collapses {
		if c.HeldA == 0 || c.FromV < draw.FiveFrom || c.FromV >= contractV {
			continue
		}
		held++
		for ; i < len(d.Plateaus) && d.Plateaus[i].EndS <= c.TimeS; i++ {
			if q := d.Plateaus[i]; volts(q) >= draw.FiveFrom && amps(q) <= standbyA && q.N >= waitsRows && q.EndS-q.StartS >= waitsS {
				idleTo = q.EndS
			}
		}
		if c.TimeS-idleTo <= max(waitsFall, 2*d.Sampling.IntervalS) {
			late++
		}
	}
	return late >= waitsFrom && 5*late >= 4*held
}

// ShortTryS is how long a source feeds a short before it gives up: common practice.
const ShortTryS = 0.005
