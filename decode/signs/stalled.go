package signs

import (
	"fmt"

	"portside/decode/negotiation"
	"portside/pd"
)

// stalled is what the attempts that came to nothing had in common: the step that so many of them
// lacked, beside what a meter saw meanwhile.
func (p Picture) stalled(n *negotiation.Result, step negotiation.Step, count int) (Seen, string) {
	s := stepSeen(step, n)
	if step == negotiation.StepCutShort {
		s, text := p.cutShort(count), p.stallText(step)
		if s[CutThere] == 1 && len(s) == 1 {
			text += ", though VBUS comes to what was asked for, and nothing is drawn from it"
		}
		return s, text
	}
	if s[NoPowerReady] > 0 && overfilled(p.Meter()) {
		return Exactly(CutPulled), p.stallText(step) + fmt.Sprintf("; up to %.2g A flow as VBUS comes up, for longer than capacitors take", p.Meter().Sampling.MaxA)
	}
	if fallen := fallsFromContract(p.Meter()); s[NoPowerReady] > 0 && fallen >= glimpses {
		if d := p.Meter(); d.Sampling.MaxA >= surgeA && !loadedAt5(d) { // the sink has not let it in
			return Exactly(CutPulled), p.stallText(step) + fmt.Sprintf(", and up to %.2g A pull VBUS down on its way up", d.Sampling.MaxA)
		}
		if p.drawsNothing(fallen) && begunAfterReady(n) {
			return Exactly(UpAndLetGo), p.stallText(step) + ", though VBUS rises, and goes without a reset, and nothing is drawn from it"
		}
		if p.drawsNothing(fallen) || p.idlesLong(fallen) {
			return s, p.stallText(step) + ", though VBUS rises, and nothing is drawn from it"
		}
		s[ContractLost] = cameUp // it comes up and goes away again, and nobody said why
		return s, p.stallText(step) + ", though VBUS rises and falls again"
	}
	if s[WronglyAsked] > s[Refused] {
		return s, p.stallText(step) + "; it asks for what the source does not offer"
	}
	if p.Meter() == nil && s[Unanswered] > 0 {
		s[LostOnTheWay] = 1 // nobody saw whether VBUS arrives
	}
	return s, p.stallText(step)
}

// gaveUp is how often a sink has asked when it gives up: the first time and after each of
// nHardResetCount resets, less one that the recording may have missed.
func gaveUp() int { return int(pd.NHardResetCount.Limits(pd.Revision32).Nom.Value) }

// commonStep is the step that most attempts lacked. Attempts that the end of
// the recording cut off, or that began before it, tell nothing. A sink whose Requests came
// to nothing gives PD up after some resets and asks no more: what came before tells.
func commonStep(n *negotiation.Result) (negotiation.Step, int) {
	counts := map[negotiation.Step]int{}
	for _, a := range n.Attempts {
		if a.Missing == negotiation.StepRequest && counts[negotiation.StepAnswer]+counts[negotiation.StepRefused]+counts[negotiation.StepPowerReady] >= gaveUp() {
			break
		}
		if !a.Beginning && a.Missing != negotiation.StepLeft && a.Missing != negotiation.StepDone {
			counts[a.Missing]++
		}
	}
	if counts[negotiation.StepAnswer] > 0 || counts[negotiation.StepRequest] >= gaveUp() { // who offered, and falls silent, has given PD up
		delete(counts, negotiation.StepCapabilities)
	}
	best, most := negotiation.StepUnknown, 0
	for step := negotiation.StepUnknown; step <= negotiation.StepDone; step++ {
		if counts[step] > most {
			best, most = step, counts[step]
		}
	}
	return best, most
}

// begunAfterReady reports attempts that end between Accept and PS_RDY, most of them without a
// reset.
func begunAfterReady(n *negotiation.Result) bool {
	anew, reset := 0, 0
	for _, a := range n.Attempts {
		switch {
		case a.Missing != negotiation.StepPowerReady:
		case a.EndedBy == "hard-reset" || a.EndedBy == "soft-reset":
			reset++
		default:
			anew++
		}
	}
	return anew > reset
}

