package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

func (p Picture) byMessages() (Seen, string) {
	n := p.Facts.Negotiation
	if n == nil {
		return nil, ""
	}
	if times := misnumberedTimes(n); times >= glimpses {
		return Exactly(Misnumbered), fmt.Sprintf("%d Requests carry the MessageID of the message before them, so the source takes them as said again and has no answer", times)
	}
	if d := p.Meter(); d != nil {
		if text := pulledInTheRise(d); text != "" {
			return Exactly(CutPulled), text
		}
	}
	if s, why := p.byContract(n); s != nil {
		return s, why
	}
	if d := p.Meter(); d != nil && n.CableAnswers.Asked && n.FromSource+n.FromSink == 0 && !n.BeginsInside && d.Sampling.MaxV >= draw.FiveFrom && d.Sampling.EndS-d.Sampling.StartS >= soonS {
		return silentSource(n), "VBUS comes up, and the source asks the cable and offers the device nothing"
	}
	if s, why := comesAndGoes(p.Meter()); s != nil && n.FromSource == 0 {
		return s, why
	}
	if n.FromSource == 0 { // where VBUS does not come up nobody has to speak
		if s, why := p.byLevels(); s[NoVBUS]+s[ShortBefore] > 0 {
			return s, why
		}
	}
	if n.FromSource > 0 && p.lostOnTheWay() {
		return Exactly(LostOnTheWay), "the source offers, and no VBUS arrives at the meter"
	}
	if late, limit := lateAnswers(n); late >= glimpses {
		return Exactly(LateAnswer), fmt.Sprintf("%d Requests are answered later than %s, and no contract comes of them", late, limit)
	}
	if again := n.CRCErrors.UnheardSource; again >= againCount {
		return Exactly(UnheardSink), fmt.Sprintf("the source repeats %d messages that the sink acknowledged", again)
	}
	if step, count := commonStep(n); count > 0 {
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
	if p.Is("no-source-capabilities", rules.Note) && !p.above5V() {
		return silentSource(n), p.Text("no-source-capabilities")
	}
	return nil, ""
}

// idleA is more than a port controller and the capacitors before the switches take while
// VBUS rises: common practice.
const idleA = 0.15

// drawsNothing reports a meter that would have seen what takes VBUS down so many times, and
// did not.
func (p Picture) drawsNothing(times int) bool {
	s := p.Meter().Sampling
	return s.WithCurrent > 0 && s.IntervalS > 0 && s.MaxA <= idleA && unseen(s.IntervalS, times) <= unseenMost
}

// idlesLong reports a meter that would have seen what holds VBUS down for as long as that, so many
// times.
func (p Picture) idlesLong(times int) bool {
	d := p.Meter()
	s := d.Sampling
	drew := slices.ContainsFunc(d.Collapses, func(c draw.Collapse) bool { return max(c.AtA, c.HeldA) >= burstA })
	apart := pd.TPSTransitionSPR.Limits(pd.Revision32).MinSI()
	if times < sustainedTimes {
		apart /= sustainedRows
	}
	return s.WithCurrent > 0 && s.IntervalS > 0 && s.IntervalS <= apart && !drew
}

// How many rows show a current that flows for as long as a sink waits for PS_RDY: of so many
// tries one of each will do. Common practice.
const (
	sustainedRows  = 4
	sustainedTimes = 5
)

// cutShort tells a source that gives up its own step from one that is pulled down in it.
func (p Picture) cutShort(times int) Seen {
	d := p.Meter()
	talks := 0
	for _, a := range p.Facts.Negotiation.Attempts {
		if a.Missing == negotiation.StepCutShort && a.Interrupted {
			talks++
		}
	}
	switch {
	case 2*talks > times:
		return Exactly(CutBySink)
	case d != nil && loadedAt5(d):
		return loadedSince(d)
	case d != nil && d.Sampling.MaxA >= burstA:
		return Exactly(CutPulled)
	case d != nil && p.drawsNothing(times) && p.arrives(d, times):
		return Exactly(CutThere)
	case d != nil && p.drawsNothing(times):
		return Exactly(CutIdle)
	}
	return Seen{CutPulled: 1, CutIdle: 1, CutThere: 1}
}

// arrives reports VBUS that comes to what was asked for, half of so many times.
func (p Picture) arrives(d *draw.Result, times int) bool {
	asked := 0
	for _, a := range p.Facts.Negotiation.Attempts {
		asked = max(asked, a.RequestMV)
	}
	volts := pd.VSrcNew.Limits(pd.Revision32).Min.Value * float64(asked) / 1000 * (1 - sagMeter)
	count, _, highest := tops(d, volts)
	return asked > 0 && volts >= contractV && highest < overOffer*float64(asked)/1000 && count >= glimpses && arrivesShare*float64(times) <= float64(count)
}

// arrivesShare of the attempts must show it: rows miss some. Common practice.
const arrivesShare = 0.5

// loadedAt5 reports a working draw at 5 V.
func loadedAt5(d *draw.Result) bool {
	return slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && q.VoltageV != nil && *q.VoltageV >= draw.FiveFrom && *q.VoltageV < contractV && *q.CurrentA >= standbyLowA && q.N >= glimpses
	})
}

