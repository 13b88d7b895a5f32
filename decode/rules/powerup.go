package rules

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

const (
	minSilentS = 2.0 // shorter than this a slow attach is not over: tCCDebounce, tVBUSON and a second of margin
	minStuckS  = 3.0 // a contract is due well within 2 s of the plug: common practice

	// quietAtFiveA is the most that a board draws at 5 V while only its port
	// controller and always-on rails live; above it a sound machine may be
	// charging from a plain 5 V source. Common practice.
	quietAtFiveA = 0.30
)

// findNoVBUS looks for a recording in which VBUS never comes. A recorder of
// messages knows it only where it notes VBUS itself.
func findNoVBUS(f *Facts, r Rule) []Finding {
	if d := f.Draw; d != nil && d.Sampling.WithVoltage > 0 {
		s := d.Sampling
		if s.MaxV > offV() || s.EndS-s.StartS < minSilentS {
			return nil
		}
		text := fmt.Sprintf("VBUS stays at %s for the whole recording of %s", volts(s.MaxV), seconds(s.EndS-s.StartS))
		if waits := d.CC.Waits; waits.Seconds >= minSilentS {
			text += fmt.Sprintf(", though a CC pin stands at %s for %s as Rd leaves it", volts(waits.Volts), seconds(waits.Seconds))
		}
		return []Finding{r.finding(Fault, s.StartS, s.EndS, text, values{"voltage_v": s.MaxV})}
	}
	return noVBUSNoted(f.Negotiation, r)
}

// noVBUSNoted judges a recorder that notes VBUS, as one VBUS_Off shows: the plug
// is in, and neither VBUS nor a message comes.
func noVBUSNoted(n *negotiation.Result, r Rule) []Finding {
	if n == nil || n.AttachS == nil || n.LastS == nil || n.Messages > 0 || len(n.VBUS) == 0 {
		return nil
	}
	if slices.ContainsFunc(n.VBUS, func(v negotiation.VBUSNote) bool { return v.On }) || *n.LastS-*n.AttachS < minSilentS {
		return nil
	}
	text := fmt.Sprintf("the plug is in from %s on, and VBUS does not come for %s", seconds(*n.AttachS), seconds(*n.LastS-*n.AttachS))
	return []Finding{r.finding(Fault, *n.AttachS, *n.LastS, text, values{"voltage_v": nil})}
}

// sourceWasSilent reports whether VBUS was there and no message came from the
// source: then only the draw can tell a charger without PD from a dead line.
func sourceWasSilent(f *Facts) bool {
	n := f.Negotiation
	if n == nil || n.FromSource > 0 || n.BeginsInside && n.HardResets == 0 {
		return false // inside a contract nobody need speak; after a Hard Reset the source must
	}
	return sawVBUS(f)
}

// sawVBUS reports whether anything in the recording shows VBUS.
func sawVBUS(f *Facts) bool {
	if f.Draw != nil && f.Draw.Sampling.WithVoltage > 0 && f.Draw.Sampling.MaxV > offV() {
		return true
	}
	if f.Negotiation != nil {
		for _, v := range f.Negotiation.VBUS {
			if v.On {
				return true
			}
		}
	}
	return false
}

// findNoSourceCapabilities covers both an attempt without an offer and a
// message list that is empty of the source while VBUS stands.
func findNoSourceCapabilities(f *Facts, r Rule) []Finding {
	n := f.Negotiation
	if n == nil {
		return nil
	}
	if sourceWasSilent(f) {
		from, to := messagesSpan(f)
		if to-from < limit(pd.TFirstSourceCap).MaxSI() || !offerWasDue(f) {
			return nil
		}
		severity, text := Warning, "VBUS is there, but not one message of the source was recorded"
		switch {
		case n.CableAnswers.Asked:
			text = "VBUS is there, and the source asks the cable and offers the device nothing"
		case f.Draw != nil && slices.ContainsFunc(f.Draw.Levels, above5V):
			severity, text = Note, "VBUS stands above 5 V, and not one message was recorded: the contract is older than the list, or the recorder heard nothing"
		case drawsAsSound(f):
			severity = Note
			text += "; the device draws at 5 V as a sound one does, so this may be a plain 5 V source"
		}
		return []Finding{r.finding(severity, from, to, text, values{})}
	}
	return stalled(negotiation.StepCapabilities)(f, r)
}

