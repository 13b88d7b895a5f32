package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
	"portside/pd"
)

// What pulls VBUS down while it still rises to a contract: common practice.
const (
	pulledEveryS = 0.011 // rows further apart do not show the rise
	pulledBackS  = 0.006 // before the surge: a contract stands some milliseconds before PS_RDY,
	pulledRows   = 1.5   // or so many rows
	pulledRise   = 0.98  // of VBUS at the surge: it was still rising so shortly before
	pulledShare  = 0.6   // of the falls
)

// pulledInTheRise tells falls from above 5 V that a surge begins while VBUS is on its way up,
// from those that begin once it stands: a sink lets nothing in before PS_RDY.
func pulledInTheRise(d *draw.Result) string {
	if d.Sampling.IntervalS > pulledEveryS {
		return ""
	}
	falls, pulled, mostA, firstS, atV, next := 0, 0, 0.0, 0.0, 0.0, 0
	for _, c := range d.Collapses {
		if c.FromV < contractV {
			continue
		}
		falls++
		for next < len(d.Plateaus) && d.Plateaus[next].StartS <= c.TimeS+fallS {
			next++
		}
		from, peakA := surgeBefore(d.Plateaus[:next], c.TimeS)
		surge := d.Plateaus[from]
		if peakA < burstA || !rises(d.Plateaus[:from], surge, surge.StartS-max(pulledBackS, pulledRows*d.Sampling.IntervalS)) {
			continue
		}
		if pulled++; pulled == 1 {
			firstS, atV = surge.StartS, c.FromV
		}
		mostA = max(mostA, peakA)
	}
	if pulled < glimpses || float64(pulled) < pulledShare*float64(falls) {
		return ""
	}
	return fmt.Sprintf("%d times, first at %.2f s, up to %.2g A pull VBUS down on its way up, from %.3g V, before it stands at any contract's", pulled, firstS, mostA, atV)
}

// How much more than the largest capacitance takes on its way to a contract's voltage no capacitor
// takes. Common practice.
const (
	fillTimes = 10
	fillV     = 20.0
)

// overfilled reports falls of VBUS whose last row holds more charge than any capacitor takes, on a
// meter that shows the idle 5 V before it.
func overfilled(d *draw.Result) bool {
	if d == nil || d.Sampling.IntervalS > sharpEveryS || loadedAt5(d) {
		return false
	}
	count, fillC := 0, fillTimes*fillV*pd.CSnkBulkPd.Limits(pd.Revision32).MaxSI()
	for _, c := range d.Collapses {
		if c.AtA*d.Sampling.IntervalS >= fillC {
			count++
		}
	}
	return count >= glimpses
}

// surgeBefore is where the draw began that VBUS falls under, and how much it became.
func surgeBefore(until []draw.Plateau, fallAtS float64) (from int, peakA float64) {
	from = len(until) - 1
	for from >= 0 && amps(until[from]) < standbyA && until[from].EndS > fallAtS-fallS {
		from--
	}
	for i := from; i >= 0 && amps(until[i]) >= standbyA; i-- {
		from, peakA = i, max(peakA, amps(until[i]))
	}
	return max(from, 0), peakA
}

// rises reports VBUS above 5 V that was well below the surge's in a row since a time, with nothing
// drawn yet.
func rises(before []draw.Plateau, surge draw.Plateau, sinceS float64) bool {
	low := math.Inf(1)
	for i := len(before) - 1; i >= 0 && before[i].EndS >= sinceS; i-- {
		if v := volts(before[i]); v >= contractV && amps(before[i]) < standbyA {
			low = min(low, v)
		}
	}
	return low <= pulledRise*volts(surge)
}