// lateS is how long 5 V stands idle before a switch lets a load in, at the least, and
// lateRowS how close rows must lie to show it. Common practice.
const (
	lateS    = 0.02
	lateRowS = 0.01
)

// loadedSince tells a load that comes to 5 V from one that is there from the start.
func loadedSince(d *draw.Result) Seen {
	if d.Sampling.IntervalS > lateRowS {
		return Seen{CutFed: 1, CutLoaded: 1}
	}
	idle := 0.0
	for _, q := range d.Plateaus {
		switch {
		case q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < draw.FiveFrom:
			idle = 0
		case *q.CurrentA < standbyA:
			idle += q.EndS - q.StartS + d.Sampling.IntervalS
		case idle >= lateS:
			return Exactly(CutFed)
		default:
			return Exactly(CutLoaded)
		}
	}
	return Seen{CutFed: 1, CutLoaded: 1}
}

// above5V reports a meter that sees a contract by its voltage: a list without a message is
// younger than it, or its recorder heard nothing.
func (p Picture) above5V() bool {
	d := p.Meter()
	return d != nil && slices.ContainsFunc(d.Levels, func(l draw.Level) bool { return l.VoltageV >= contractV })
}

// lostOnTheWay reports a meter that sees no VBUS, wherever it sits: at the
// source's end the source itself does not give what it speaks of.
func (p Picture) lostOnTheWay() bool {
	d := p.Meter()
	if d == nil || !p.Is("no-vbus", rules.Note) || d.Sampling.MaxV >= absentV {
		return false
	}
	return p.Facts.Negotiation.HardResets < betweenResets || d.Sampling.IntervalS <= betweenS
}

// Between Hard Resets VBUS stands for some tenths of a second each, and rows so far apart may
// miss it every time. Common practice.
const (
	betweenResets = 3
	betweenS      = 0.3
)

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

// lateAnswers counts answers to a Request that came after the sink's patience: what is
// said after that meets its Hard Reset.
func lateAnswers(n *negotiation.Result) (count int, limit string) {
	for _, p := range n.Phases {
		if p.Phase == "answer" && p.Late && p.LimitS != nil && p.StartS != nil && p.EndS != nil && *p.EndS-*p.StartS > 2**p.LimitS {
			count++
			limit = fmt.Sprintf("%.0f ms (%s)", 1000**p.LimitS, p.Limit)
		}
	}
	return count, limit
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

// misnumberedTimes counts Requests without an answer that count as said before.
func misnumberedTimes(n *negotiation.Result) int {
	times := 0
	for _, a := range n.Attempts {
		if a.Missing == negotiation.StepAnswer && a.SaidBefore && a.Heard != negotiation.Unacknowledged {
			times++
		}
	}
	return times
}

// silentSource is a list in which the source says nothing. A deaf controller's
// own log shows no offer either.
func silentSource(n *negotiation.Result) Seen {
	if c := n.CableAnswers; c.Asked && n.FromSource == 0 && !n.BeginsInside {
		if c.Answered {
			return Exactly(AsksCable)
		}
		return Exactly(AsksInVain)
	}
	if n.FromSource == 0 && n.FromSink+n.HardResets > 0 && !n.Software { // a source that never spoke has nothing to reset
		return Exactly(DeafSource)
	}
	s := Exactly(NoOffer)
	if n.Software {
		s[Unanswered] = 0.5
	}
	return s
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