// above5V reports a level that takes a contract.
func above5V(l draw.Level) bool { return l.VoltageV > limit(pd.VSafe5V).Max.Value }

// offerWasDue reports VBUS that stood for long enough: by the meter, else by what
// the recorder of messages notes.
func offerWasDue(f *Facts) bool {
	if f.Draw != nil && f.Draw.Sampling.WithVoltage > 0 {
		due := limit(pd.TFirstSourceCap).MaxSI()
		return slices.ContainsFunc(f.Draw.Levels, func(l draw.Level) bool {
			return l.VoltageV >= LowestContractV && l.EndS-l.StartS+f.Draw.Sampling.IntervalS >= due
		})
	}
	return slices.ContainsFunc(f.Negotiation.Attempts, func(a negotiation.Attempt) bool {
		return a.Missing == negotiation.StepCapabilities
	})
}

// messagesSpan is the stretch that the messages cover, or the meter's where
// the list is empty.
func messagesSpan(f *Facts) (from, to float64) {
	n := f.Negotiation
	if n.FirstS != nil && n.LastS != nil && *n.LastS > *n.FirstS {
		return *n.FirstS, *n.LastS
	}
	if f.Draw != nil {
		return f.Draw.Sampling.StartS, f.Draw.Sampling.EndS
	}
	if n.FirstS != nil {
		return *n.FirstS, *n.FirstS
	}
	return 0, 0
}

// drawsAsSound reports a steady working draw at 5 V, such as a machine that
// charges from a plain source.
func drawsAsSound(f *Facts) bool {
	if f.Draw == nil {
		return false
	}
	for _, p := range f.Draw.Plateaus {
		if p.CurrentA != nil && *p.CurrentA > quietAtFiveA && p.EndS-p.StartS >= minStuckS {
			return true
		}
	}
	return false
}

// stepWords says what an attempt lacked.
var stepWords = map[negotiation.Step]string{
	negotiation.StepCapabilities: "no Source_Capabilities came",
	negotiation.StepAcknowledge:  "the offer was never acknowledged",
	negotiation.StepRequest:      "the offer was acknowledged, but no Request came",
	negotiation.StepBegunAnew:    "the sink answered the offer with a Soft_Reset",
	negotiation.StepAnswer:       "the Request was never answered",
	negotiation.StepRefused:      "the Request was refused",
	negotiation.StepAnswerHeard:  "the Request was accepted, and the sink went on as if it had not been",
	negotiation.StepCutShort:     "the Request was accepted, and a Hard Reset came before PS_RDY was due",
	negotiation.StepPowerReady:   "the Request was accepted, but PS_RDY never came",
	negotiation.StepUnknown:      "it ended without PS_RDY; which step failed cannot be told",
}

// lacked says what an attempt lacked, and why where the standard makes it so.
func lacked(a negotiation.Attempt) string {
	if a.Missing == negotiation.StepAnswer && a.SaidBefore {
		return stepWords[a.Missing] + ", as it carries the MessageID of the message before it and counts as said again"
	}
	if a.Missing == negotiation.StepRefused && a.Waited {
		return "the Request was put off with Wait, and no Accept followed"
	}
	return stepWords[a.Missing]
}

// missingMessage is the message that an attempt lacked, nil where it cannot be
// told.
func missingMessage(s negotiation.Step) any {
	switch s {
	case negotiation.StepCapabilities:
		return pd.SourceCapabilities.String()
	case negotiation.StepAcknowledge:
		return pd.GoodCRC.String()
	case negotiation.StepRequest:
		return pd.Request.String()
	case negotiation.StepAnswer, negotiation.StepRefused:
		return pd.Accept.String()
	case negotiation.StepAnswerHeard:
		return pd.GoodCRC.String()
	case negotiation.StepPowerReady:
		return pd.PSRDY.String()
	default:
		return nil
	}
}

// stalled makes the function of a rule that stands for one missing step.
// Attempts that follow each other with the same gap are one finding.
func stalled(step negotiation.Step) func(*Facts, Rule) []Finding {
	return func(f *Facts, r Rule) []Finding {
		return stalls(f, r, func(a negotiation.Attempt) bool { return a.Missing == step })
	}
}

