package rules

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

const (
	// removalS parts a Hard Reset's gap from a plug that was pulled: the
	// longest gap the standard knows is tSrcRecover in EPR, 1.425 s, and
	// tSrcTurnOn, 0.275 s.
	removalS = 2.0
	// crcErrorPercent parts a bad line from the odd frame that any line loses.
	crcErrorPercent = 1.0
	// heldS is longer than any retry family, so a contract of it was a good one:
	// common practice.
	heldS = 10.0
	// highV is above 5 V and its window, and below the lowest fixed contract's.
	highV = 8.0
	// resetShowsS is the longest interval of samples at which a Hard Reset's gap
	// more likely shows than not: tSrcRecover is 0.66 s at the least.
	resetShowsS = 1.05
)

// loopResets is one more than a sink may send before it gives PD up: the first
// and nHardResetCount after it.
func loopResets() int { return 2 + int(limit(pd.NHardResetCount).Nom.Value) }

// lossWords says how a contract ended.
var lossWords = map[string]string{
	"hard-reset": "by a Hard Reset",
	"soft-reset": "by a Soft_Reset",
	"vbus-off":   "because VBUS went away",
}

// findContractLost reports contracts that ended by a reset or by VBUS going
// away. One clean removal with a normal start after it is only worth a note.
func findContractLost(f *Facts, r Rule) []Finding {
	if n := f.Negotiation; n != nil && len(n.Contracts) > 0 {
		if lost := lostByMessages(n, r); lost != nil || swapped(n) {
			return lost
		}
	} else if n != nil {
		return nil
	}
	if f.Draw != nil {
		return lostByMeter(f, r)
	}
	return nil
}

// swapped reports a contract that ended by a swap of the roles: VBUS goes off in
// it, and the other side brings it back.
func swapped(n *negotiation.Result) bool {
	return slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool { return c.EndedBy == "role-swap" })
}

func lostByMessages(n *negotiation.Result, r Rule) []Finding {
	var lost, pulled []negotiation.Contract
	for _, c := range n.Contracts {
		if _, bad := lossWords[c.EndedBy]; !bad || c.EndS == nil || renewed(n, c) {
			continue
		}
		if c.EndedBy == "vbus-off" && staysOff(n, *c.EndS) {
			pulled = append(pulled, c)
		} else {
			lost = append(lost, c)
		}
	}
	if len(lost) == 0 {
		return pulledPlug(pulled, r)
	}
	first, last := lost[0], lost[len(lost)-1]
	severity := Warning
	if len(lost) > 1 || !contractAfter(n, *last.EndS) && !cutShort(n, *last.EndS) {
		severity = Fault
	}
	text := fmt.Sprintf("the contract was lost at %s %s", seconds(*first.EndS), lossWords[first.EndedBy])
	if len(lost) > 1 {
		text = fmt.Sprintf("the contract was lost %d times, first at %s %s", len(lost), seconds(*first.EndS), lossWords[first.EndedBy])
	}
	return []Finding{r.finding(severity, *first.EndS, *last.EndS, text, values{"count": len(lost)})}
}

// pulledPlug is worth a note: VBUS went away, and nothing says that it failed.
func pulledPlug(pulled []negotiation.Contract, r Rule) []Finding {
	if len(pulled) == 0 {
		return nil
	}
	at, last := *pulled[0].EndS, *pulled[len(pulled)-1].EndS
	text := fmt.Sprintf("VBUS went away at %s and the contract with it, as when the plug is pulled", seconds(at))
	return []Finding{r.finding(Note, at, last, text, values{"count": len(pulled)})}
}

// staysOff reports VBUS that is off from a moment on for longer than any reset
// keeps it off, or to the end of the recording.
func staysOff(n *negotiation.Result, fromS float64) bool {
	for _, v := range n.VBUS {
		if v.On && v.TimeS > fromS {
			return v.TimeS-fromS > removalS
		}
	}
	return true
}

// renewed reports a contract that a Soft_Reset ended and another replaced at
// once, or was about to: a fresh start, and nothing was lost.
func renewed(n *negotiation.Result, c negotiation.Contract) bool {
	return c.EndedBy == "soft-reset" && (contractAfter(n, *c.EndS) || cutShort(n, *c.EndS))
}

