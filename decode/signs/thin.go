package signs

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// VBUS of a contract that goes with small currents: common practice.
const (
	thinStands = 0.95 // of the highest: VBUS has come up
	thinLowest = 0.6  // below it the source lets go, or limits
	thinA      = 0.02 // more than a meter's zero moves
	thinV      = 0.5  // the largest fall, more than a meter's gain and any source's regulation at so little
	thinNoise  = 6.0  // times the noise beyond it: a noisy log has its highest by chance
	thinOhm    = 1.0  // four sound cables
	thinWithin = 0.3  // of the middle resistance: on one line
	thinShare  = 0.8  // of the time with a current
	thinPoints = 3
	thinFixed  = 0.03 // of a fixed voltage: what a source is off it, and a sound cable takes
	thinRows   = 3    // of one point at least
)

// ThinLead tells a resistance before the meter from currents too small for a fit: volts that
// go and come with tens of milliamperes, all on one line.
func (p Picture) ThinLead(d *draw.Result) string {
	if d == nil || p.asksForMore() || p.Lapsed != "" || !p.Contract {
		return ""
	}
	most := pinnedMostA
	if promised, known := p.promisedA(); known {
		most = max(most, atLimit*promised)
	}
	open, known := unloaded(d)
	if !known {
		return ""
	}
	points := underLoad(d, open)
	ohms, fits := onOneLine(points)
	if !fits || ohms < thinOhm {
		return ""
	}
	if slices.ContainsFunc(points, func(q thinPoint) bool { return q.amps > most }) || !slices.ContainsFunc(points, func(q thinPoint) bool { return q.rows >= thinRows }) {
		return "" // a load that takes all that a source gives, or rows that mix what is before a fall and after it
	}
	if atAnother(points, volts(open)) {
		return ""
	}
	deepest := slices.MaxFunc(points, func(a, b thinPoint) int { return cmp.Compare(a.fallV, b.fallV) })
	if deepest.fallV < thinV+thinNoise*d.Sampling.NoiseV {
		return ""
	}
	return fmt.Sprintf("from %.2f s VBUS goes with the current by %.2g ohm, from %.4g V without a load to %.4g V at %.2g A", points[0].fromS, ohms, volts(open), volts(open)-deepest.fallV, deepest.amps)
}

// atAnother reports VBUS that stands, most of the time under load, at another fixed voltage: a new
// contract, and no drop.
func atAnother(points []thinPoint, openV float64) bool {
	all, there := 0.0, 0.0
	for _, q := range points {
		v := openV - q.fallV
		all += q.lastsS
		if n := draw.FixedNear(v, thinFixed); n > contractV && math.Abs(openV-n) > thinV {
			there += q.lastsS
		}
	}
	return there >= thinShare*all
}

// unloaded is the highest that VBUS of a contract stands at with next to nothing drawn.
func unloaded(d *draw.Result) (open draw.Plateau, known bool) {
	for _, q := range d.Plateaus {
		if q.CurrentA != nil && amps(q) < standbyA && volts(q) >= contractV && volts(q) > volts(open) {
			open, known = q, true
		}
	}
	return open, known
}

// underLoad are the plateaus with a draw, once VBUS has come up and while it does not let go.
func underLoad(d *draw.Result, open draw.Plateau) (points []thinPoint) {
	up := false
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || q.CurrentA == nil {
			continue
		}
		up = volts(q) >= thinStands*volts(open) || up && volts(q) >= thinLowest*volts(open)
		if more := amps(q) - amps(open); up && more >= thinA {
			fallV := volts(open) - volts(q)
			points = append(points, thinPoint{fallV / more, q.EndS - q.StartS + d.Sampling.IntervalS, fallV, amps(q), q.StartS, q.N})
		}
	}
	return points
}

// thinPoint is one plateau under load.
type thinPoint struct {
	ohms, lastsS, fallV, amps, fromS float64
	rows                             int
}

// onOneLine is the resistance in the middle of the time, where most of it agrees.
func onOneLine(points []thinPoint) (ohms float64, fits bool) {
	if len(points) < thinPoints {
		return 0, false
	}
	sorted := slices.SortedFunc(slices.Values(points), func(a, b thinPoint) int { return cmp.Compare(a.ohms, b.ohms) })
	all, half := 0.0, 0.0
	for _, q := range sorted {
		all += q.lastsS
	}
	for _, q := range sorted {
		if half += q.lastsS; half >= all/2 {
			ohms = q.ohms
			break
		}
	}
	kept := 0.0
	for _, q := range sorted {
		if q.ohms >= ohms*(1-thinWithin) && q.ohms <= ohms*(1+thinWithin) {
			kept += q.lastsS
		}
	}
	return ohms, kept >= thinShare*all
}
