package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// What becomes of VBUS under a contract that was not lost again and again.
const (
	Stays    = "stays"
	GoesAway = "goes-away"
	GoesOpen = "goes-after-the-draw"
)

// awayS is how long VBUS must stay away before the end to be more than the end of a
// recording: common practice.
const awayS = 5.0

// Gone reports VBUS that left a standing contract once, for the rest of the recording.
func (p Picture) Gone() (Seen, string) {
	d := p.Meter()
	if d == nil || !p.Contract || p.Cold || p.BreaksDown() {
		return nil, ""
	}
	last, known := 0.0, false
	for _, l := range d.Levels {
		if l.NominalV > 0 {
			last, known = l.EndS, true
		}
	}
	away := d.Sampling.EndS - last
	if !known || away < awayS {
		return nil, ""
	}
	if stopsFirst(d, last) {
		return Exactly(GoesOpen), fmt.Sprintf("the draw stopped at %.2f s while VBUS still stood; VBUS followed, and stayed away for %.0f s, as when the plug is pulled", last, away)
	}
	return Exactly(GoesAway), fmt.Sprintf("VBUS went away at %.2f s and stayed away for %.0f s", last, away)
}

// A draw that ends before VBUS does: common practice.
const (
	endsNearS  = 0.5   // round the end of the level
	endsDraw   = 0.1   // of what flowed: it has stopped
	endsStands = 0.95  // of VBUS before: it stands
	endsStill  = 0.6   // a row so long that a machine's own limit of voltage is passed within it
	endsRowS   = 0.02  // is such a row
	endsStoodS = 0.004 // on a fast log: a machine drops its load within the fall of VBUS as well
	endsLead   = 1.02  // of VBUS before: what a lead gives back as the draw ends
	endsEarly  = 0.9   // of what flowed, in a row at whose end it stopped
)

// stopsFirst reports a working draw that ended while VBUS stood, close to the time given.
func stopsFirst(d *draw.Result, atS float64) bool {
	last := -1 // with a draw, while VBUS stands
	var working draw.Plateau
	for i, q := range d.Plateaus {
		switch {
		case q.StartS > atS+endsNearS:
		case amps(q) < standbyA || volts(q) < contractV || last >= 0 && volts(q) < endsStands*volts(working):
		default:
			last = i
			if amps(q) >= endsEarly*amps(working) || q.StartS-working.EndS > endsNearS {
				working = q
			}
		}
	}
	if last < 0 {
		return false
	}
	long, stoodS := d.Sampling.IntervalS >= endsRowS, 0.0
	for _, q := range d.Plateaus[last:] {
		v, a := volts(q)/volts(working), amps(q)/amps(working)
		switch {
		case q.EndS < atS-endsNearS || q.StartS > atS+endsNearS:
		case a <= endsDraw && v >= endsStands && !long:
			if stoodS += q.EndS - q.StartS + d.Sampling.IntervalS; stoodS >= endsStoodS {
				return true
			}
		case a <= endsDraw && v >= endsStill && long:
			return true
		case a < endsEarly && v < endsStands: // they go together
			return false
		case long && (d.Sampling.Averaging == nil || *d.Sampling.Averaging) && a < endsEarly && v >= 1 && v <= endsLead:
			return true
		}
	}
	return false
}

// departsFrom is how often VBUS must leave a contract to be more than a plug that is moved:
// nobody pulls it twice while he records. Common practice.
const departsFrom = 2

// Losses as a plug makes them that is not in yet, or is turned over. Common practice.
const (
	atFirstS     = 10.0 // from the first to the last
	atFirstTimes = 3.0  // as long, and longer, nothing is lost after them
)

// atFirst reports losses of one short stretch, with a far longer one after it.
func atFirst(first, last, end float64) bool {
	return last-first <= atFirstS && end-last >= max(atFirstS, atFirstTimes*(last-first))
}

// alikeDraw is how close the draws lie at which a limit trips: common practice.
const alikeDraw = 0.15

