package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/pd"
)

// flowAtBreak holds the current at which VBUS gave way against the promise.
func (p Picture) flowAtBreak() (Seen, string) {
	d := p.Meter()
	if d == nil || d.Sampling.WithCurrent == 0 {
		return Seen{EndLoaded: 1, EndOver: 0.8, EndIdle: 0.6, EndEarly: 0.6}, ""
	}
	at, early, bursts, leaps := breakCurrents(d)
	slices.Sort(at)
	promised, known := p.promisedA()
	over := known && len(at) >= glimpses && at[3*len(at)/4] > overShare*promised // however slow: what a row mixes in is less
	switch {
	case len(at)+early+bursts == 0 || d.Sampling.IntervalS > sharpEveryS && !over:
		return Seen{EndLoaded: 1, EndOver: 0.6, EndIdle: 0.6, EndEarly: 0.6}, ""
	case bursts > len(at)+early:
		return Seen{EndAtOnce: 1, EndOver: 0.5, EndLoaded: 0.3}, "; a burst of current ends it"
	case len(at) == 0:
		return Exactly(EndEarly), "; the machine had not begun to draw"
	}
	amps := at[3*len(at)/4] // what breaks under load also breaks without one now and then
	text := fmt.Sprintf("; %.2f A flow then", amps)
	if known {
		text += fmt.Sprintf(", and %.2f A were promised", promised)
	}
	switch {
	case amps <= standbyA && d.Sampling.IntervalS > surgeEveryS:
		return Seen{EndIdle: 1, EndOver: 0.3}, text
	case amps <= standbyA:
		return Exactly(EndIdle), text
	case known && amps > overShare*promised:
		return Exactly(EndOver), text
	case known && burstsOf(d) > overShare*promised:
		return Seen{EndOver: 1, EndAtOnce: 0.5}, fmt.Sprintf("; bursts of up to %.2f A end it, and %.2f A were promised", burstsOf(d), promised)
	}
	if known && amps < littleShare*promised {
		return Seen{EndLoaded: 0.5, EndEarly: 0.7, EndOver: p.unseenOverload()}, text
	}
	if known {
		return Seen{EndLoaded: 1, EndOver: p.unseenOverload()}, text
	}
	if 2*leaps > len(at) {
		return Seen{EndOver: 1, EndLoaded: leapsLess}, text + ", all at once"
	}
	if amps > overShare*pd.CurrentLimit.Amps() {
		return Seen{EndOver: 1, EndAtOnce: 0.5}, text + ", more than any contract gives"
	}
	return Seen{EndLoaded: 1, EndOver: max(p.unseenOverload(), promisedLess(amps))}, text
}

// leapsLess is how often what leaps as VBUS falls is less than an unknown contract gives. Common
// practice.
const leapsLess = 0.3

// unseenOverload is the chance that an overload at every break drew no row.
func (p Picture) unseenOverload() float64 {
	d := p.Meter()
	return unseen(d.Sampling.IntervalS, len(d.Collapses))
}

// promisedLess is the chance that a contract nobody saw was of less: 3 A is what most
// sources and every cable without a marker give, 5 A the most.
func promisedLess(amps float64) float64 {
	if amps > overShare*pd.CableCurrentDefault.Amps() {
		return 0.7
	}
	return 0.3
}

// burstsOf is the largest current of a train of tries: a row that falls into the break
// itself shows what broke it.
func burstsOf(d *draw.Result) float64 {
	most := 0.0
	for _, q := range d.Pulses {
		if q.Count >= trainFrom {
			most = max(most, q.PeakA)
		}
	}
	return most
}

// What flows while VBUS falls tells the load that took it: rows of the first fallS, and watts
// fallTimes those before. Common practice.
const (
	fallS     = 0.05
	fallTimes = 2.0
)

// breakCurrents are the currents at which contracts broke down. Early counts those that
// broke before the machine had begun to draw, which say nothing of what a load does, and
// bursts those in which nothing flowed but a surge; leaps are those at which the load took more all
// at once.
func breakCurrents(d *draw.Result) (at []float64, early, bursts, leaps int) {
	plateau, level := 0, 0
	ended, resets := false, 0 // by a burst, in the contract that stands; and falls by the reset that follows
	for _, c := range d.Collapses {
		drewS, most, leapt := 0.0, 0.0, false
		for ; plateau < len(d.Plateaus) && d.Plateaus[plateau].StartS < c.TimeS; plateau++ {
			if q := d.Plateaus[plateau]; q.CurrentA != nil && q.VoltageV != nil && *q.VoltageV >= contractV && *q.CurrentA > standbyA {
				drewS += q.EndS - q.StartS + d.Sampling.IntervalS // a ramp is cut into single rows
			}
		}
		for ; level < len(d.Levels) && d.Levels[level].StartS < c.TimeS; level++ {
			if l := d.Levels[level]; l.VoltageV >= contractV {
				most = max(most, l.MaxA)
			} else {
				ended = ended && l.VoltageV < draw.FiveFrom
			}
		}
		for i := plateau; i < len(d.Plateaus) && d.Plateaus[i].StartS < c.TimeS+fallS; i++ {
			if q := d.Plateaus[i]; q.CurrentA != nil && q.VoltageV != nil && *q.CurrentA >= surgeA && *q.CurrentA**q.VoltageV > fallTimes*c.AtA*c.FromV {
				leapt = true
				c.HeldA = max(c.HeldA, *q.CurrentA) // a machine that runs takes no more watts as VBUS falls
			}
		}
		amps, drew := max(c.AtA, c.HeldA), drewS >= beganS+d.Sampling.IntervalS
		switch {
		case c.FromV < contractV || math.IsNaN(amps):
		case !drew && surges(most, d.Sampling.IntervalS):
			bursts++
			ended = true
		case drew || amps > standbyA:
			at = append(at, amps)
			if leapt {
				leaps++
			}
		case ended:
			resets++
		default:
			early++
		}
	}
	if resets > bursts { // VBUS does not keep still
		early += resets
	}
	return at, early, bursts, leaps
}
