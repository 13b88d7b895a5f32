package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

// Whether the input switches are seen to close, in a machine that then draws nothing.
const (
	ClosesUnseen = "unseen"
	ClosesNever  = "never"
	ClosesSeen   = "closes"
	ClosesLost   = "closes-and-is-lost"
)

// closesRowS is how close rows must lie to show a charge that inputs take within a
// millisecond or three, and closesMost how often it comes before it is a try. Common practice.
const (
	closesRowS = 0.002
	closesMost = 2
	neverA     = 0.05 // the most that a port controller takes, and a row is off
)

// mostAbove5V is the highest current of a row on a level above 5 V.
func mostAbove5V(d *draw.Result) float64 {
	most := 0.0
	for _, l := range d.Levels {
		if l.VoltageV >= contractV {
			most = max(most, l.MaxA)
		}
	}
	return most
}

// sawRise reports a log that shows VBUS before it went above 5 V.
func sawRise(d *draw.Result) bool {
	return slices.IndexFunc(d.Levels, func(l draw.Level) bool { return l.VoltageV >= contractV }) > 0
}

// idleContracts counts the levels above 5 V where each is at rest, 0 where one draws.
func idleContracts(d *draw.Result) int {
	count := 0
	for _, l := range d.Levels {
		switch {
		case l.VoltageV < contractV:
		case !(l.MeanA <= quietA): // nor where it is not known
			return 0
		default:
			count++
		}
	}
	return count
}

// Closes looks for the charge of a switch that closes, where next to nothing is drawn afterwards,
// be it until the contract is lost.
func (p Picture) Closes(pattern Seen) (Seen, string) {
	d := p.Meter()
	if d == nil || !p.Contract {
		return nil, ""
	}
	quiet, most := pattern[DrawNone] > 0.5, closesMost
	switch lost := p.BreaksDown(); {
	case lost && idleContracts(d) > 0:
		quiet, most = true, max(most, idleContracts(d))
	case lost, pattern[DrawNone]+pattern[DrawStandby] < 0.5:
		return nil, ""
	}
	count, first := 0, 0
	for i, g := range d.Gulps {
		if g.VoltageV >= contractV {
			if count == 0 {
				first = i
			}
			count++
		}
	}
	s, highest := d.Sampling, mostAbove5V(d)
	switch {
	case count > most:
		return nil, ""
	case count > 0:
		g, how := d.Gulps[first], ClosesSeen
		if p.BreaksDown() && !p.neverDraws() { // a controller that gives out later closes them first
			how = ClosesLost
		}
		return Exactly(how), fmt.Sprintf("at %.2f s %.2g mC flow in at %.4g V, as capacitors fill behind a switch that closes", g.TimeS, 1000*g.ChargeC, g.VoltageV)
	case s.IntervalS > 0 && s.IntervalS <= closesRowS && sawRise(d) && highest > 0 && highest <= neverA && quiet:
		return Exactly(ClosesNever), fmt.Sprintf("not one row above 5 V shows more than %.0f mA: no charge flows in, as it does behind a switch that closes", 1000*highest)
	case s.IntervalS > 0 && s.IntervalS <= closesRowS && sawRise(d):
		return Exactly(ClosesUnseen), "no charge flows in once VBUS stands, as it does behind a switch that closes"
	}
	return nil, ""
}