// cutShort reports a recording that ends before the next step after a moment was
// due.
func cutShort(n *negotiation.Result, fromS float64) bool {
	if len(n.Attempts) == 0 {
		return false
	}
	first := slices.IndexFunc(n.Attempts, func(a negotiation.Attempt) bool { return a.StartS >= fromS })
	return first == len(n.Attempts)-1 && n.Attempts[first].Missing == negotiation.StepLeft
}

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
		text = fmt.Sprintf("the voltage fell back from %s %d times", volts(first.fromV), resets)
	case last.how == lostForGood:
		severity = Fault
		text = fmt.Sprintf("VBUS went off from %s at %s and came back with 5 V only", volts(last.fromV), seconds(last.atS))
	case resets == 1:
		severity = Warning
		text = fmt.Sprintf("the voltage fell back from %s at %s and came again", volts(first.fromV), seconds(first.atS))
	case last.how == lostToLower:
		text = fmt.Sprintf("VBUS went from %s to 5 V at %s without going off, as with a new contract", volts(last.fromV), seconds(last.atS))
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

// findHardResetLoop counts resets that no lasting contract parts. The meter
// alone shows them as VBUS going off and on within the time of a Hard Reset.
func findHardResetLoop(f *Facts, r Rule) []Finding {
	if n := f.Negotiation; n != nil {
		return loopByMessages(n, r)
	}
	if f.Draw == nil {
		return nil
	}
	var times []float64
	levels := f.Draw.Levels
	for i := 1; i+1 < len(levels); i++ {
		off := levels[i]
		if off.NominalV == 0 && levels[i-1].NominalV >= 5 && levels[i+1].NominalV >= 5 && off.EndS-off.StartS < removalS {
			times = append(times, off.StartS)
		}
	}
	if len(times) < loopResets() {
		return nil
	}
	text := fmt.Sprintf("VBUS goes off and on %d times from %s on, as with Hard Resets", len(times), seconds(times[0]))
	return []Finding{r.finding(Fault, times[0], times[len(times)-1], text, values{"count": len(times)})}
}

func loopByMessages(n *negotiation.Result, r Rule) []Finding {
	var run, longest []float64
	for _, reset := range n.Resets {
		if !reset.Hard {
			continue
		}
		if len(run) > 0 && parted(n, run[len(run)-1], reset.TimeS) {
			run = nil
		}
		run = append(run, reset.TimeS)
		if len(run) > len(longest) {
			longest = run
		}
	}
	if len(longest) < loopResets() {
		return nil
	}
	first, last := longest[0], longest[len(longest)-1]
	severity := Fault
	if contractAfter(n, last) {
		severity = Warning
	}
	text := fmt.Sprintf("%d Hard Resets from %s to %s", len(longest), seconds(first), seconds(last))
	return []Finding{r.finding(severity, first, last, text, values{"count": len(longest)})}
}

// parted reports two resets that do not belong together: a contract between
// them lasted, the plug was out for longer than a reset takes, or nothing came
// for longer than anybody waits (tNoResponse is 5.5 s at most).
func parted(n *negotiation.Result, from, to float64) bool {
	if to-from > heldS {
		return true
	}
	for _, c := range n.Contracts {
		if c.StartS == nil || *c.StartS < from || *c.StartS > to {
			continue
		}
		if c.EndS == nil || *c.EndS-*c.StartS >= heldS {
			return true
		}
	}
	for _, out := range n.Detaches {
		if out < from || out > to {
			continue
		}
		in := slices.IndexFunc(n.Attaches, func(t float64) bool { return t >= out && t <= to })
		if in >= 0 && n.Attaches[in]-out > removalS {
			return true
		}
	}
	return false
}

// findCRCErrors reports damaged frames, and acknowledgements that a recorder
// says never came, by who was speaking.
func findCRCErrors(f *Facts, r Rule) []Finding {
	n := f.Negotiation
	if n == nil {
		return nil
	}
	bad := n.CRCErrors.Source + n.CRCErrors.Sink - n.CRCErrors.Misread
	if bad == 0 || n.Messages == 0 {
		return nil
	}
	percent := 100 * float64(bad) / float64(n.Messages)
	severity := Note
	if bad > 1 && percent >= crcErrorPercent {
		severity = Warning
	}
	who := "what the source says"
	if n.CRCErrors.Sink > n.CRCErrors.Source {
		who = "what the sink says"
	}
	text := fmt.Sprintf("%d of %d messages have a wrong CRC; %s suffers most", bad, n.Messages, who)
	return []Finding{r.finding(severity, n.CRCErrors.FirstS, n.CRCErrors.LastS, text, values{
		"errors_percent": percent, "source": n.CRCErrors.Source, "sink": n.CRCErrors.Sink,
	})}
}