// A draw that flows on for so long is carried. Common practice.
const (
	carriedS    = 3.0
	belowItself = 0.95 // of the draw at which it breaks: what stands as high for long is not what breaks it
)

// carries reports a draw that stood for long at the contract's voltage.
func carries(d *draw.Result, amps float64) bool {
	return slices.ContainsFunc(d.Levels, func(l draw.Level) bool {
		return l.NominalV >= contractV && l.EndS-l.StartS >= carriedS && l.MeanA >= amps
	})
}

// breaksAt is the draw at which VBUS gave way, where it did so at one draw each time, less
// than was promised and more than it ever carried for long.
func (p Picture) breaksAt() (amps float64, alike bool) {
	d := p.Meter()
	promised, known := p.promisedA()
	if d == nil || !known || len(d.Collapses) < departsFrom {
		return 0, false
	}
	least, most := math.Inf(1), 0.0
	for _, c := range d.Collapses {
		least, most = min(least, c.AtA), max(most, c.AtA)
	}
	return most, least >= standbyA && most < atLimit*promised && most-least <= alikeDraw*most && !carries(d, belowItself*least)
}

// A source that gives out is back within a second or two, one that is too hot takes longer; to turn
// a plug over takes a hand some seconds, and it does so some times. Common practice.
const (
	handFromS = 2.5
	handToS   = 6
	handsMost = 3
)

// A plug is in, and a machine has begun, within so many seconds. Common practice.
const (
	beginsS = 3.5
	beginsA = 0.2 // a draw that works
)

// lostAtFirst counts contracts that are lost within the first seconds of VBUS, where none is after
// them and a draw works to the end; 0 where one is, or where damaged messages tell why.
func (p Picture) lostAtFirst() int {
	d := p.Meter()
	if d == nil || len(d.Levels) < 2 || d.Levels[0].NominalV != 0 || p.damaged() {
		return 0
	}
	last := d.Levels[len(d.Levels)-1]
	if last.VoltageV < contractV || last.MeanA < beginsA || last.EndS-last.StartS < atFirstS {
		return 0
	}
	began, lost, falls := d.Levels[0].EndS, 0.0, 0
	for i, l := range d.Levels[1:] {
		if l.VoltageV < contractV && d.Levels[i].VoltageV >= contractV {
			lost, falls = l.StartS, falls+1
		}
	}
	if lost-began > beginsS {
		return 0
	}
	return falls
}

// Losses are contracts that were lost and came again, without being lost as a fault; empty
// where none was.
func (p Picture) Losses() (outcome, text string) {
	if p.BreaksDown() || p.State[ContractAnew] > 0 { // that it is lost is told already
		return "", ""
	}
	if f := p.Found["contract-lost"]; f.Severity == rules.Warning {
		if p.lostAtFirst() > 0 {
			return LostAtFirst, f.Text
		}
		if amps, alike := p.breaksAt(); alike {
			return LostDraw, fmt.Sprintf("%s, each time at %.2g A", f.Text, amps)
		}
		if count, ok := f.Values["count"].(int); ok && count >= departsFrom {
			return LostMore, f.Text
		}
		return LostOnce, f.Text
	}
	d, away := p.Meter(), 0
	if d == nil {
		return "", ""
	}
	first, last, byHand := math.NaN(), 0.0, true
	for i := 1; i+1 < len(d.Levels); i++ {
		if d.Levels[i].NominalV == 0 && d.Levels[i-1].VoltageV >= contractV {
			away++
			last = d.Levels[i].StartS
			gone := d.Levels[i+1].StartS - last
			byHand = byHand && gone >= handFromS && gone <= handToS
			if math.IsNaN(first) {
				first = last
			}
		}
	}
	outcome = LostMore
	switch {
	case away < departsFrom:
		return "", ""
	case p.lostAtFirst() > 0:
		outcome = LostAtFirst
	case atFirst(first, last, d.Sampling.EndS), byHand && away <= handsMost:
		outcome = LostOnce
	}
	return outcome, fmt.Sprintf("VBUS leaves a contract %d times and comes again", away)
}