// findContractStalled stands beside the rules of the later steps, and alone
// where the step cannot be told.
func findContractStalled(f *Facts, r Rule) []Finding {
	if sourceWasSilent(f) {
		return nil // nothing was ever attempted
	}
	return stalls(f, r, func(a negotiation.Attempt) bool {
		switch a.Missing {
		case negotiation.StepRequest, negotiation.StepBegunAnew, negotiation.StepAnswer, negotiation.StepRefused,
			negotiation.StepAnswerHeard, negotiation.StepCutShort, negotiation.StepPowerReady, negotiation.StepUnknown:
			return true
		default:
			return false
		}
	})
}

func stalls(f *Facts, r Rule, match func(negotiation.Attempt) bool) []Finding {
	n := f.Negotiation
	if n == nil {
		return nil
	}
	var out []Finding
	count, same := 0, negotiation.StepLeft
	for _, a := range n.Attempts {
		if a.Missing == negotiation.StepLeft {
			continue // cut short: it neither ends like the others nor otherwise
		}
		if a.Beginning || !match(a) {
			count = 0
			continue
		}
		severity := Fault
		if contractAfter(n, a.EndS) {
			severity = Warning
		}
		if last := len(out) - 1; last >= 0 && count > 0 && a.Missing == same {
			count++
			out[last].EndS, out[last].Severity = number(a.EndS), severity
			out[last].Values["attempts"] = count
			out[last].Text = fmt.Sprintf("from %s on %d attempts at a contract ended the same way: %s", seconds(*out[last].StartS), count, lacked(a))
			continue
		}
		count, same = 1, a.Missing
		text := fmt.Sprintf("the attempt at %s ended without a contract: %s", seconds(a.StartS), lacked(a))
		out = append(out, r.finding(severity, a.StartS, a.EndS, text, values{"attempts": 1, "missing": missingMessage(a.Missing)}))
	}
	return out
}

func contractAfter(n *negotiation.Result, t float64) bool {
	for _, c := range n.Contracts {
		if c.StartS != nil && *c.StartS >= t {
			return true
		}
	}
	return false
}

// findStuckAt5V looks for VBUS that stays at 5 V with little draw. Messages
// that show a contract, at whatever voltage, are not stuck.
func findStuckAt5V(f *Facts, r Rule) []Finding {
	n := f.Negotiation
	if n != nil && (len(n.Contracts) > 0 || n.BeginsInside) {
		return nil
	}
	if f.Draw != nil && f.Draw.Sampling.WithVoltage > 0 {
		return stuckByMeter(f, r)
	}
	if n == nil || n.LastS == nil {
		return nil
	}
	from, stalled := stalledSince(n)
	if !stalled || *n.LastS-from < minStuckS {
		return nil
	}
	for _, o := range n.Offers {
		if o.VoltageMV != nil && *o.VoltageMV > 5000 {
			text := fmt.Sprintf("from %s on a higher voltage is offered and no contract is ever made", seconds(from))
			return []Finding{r.finding(Fault, from, *n.LastS, text, values{})}
		}
	}
	return nil
}

// stalledSince is when the first of the attempts that stalled began.
func stalledSince(n *negotiation.Result) (float64, bool) {
	for _, a := range n.Attempts {
		if !a.Beginning && a.Missing != negotiation.StepLeft && a.Missing != negotiation.StepDone {
			return a.StartS, true
		}
	}
	return 0, false
}

func stuckByMeter(f *Facts, r Rule) []Finding {
	d := f.Draw
	var at5, charge, from, to float64
	from = math.NaN()
	for _, l := range d.Levels {
		if l.NominalV > 5 {
			return nil
		}
		if l.NominalV != 5 {
			continue
		}
		if math.IsNaN(from) {
			from = l.StartS
		}
		to = l.EndS
		at5 += l.EndS - l.StartS
		charge += l.MeanA * (l.EndS - l.StartS)
	}
	if at5 < minStuckS {
		return nil
	}
	mean := charge / at5
	if !math.IsNaN(mean) && mean > quietAtFiveA || drawsAsSound(f) {
		return nil
	}
	severity := Warning
	text := fmt.Sprintf("VBUS stays at 5 V for %s", seconds(at5))
	v := values{"seconds_s": at5, "current_a": nil}
	if !math.IsNaN(mean) {
		text += fmt.Sprintf(" and the draw is %s", amps(mean))
		v["current_a"] = mean
	}
	if n := f.Negotiation; n != nil && n.FromSource > 0 {
		severity = Fault
		text += "; the source offers, and no contract is made"
	}
	return []Finding{r.finding(severity, from, to, text, v)}
}
