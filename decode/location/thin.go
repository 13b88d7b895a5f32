package location

import (
	"cmp"
	"fmt"
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
	thinRows   = 3 // of one point at least
)

// thinLead tells a resistance before the meter from currents too small for a fit: volts that
// go and come with tens of milliamperes, all on one line.
func (p picture) thinLead(d *draw.Result) string {
	if d == nil || p.asksForMore() || p.lapsed != "" || !p.contract {
		return ""
	}
	most := pinnedMostA
	if promised, known := p.promisedA(); known {
		most = max(most, atLimit*promised)
	}
	open, up := draw.Plateau{}, false
	var points []thinPoint
	for pass := range 2 { // the highest first: what VBUS is without a load
		up = false
		for _, q := range d.Plateaus {
			if q.VoltageV == nil || q.CurrentA == nil {
				continue
			}
			v, a := *q.VoltageV, *q.CurrentA
			switch {
			case pass == 0:
				if v >= contractV && a < standbyA && (open.VoltageV == nil || v > *open.VoltageV) {
					open = q
				}
			case v < thinLowest**open.VoltageV:
				up = false
			case v >= thinStands**open.VoltageV:
				up = true
				fallthrough
			default:
				if up && a-*open.CurrentA >= thinA {
					points = append(points, thinPoint{(*open.VoltageV - v) / (a - *open.CurrentA), q.EndS - q.StartS + d.Sampling.IntervalS, *open.VoltageV - v, a, q.StartS, q.N})
				}
			}
		}
		if open.VoltageV == nil {
			return ""
		}
	}
	ohms, fits := onOneLine(points)
	if !fits || ohms < thinOhm {
		return ""
	}
	if slices.ContainsFunc(points, func(q thinPoint) bool { return q.amps > most }) || !slices.ContainsFunc(points, func(q thinPoint) bool { return q.rows >= thinRows }) {
		return "" // a load that takes all that a source gives, or rows that mix what is before a fall and after it
	}
	deepest := slices.MaxFunc(points, func(a, b thinPoint) int { return cmp.Compare(a.fallV, b.fallV) })
	if deepest.fallV < thinV+thinNoise*d.Sampling.NoiseV {
		return ""
	}
	return fmt.Sprintf("from %.2f s VBUS goes with the current by %.2g ohm, from %.4g V without a load to %.4g V at %.2g A", points[0].fromS, ohms, *open.VoltageV, *open.VoltageV-deepest.fallV, deepest.amps)
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