// findCableLimited looks for an offer that stops at 3 A at 20 V after the
// source asked the cable and learnt no more than 3 A.
func findCableLimited(f *Facts, r Rule) []Finding {
	n := f.Negotiation
	if n == nil || !n.CableAnswers.Asked || n.CableAnswers.CurrentMA > 3000 || n.FirstS == nil {
		return nil
	}
	for _, o := range n.Offers {
		if o.Kind == "fixed" && o.VoltageMV != nil && o.CurrentMA != nil && *o.VoltageMV == 20000 && *o.CurrentMA == 3000 {
			text := "the offer stops at 20 V 3 A, and the cable named no more than 3 A"
			if !n.CableAnswers.Answered {
				text = "the offer stops at 20 V 3 A, and the cable did not answer"
			}
			return []Finding{r.finding(Note, *n.FirstS, *n.FirstS, text, values{"current_a": 3.0})}
		}
	}
	return nil
}

func findCapabilityMismatch(f *Facts, r Rule) []Finding {
	n := f.Negotiation
	if n == nil || len(n.Mismatches) == 0 {
		return nil
	}
	first, last := n.Mismatches[0].TimeS, n.Mismatches[len(n.Mismatches)-1].TimeS
	text := fmt.Sprintf("the Request at %s carries Capability Mismatch: the charger offers less than the machine wants", seconds(first))
	v := values{"count": len(n.Mismatches), "offer_w": nil}
	if w := offeredMilliwatts(n); w > 0 {
		v["offer_w"] = float64(w) / 1000
		text += fmt.Sprintf(" (%.0f W at most)", float64(w)/1000)
	}
	return []Finding{r.finding(Warning, first, last, text, v)}
}

func offeredMilliwatts(n *negotiation.Result) int {
	most := 0
	for _, o := range n.Offers {
		if o.VoltageMV != nil && o.CurrentMA != nil {
			most = max(most, *o.VoltageMV**o.CurrentMA/1000)
		}
		if o.PowerMW != nil {
			most = max(most, *o.PowerMW)
		}
	}
	return most
}

// contractAmps is the most that may flow during a plateau, and the bar above
// which it is too much. On one clock the contracts of its time count, else all of
// the recording.
func contractAmps(f *Facts, p draw.Plateau) (allowed, bar float64, ok bool) {
	if f.Negotiation == nil {
		return 0, 0, false
	}
	inside := false
	for _, c := range f.Negotiation.Contracts {
		if f.Aligned && !touches(c, p) {
			continue
		}
		if c.CurrentMA == nil {
			return 0, 0, false
		}
		a := float64(*c.CurrentMA) / 1000
		allowed = max(allowed, a)
		bar, ok = max(bar, a*(1+overContractPercent/100), a+ownLimitA(c, a)), true
		inside = inside || covers(f, c, p)
	}
	if ok && !inside && atFive(p) {
		allowed = max(allowed, typeCA)
		bar = max(bar, typeCA*(1+overContractPercent/100))
	}
	return allowed, bar, ok
}

// ownLimitA is by how much a source may miss a limit that it holds itself, as
// one of PPS does.
func ownLimitA(c negotiation.Contract, amps float64) float64 {
	switch {
	case c.Kind != pd.KindPPS.String():
		return 0
	case amps > ratedA:
		return amps * limit(pd.IPpsCLNewAbove3A).Max.Value / 100
	default:
		return limit(pd.IPpsCLNew).MaxSI()
	}
}

// touches reports a contract in force at some time of the plateau, the time of a
// transition allowed for on each side.
func touches(c negotiation.Contract, p draw.Plateau) bool {
	slack := limit(pd.TPSTransitionSPR).MaxSI()
	return c.StartS != nil && p.EndS > *c.StartS-slack && (c.EndS == nil || p.StartS < *c.EndS+slack)
}

// covers reports a plateau that lies within the contract. On clocks of their own
// one at 5 V does where a contract of 5 V stands and the plateau is longer than
// the time before any contract.
func covers(f *Facts, c negotiation.Contract, p draw.Plateau) bool {
	if !f.Aligned {
		return c.VoltageMV != nil && *c.VoltageMV <= 5000 && p.EndS-p.StartS >= minStuckS
	}
	return p.StartS >= *c.StartS && (c.EndS == nil || p.EndS <= *c.EndS)
}

// atFive reports a plateau at 5 V: outside a contract the source's Type-C
// current holds there.
func atFive(p draw.Plateau) bool {
	return p.VoltageV != nil && *p.VoltageV <= limit(pd.VSafe5V).Max.Value
}
