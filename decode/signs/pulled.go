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
	if text := neverIdle(d); text != "" {
		return text
	}
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

// A contract stands idle for a row or two before the switches let a load in: so many cycles show one,
// more where rows lie further apart. Common practice.
const (
	neverIdleRowS  = 0.021
	neverIdleSlowS = 0.051
	neverIdleS     = 0.25 // that VBUS is above 5 V at most
	neverIdleAt5S  = 0.1  // before that 5 V stood idle
	neverIdleFrom  = 3
	neverIdleSlow  = 6
)

// neverIdle tells VBUS that comes above 5 V again and again and never stands there idle as high as it
// is under a surge: whatever lies behind switches would let it stand first.
func neverIdle(d *draw.Result) string {
	from := neverIdleFrom
	if d.Sampling.IntervalS > neverIdleRowS {
		from = neverIdleSlow
	}
	if d.Sampling.IntervalS > neverIdleSlowS {
		return ""
	}
	times, firstS, mostA, surgeV, idleV := 0, 0.0, 0.0, 0.0, 0.0
	idleTo, sinceS, peakA := math.Inf(-1), math.NaN(), 0.0
	for _, q := range d.Plateaus {
		v, a := volts(q), amps(q)
		switch {
		case v >= contractV:
			if math.IsNaN(sinceS) {
				sinceS, peakA = q.StartS, 0
			}
			if peakA = max(peakA, a); a < standbyA {
				idleV = max(idleV, v)
			} else if a >= burstA {
				surgeV = max(surgeV, v)
			}
		case !math.IsNaN(sinceS):
			if q.StartS-sinceS > neverIdleS {
				return ""
			}
			if sinceS-idleTo <= neverIdleAt5S && peakA >= surgeA {
				if times++; times == 1 {
					firstS = sinceS
				}
			}
			sinceS, mostA = math.NaN(), max(mostA, peakA)
		}
		if v >= draw.FiveFrom && v < contractV && a < standbyA {
			idleTo = q.EndS
		}
	}
	if times < from || idleV >= surgeV {
		return ""
	}
	return fmt.Sprintf("%d times, first at %.2f s, VBUS comes to %.3g V under up to %.2g A, and never stands as high without", times, firstS, surgeV, mostA)
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
