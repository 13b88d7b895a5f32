package rules

import (
	"fmt"
	"math"

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
	if f.Negotiation != nil && len(f.Negotiation.Contracts) > 0 {
		return lostByMessages(f.Negotiation, r)
	}
	if f.Negotiation == nil && f.Draw != nil {
		return lostByMeter(f, r)
	}
	return nil
}

func lostByMessages(n *negotiation.Result, r Rule) []Finding {
	var lost []negotiation.Contract
	for _, c := range n.Contracts {
		if _, bad := lossWords[c.EndedBy]; bad && c.EndS != nil && !renewed(n, c) {
			lost = append(lost, c)
		}
	}
	if len(lost) == 0 {
		return nil
	}
	first, last := lost[0], lost[len(lost)-1]
	severity := Warning
	if len(lost) > 1 || !contractAfter(n, *last.EndS) {
		severity = Fault
	}
	text := fmt.Sprintf("the contract was lost at %s %s", seconds(*first.EndS), lossWords[first.EndedBy])
	if len(lost) > 1 {
		text = fmt.Sprintf("the contract was lost %d times, first at %s %s", len(lost), seconds(*first.EndS), lossWords[first.EndedBy])
	}
	return []Finding{r.finding(severity, *first.EndS, *last.EndS, text, values{"count": len(lost)})}
}

// renewed reports a contract that a Soft_Reset ended and another replaced at
// once: a fresh start, and nothing was lost.
func renewed(n *negotiation.Result, c negotiation.Contract) bool {
	return c.EndedBy == "soft-reset" && contractAfter(n, *c.EndS)
}

// lostByMeter looks for a high voltage that fell away. Without messages a
// gap shorter than a removal is a reset; one longer gap may be the plug.
func lostByMeter(f *Facts, r Rule) []Finding {
	losses := levelLosses(f)
	if len(losses) == 0 {
		return nil
	}
	resets, removals := 0, 0
	for _, l := range losses {
		if l.back && l.gapS < removalS {
			resets++
		} else {
			removals++
		}
	}
	first, last := losses[0], losses[len(losses)-1]
	v := values{"count": len(losses), "voltage_v": first.fromV}
	switch {
	case resets >= 2:
		text := fmt.Sprintf("the voltage fell back from %s %d times", volts(first.fromV), len(losses))
		return []Finding{r.finding(Fault, first.atS, last.atS, text, v)}
	case resets == 1:
		text := fmt.Sprintf("the voltage fell back from %s at %s and came again", volts(first.fromV), seconds(first.atS))
		return []Finding{r.finding(Warning, first.atS, last.atS, text, v)}
	case removals == 1 && last.back:
		text := fmt.Sprintf("VBUS went away at %s for %s and started anew, as when the plug is pulled", seconds(first.atS), seconds(last.gapS))
		return []Finding{r.finding(Note, first.atS, first.atS, text, v)}
	case last.toV > offV():
		text := fmt.Sprintf("the voltage fell from %s to %s at %s and did not come back", volts(last.fromV), volts(last.toV), seconds(last.atS))
		return []Finding{r.finding(Fault, first.atS, last.atS, text, v)}
	default:
		text := fmt.Sprintf("VBUS went away at %s; a recording that ends like this does not say whether the plug was pulled", seconds(last.atS))
		return []Finding{r.finding(Note, first.atS, last.atS, text, v)}
	}
}

// levelLoss is a fall from a high level that no new contract explains.
type levelLoss struct {
	atS, fromV, toV, gapS float64
	back                  bool // the same or another high level came again
}

func levelLosses(f *Facts) []levelLoss {
	var out []levelLoss
	levels := f.Draw.Levels
	for i := 0; i+1 < len(levels); i++ {
		from, to := levels[i], levels[i+1]
		if from.NominalV < 8 || to.NominalV > 5 {
			continue
		}
		loss := levelLoss{atS: from.EndS, fromV: from.VoltageV, toV: to.VoltageV}
		for _, l := range levels[i+2:] {
			if l.NominalV >= 8 {
				loss.back, loss.gapS = true, l.StartS-from.EndS
				break
			}
		}
		out = append(out, loss)
	}
	return out
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
		if len(run) > 0 && contractHeld(n, run[len(run)-1], reset.TimeS) {
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

// contractHeld reports a contract between two resets that lasted.
func contractHeld(n *negotiation.Result, from, to float64) bool {
	const heldS = 10 // longer than any retry family: common practice
	for _, c := range n.Contracts {
		if c.StartS == nil || *c.StartS < from || *c.StartS > to {
			continue
		}
		if c.EndS == nil || *c.EndS-*c.StartS >= heldS {
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
	bad := n.CRCErrors.Source + n.CRCErrors.Sink
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

// contractAmps is the most that any contract of the recording allows. With
// clocks that are not aligned no smaller figure can be held against a sample.
func contractAmps(n *negotiation.Result) (float64, bool) {
	if n == nil || len(n.Contracts) == 0 {
		return 0, false
	}
	most := math.Inf(-1)
	for _, c := range n.Contracts {
		if c.CurrentMA == nil {
			return 0, false
		}
		most = max(most, float64(*c.CurrentMA)/1000)
	}
	return most, true
}
