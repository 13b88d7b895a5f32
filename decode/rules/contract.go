package rules

import (
	"fmt"
	"slices"

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
		if lost := lostByMessages(f, r); lost != nil || swapped(n) {
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

func lostByMessages(f *Facts, r Rule) []Finding {
	n := f.Negotiation
	var lost, pulled, restarts []negotiation.Contract
	for _, c := range n.Contracts {
		if c.EndS != nil && (c.EndedBy == "restart" || c.EndedBy == "detach" && contractAfter(n, *c.EndS)) {
			restarts = append(restarts, c)
			continue
		}
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
		return append(pulledPlug(pulled, r), began(f, restarts, r)...)
	}
	first, last := lost[0], lost[len(lost)-1]
	severity := Warning
	again := len(lost) > 1 && !(stands(f) && standsSince(*first.EndS, *last.EndS, endOf(f)))
	if again || !contractAfter(n, *last.EndS) && !cutShort(n, *last.EndS) {
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

// restartsByHand is how often somebody surely plugs in again within restartsS, up to
// mostReplugs they may: common practice. More is a source that gives way, or a contact
// that does.
const (
	restartsByHand = 2
	restartsS      = 30.0
	handS          = 6.0 // to pull a plug, turn it over and wait for a contract
)

// began reports contracts after which both sides counted their messages anew:
// VBUS went away, or the plug was moved.
func began(f *Facts, restarts []negotiation.Contract, r Rule) []Finding {
	n := len(restarts)
	if n == 0 {
		return nil
	}
	first, last := *restarts[0].EndS, *restarts[n-1].EndS
	if n > restartsByHand && (last-first)/float64(n-1) < restartsS {
		text := fmt.Sprintf("the contract was lost %d times, first at %s: both sides began anew without a reset, as when VBUS breaks down", n, seconds(first))
		severity := Fault
		slowly := f.Draw == nil && stands(f) && last-first >= handS*float64(n-1)
		early := stands(f) && standsSince(first, last, endOf(f))
		if n <= mostReplugs && (slowly || early || pulledByHand(f, n)) {
			severity, text = Warning, text+" or the plug is pulled"
		}
		return []Finding{r.finding(severity, first, last, text, values{"count": n})}
	}
	text := fmt.Sprintf("both sides began anew at %s without a reset, as when the plug is moved", seconds(first))
	return []Finding{r.finding(Note, first, last, text, values{"count": n})}
}

// A start that fails some times and then stands for far longer is no loss again and again:
// plugs are turned over, software resets what it finds. Common practice.
const standsTimes = 3.0

// standsSince reports losses of one short stretch, long ago.
func standsSince(first, last, end float64) bool {
	return end-last >= max(heldS, standsTimes*(last-first))
}

// endOf is the end of the recording, as far as any input goes.
func endOf(f *Facts) float64 {
	end := 0.0
	if f.Negotiation != nil && f.Negotiation.LastS != nil {
		end = *f.Negotiation.LastS
	}
	if f.Draw != nil && (f.Negotiation == nil || f.Aligned) {
		end = max(end, f.Draw.Sampling.EndS)
	}
	return end
}

// stands reports a contract that nothing ended, and whose VBUS is there.
func stands(f *Facts) bool {
	if n := f.Negotiation; n.Contracts[len(n.Contracts)-1].EndS != nil {
		return false
	}
	if f.Draw == nil || !f.Aligned || len(f.Draw.Levels) == 0 {
		return true
	}
	last := f.Draw.Levels[len(f.Draw.Levels)-1]
	return last.NominalV > 0 || last.EndS-last.StartS <= removalS
}

// pulledByHand reports a log on which VBUS is off as often for longer than any reset takes.
func pulledByHand(f *Facts, n int) bool {
	if f.Draw == nil {
		return false
	}
	pulled := 0
	for _, l := range levelLosses(f.Draw.Levels) {
		if l.how == lostToPlug {
			pulled++
		}
	}
	return pulled >= n
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
	who := "both sides suffer alike"
	switch {
	case n.CRCErrors.Source > n.CRCErrors.Sink:
		who = "what the source says suffers most"
	case n.CRCErrors.Sink > n.CRCErrors.Source:
		who = "what the sink says suffers most"
	}
	text := fmt.Sprintf("%d of %d messages have a wrong CRC; %s", bad, n.Messages, who)
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