// stepSeen folds what a recorder can tell: one that shows no GoodCRC cannot
// tell a deaf sink from one that never asks.
func stepSeen(step negotiation.Step, n *negotiation.Result) Seen {
	switch step {
	case negotiation.StepCapabilities:
		return silentSource(n)
	case negotiation.StepAcknowledge:
		if n.CRCErrors.RepeatedSink >= glimpses { // it speaks, and is not heard either
			return Exactly(UnheardAsked)
		}
		return Exactly(Unanswered)
	case negotiation.StepRequest:
		if n.GoodCRCs == 0 {
			return Seen{Unanswered: 1, NoRequest: 1}
		}
		return Exactly(NoRequest)
	case negotiation.StepBegunAnew:
		return Exactly(BegunAnew)
	case negotiation.StepAnswer:
		return withoutAnswer(n)
	case negotiation.StepRefused:
		return refusal(n)
	case negotiation.StepAnswerHeard:
		return Exactly(AnswerUnheard)
	case negotiation.StepPowerReady:
		return Exactly(NoPowerReady)
	}
	if n.FromSource == 0 { // nothing but the sink's own resets
		return silentSource(n)
	}
	return Seen{Unanswered: 1, NoRequest: 1, Refused: 1, WronglyAsked: 1, UnheardAsked: 1, NoAnswer: 1, NoPowerReady: 1}
}

// elseHeard reports a source that takes whatever else the sink sends: it says nothing twice,
// and nothing is damaged.
func elseHeard(n *negotiation.Result) bool {
	e := n.CRCErrors
	return e.UnheardSource+e.UnacknowledgedSource+e.RepeatedSource+e.Source+e.Sink == 0
}

// withoutAnswer tells Requests that the source acknowledged from those that it did not.
func withoutAnswer(n *negotiation.Result) Seen {
	heard, unheard := 0, 0
	for _, a := range n.Attempts {
		switch {
		case a.Missing != negotiation.StepAnswer:
		case a.Heard == negotiation.Acknowledged:
			heard++
		case a.Heard == negotiation.Unacknowledged:
			unheard++
		}
	}
	switch {
	case heard > unheard:
		return Exactly(NoAnswer)
	case heard == 0 && unheard >= glimpses && elseHeard(n):
		return Exactly(DeafToAsked)
	case unheard > heard:
		return Exactly(UnheardAsked)
	}
	return Seen{NoAnswer: 1, UnheardAsked: 1}
}

// sameOffer reports an attempt that was made on these offers, as far as their highest
// voltage and power tell.
func sameOffer(a negotiation.Attempt, offers []negotiation.Offer) bool {
	mv, mw := 0, 0
	for _, o := range offers {
		if o.Kind == pd.KindFixed.String() && o.VoltageMV != nil && o.CurrentMA != nil {
			mv, mw = max(mv, *o.VoltageMV), max(mw, *o.VoltageMV**o.CurrentMA/1000)
		}
	}
	return mv > 0 && mv == a.OfferMV && mw == a.OfferMW
}

// refusal tells a Request within the offer from one beyond it.
func refusal(n *negotiation.Result) Seen {
	for _, a := range n.Attempts {
		if a.Missing != negotiation.StepRefused {
			continue
		}
		if a.RequestMV == 0 && len(n.Offers) > 0 && (a.RequestAt > len(n.Offers) || a.RequestAt == 0) {
			return Exactly(WronglyAsked) // no such object
		}
		if a.RequestMV == 0 {
			continue
		}
		for _, o := range n.Offers {
			if o.VoltageMV != nil && *o.VoltageMV == a.RequestMV && o.CurrentMA != nil && *o.CurrentMA >= a.RequestMA {
				return Exactly(Refused)
			}
		}
		if sameOffer(a, n.Offers) {
			return Exactly(WronglyAsked)
		}
		return Seen{WronglyAsked: 1, Refused: 0.5}
	}
	return Seen{Refused: 1, WronglyAsked: 1}
}

// stallText tells what the attempts lacked, and how often where the finding tells of one alone.
func (p Picture) stallText(step negotiation.Step) string {
	rule := map[negotiation.Step]string{
		negotiation.StepCapabilities: "no-source-capabilities", negotiation.StepAcknowledge: "capabilities-unanswered",
		negotiation.StepRequest: "request-missing", negotiation.StepRefused: "request-refused", negotiation.StepPowerReady: "power-ready-missing",
	}[step]
	for _, r := range []string{rule, "contract-stalled", "stuck-at-5v"} {
		f, known := p.Found[r]
		if !known {
			continue
		}
		if common, count := commonStep(p.Facts.Negotiation); f.Values["attempts"] == 1 && common == step && count > 1 {
			return fmt.Sprintf("%s; %d attempts end so", f.Text, count)
		}
		return f.Text
	}
	return "an attempt at a contract came to nothing"
}
