package rules

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

const (
	// highV is above 5 V and its window, and below the lowest fixed contract's.
	highV = 8.0
	// resetShowsS is the longest interval of samples at which a Hard Reset's gap
	// more likely shows than not: tSrcRecover is 0.66 s at the least.
	resetShowsS = 1.05
)

// lostByMeter looks for a high voltage that fell away. Without messages a
// gap shorter than a removal is a reset; a longer one may be the plug.
func lostByMeter(f *Facts, r Rule) []Finding {
	losses := levelLosses(f.Draw.Levels)
	if len(losses) == 0 {
		return nil
	}
	resets := 0
	for _, l := range losses {
		if l.how == lostToReset {
			resets++
		}
	}
	first, last := losses[0], losses[len(losses)-1]
	v := values{"count": len(losses), "voltage_v": first.fromV}
	severity, text := Note, ""
	switch {
	case resets >= 2:
		severity = Fault
		if stood := f.Draw.Levels[len(f.Draw.Levels)-1]; above5V(stood) && standsSince(first.atS, last.atS, stood.EndS) {
			severity = Warning
		}
		text = fmt.Sprintf("the voltage fell back from %s %d times", volts(first.fromV), resets)
	case last.how == lostForGood:
		severity = Fault
		text = fmt.Sprintf("VBUS went off from %s at %s and came back with 5 V only", volts(last.fromV), seconds(last.atS))
	case resets == 1:
		severity = Warning
		text = fmt.Sprintf("the voltage fell back from %s at %s and came again", volts(first.fromV), seconds(first.atS))
	case last.how == lostToLower:
		text = fmt.Sprintf("VBUS went from %s to 5 V at %s without going off, as with a new contract, or from a source that gives it up", volts(last.fromV), seconds(last.atS))
		if f.Draw.Sampling.IntervalS > resetShowsS {
			severity = Warning
			text = fmt.Sprintf("VBUS went from %s to 5 V at %s; at this rate a reset between them need not show", volts(last.fromV), seconds(last.atS))
		}
	case last.how == lostToPlug:
		text = fmt.Sprintf("VBUS went away at %s for %s and started anew, as when the plug is pulled", seconds(last.atS), seconds(last.gapS))
	default:
		text = fmt.Sprintf("VBUS went away at %s; a recording that ends like this does not say whether the plug was pulled", seconds(last.atS))
	}
	return []Finding{r.finding(severity, first.atS, last.atS, text, v)}
}

// loss says what a high voltage fell to.
type loss uint8

const (
	lostToEnd   loss = iota // off, or 5 V for a moment, to the end of the recording
	lostToPlug              // off for longer than any reset
	lostToReset             // off for as long as a reset, and the high voltage came again
	lostForGood             // off for as long as a reset, and only 5 V came again
	lostToLower             // 5 V at once, which stood: a Hard Reset goes through 0 V
)

// levelLoss is a fall from a high level.
type levelLoss struct {
	atS, fromV, gapS float64
	how              loss
}

func levelLosses(levels []draw.Level) []levelLoss {
	var out []levelLoss
	for i, from := range levels {
		if from.NominalV >= highV && i+1 < len(levels) && levels[i+1].NominalV <= 5 {
			out = append(out, newLoss(from, levels[i+1:]))
		}
	}
	return out
}

// newLoss tells a loss by what follows it, up to the next high voltage.
func newLoss(from draw.Level, after []draw.Level) levelLoss {
	l := levelLoss{atS: from.EndS, fromV: from.VoltageV}
	again := slices.IndexFunc(after, func(x draw.Level) bool { return x.NominalV >= highV })
	until := after[len(after)-1].EndS
	if again >= 0 {
		until, after = after[again].StartS, after[:again]
	}
	offS, atFiveS := 0.0, 0.0
	for i, x := range after {
		end := until
		if i+1 < len(after) {
			end = after[i+1].StartS
		}
		switch x.NominalV {
		case 0:
			offS = max(offS, end-x.StartS)
			atFiveS = 0
		case 5:
			atFiveS += end - x.StartS
		}
	}
	l.gapS = until - from.EndS
	switch wentOff := after[0].NominalV == 0 || offS > 0; {
	case !wentOff && atFiveS >= minStuckS:
		l.how = lostToLower
	case offS > removalS:
		l.how = lostToPlug
		if again < 0 {
			l.how = lostToEnd
		}
	case again >= 0 && wentOff:
		l.how = lostToReset
	case again >= 0:
		l.how = lostToLower
	case atFiveS >= minStuckS:
		l.how = lostForGood
	}
	return l
}
