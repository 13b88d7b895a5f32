package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// byMessages is what an attempt at a contract came to, by the message list first and a meter beside it:
// what leaves no other reading comes before what is only usual.
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
		return p.stalled(n, step, count)
	}
	if p.Is("no-source-capabilities", rules.Note) && !p.above5V() {
		return silentSource(n), p.Text("no-source-capabilities")
	}
	return nil, ""
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
