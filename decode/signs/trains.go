package signs

import (
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// trains looks for retries that end in no working draw.
func (p Picture) trains(d *draw.Result) (Seen, string) {
	if f, known := p.Found["retry-pulses"]; known && f.Severity == rules.Warning && !p.Is("ramp-normal", rules.Note) {
		if p.Is("staircase-draw", rules.Fault) { // a few of whose climbs look like pulses
			return nil, ""
		}
		if givesUp(p.Meter()) {
			return Seen{DrawGivesUp: 1, DrawSlow: 0.2}, f.Text
		}
		return Seen{DrawWakes: 1, DrawSlow: 0.2}, f.Text
	}
	if !p.Is("retry-pulses", rules.Fault) {
		return nil, ""
	}
	longest := draw.Pulses{}
	for _, t := range d.Pulses {
		if t.Count > longest.Count {
			longest = t
		}
	}
	text := p.Text("retry-pulses")
	switch {
	case longest.Count == 0:
		return nil, ""
	case longest.WithVBUS:
		return Exactly(DrawDrops), text
	case longest.PeriodS == nil:
		return Seen{DrawFast: 0.5, DrawCharger: 0.5, DrawSlow: 0.5}, text
	default:
		u := 0.0
		if longest.PeriodU != nil {
			u = *longest.PeriodU
		}
		return periodSeen(*longest.PeriodS, u), text
	}
}

// A machine that sleeps wakes now and then, and stays up for what it has to do: common
// practice.
const (
	givesUpS    = 4.0   // s between two starts at most
	givesUpFrom = 5     // starts
	givesUpA    = 0.045 // between them: a board that is off draws 9 to 30 mA at 19 V, one that sleeps 50 and more
)

// givesUp reports small starts at a beat that no sleep has.
func givesUp(d *draw.Result) bool {
	return slices.ContainsFunc(d.Pulses, func(t draw.Pulses) bool {
		return t.Count >= givesUpFrom && t.RestA <= givesUpA && t.PeriodS != nil && *t.PeriodS <= givesUpS
	})
}

// Families of retry periods, in seconds, each with the spread that clocks and
// designs add. Data sheets SLVSEG3E, JAJSJF0D; SLUSDU3, SLUSE65A, SLVSGF4B;
// SLVSDJ5D, SLUSDL3A.
const (
	fastFromS, fastToS       = 0.025, 0.30
	chargerFromS, chargerToS = 0.50, 0.62
	slowFromS, slowToS       = 0.90, 3.0
	fuseFromS, fuseToS       = 0.60, 0.70 // an electronic fuse may be the input switch as well
	fuseShare                = 0.4
	periodSpread             = 0.06 // of the period, one standard deviation: common practice
)

// periodSeen is the chance of a measured period under each family: full
// inside its window, falling off like a normal error outside it.
func periodSeen(period, u float64) Seen {
	if period > slowToS+2*math.Hypot(periodSpread*period, u) {
		return Seen{DrawSlow: 1, DrawOnOff: 0.5} // no family tries so seldom
	}
	near := func(from, to float64) float64 {
		off := max(from-period, period-to, 0)
		sd := math.Hypot(periodSpread*period, u)
		return max(0.02, math.Exp(-off*off/(2*sd*sd)))
	}
	fast := max(near(fastFromS, fastToS), fuseShare*near(fuseFromS, fuseToS))
	return Seen{DrawFast: fast, DrawCharger: near(chargerFromS, chargerToS), DrawSlow: near(slowFromS, slowToS)}
}
