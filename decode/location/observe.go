package location

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// Thresholds of the draw. Common practice unless said.
const (
	contractV   = 5.9  // above any 5 V source's window: USB PD R3.2 V1.1 table 7.25 ends at 5.5 V
	quietA      = 0.02 // a 12-bit current monitor may be off by 10 mA: data sheet SBOS844C
	standbyA    = 0.10 // 60 mA at 19 V is suspicious already
	standbyLowA = 0.30 // at 5 V always-on rails take up to this
	worksLowA   = 0.50 // what any machine may draw that charges from 5 V: USB 2.0 section 7.2.1; 0.4 A that never ends is a fault's as well
	lightW      = 10   // a precharge or an idle machine
	atLimit     = 0.90 // of the contract's current: inputs are limited a little below it
	fiveFrom    = 4.4  // VBUS of 5 V behind a worn cable: common practice
	absentV     = 0.8  // vSafe0V: USB PD R3.2 V1.1 table 7.24
	minLevelS   = 3.0  // a contract is due well within 2 s of the plug
)

// picture is the evidence laid out for looking: findings by rule, the level
// of VBUS that was reached, and how.
type picture struct {
	Evidence
	found    map[string]rules.Finding // the gravest of each rule
	state    seen                     // how far the power-up came; nil unknown
	stateWhy string
	contract bool // VBUS above 5 V was reached

	// What VBUS does that is not the contract's, in words; empty where it does not.
	back    string // the machine feeds it
	unasked string // it is none that was asked for
	low     string // it comes up, and not to 5 V
	lapsed  string // it ends when a programmable contract lapses
	cold    bool   // it does not come up, and amperes flow: a short before the switches
}

// coldLeast are how many tries show that VBUS cannot come up: one may be a plug on its way in.
// Rows further apart than coldEveryS may miss the contract between 5 V and what ends it.
// Common practice.
const (
	coldLeast  = 2
	coldEveryS = 0.02
)

func look(e Evidence) picture {
	p := picture{Evidence: e, found: map[string]rules.Finding{}}
	for _, f := range e.Findings {
		f.Text = timed(f)
		if old, known := p.found[f.Rule]; !known || weight(f.Severity) > weight(old.Severity) {
			p.found[f.Rule] = f
		}
	}
	if p.lapsed = p.lapsesMostly(); p.lapsed == "" {
		p.lapsed = p.lapsesUnheard()
	}
	p.state, p.stateWhy = p.powerUp()
	p.back, p.low = p.feeds(p.meter()), neverFive(p.meter())
	if p.back != "" && p.standsUnplugged(p.meter()) != "" { // and says nothing of how far a start comes
		p.state, p.stateWhy = nil, ""
	}
	if p.rides() != "" { // the source lets go of a device that it no longer sees
		p.state, p.stateWhy = nil, ""
	}
	p.unasked = p.risesUnasked(p.meter())
	p.contract = (p.state[contractHigh] > 0 || p.state[contractAnew] > 0) && p.state[contract5V] == 0 || p.state[contractLost] > 0
	if d := p.meter(); d != nil {
		c, held := heldDown(d)
		p.cold = d.Cold.Count >= coldLeast || held && p.contract && c.FromV < contractV && d.Sampling.IntervalS <= coldEveryS
	}
	return p
}

// timed is the text of a finding with its time before it, where it names none.
func timed(f rules.Finding) string {
	words := strings.Fields(f.Text)
	for i, w := range words[min(1, len(words)):] {
		if strings.Trim(w, ",;:.()") == "s" && strings.IndexAny(words[i], "0123456789") == 0 {
			return f.Text
		}
	}
	switch {
	case f.StartS == nil:
		return f.Text
	case f.EndS != nil && *f.EndS > *f.StartS:
		return fmt.Sprintf("from %.2f s: %s", *f.StartS, f.Text)
	}
	return fmt.Sprintf("at %.2f s: %s", *f.StartS, f.Text)
}

func weight(s rules.Severity) int {
	switch s {
	case rules.Fault:
		return 2
	case rules.Warning:
		return 1
	default:
		return 0
	}
}

// is reports a finding of at least the given severity.
func (p picture) is(rule string, least rules.Severity) bool {
	f, known := p.found[rule]
	return known && weight(f.Severity) >= weight(least)
}

func (p picture) text(rule string) string { return p.found[rule].Text }

// meter is the draw, nil where no sample carries what is asked for.
func (p picture) meter() *draw.Result {
	if d := p.Facts.Draw; d != nil && d.Sampling.WithVoltage > 0 {
		return d
	}
	return nil
}

// powerUp says how far the machine came: from the messages where they tell,
// else from the levels of VBUS, else from a display. What was not recorded
// says nothing.
func (p picture) powerUp() (seen, string) {
	if s, why := p.byMessages(); s != nil {
		return s, why
	}
	if s, why := p.byLevels(); s != nil {
		return s, why
	}
	return p.byDisplay()
}

func (p picture) byMessages() (seen, string) {
	n := p.Facts.Negotiation
	if n == nil {
		return nil, ""
	}
	if times := misnumberedTimes(n); times >= glimpses {
		return exactly(misnumbered), fmt.Sprintf("%d Requests carry the MessageID of the message before them, so the source takes them as said again and has no answer", times)
	}
	if s, why := p.byContract(n); s != nil {
		return s, why
	}
	if d := p.meter(); d != nil && n.CableAnswers.Asked && n.FromSource+n.FromSink == 0 && !n.BeginsInside && d.Sampling.MaxV >= fiveFrom && d.Sampling.EndS-d.Sampling.StartS >= soonS {
		return silentSource(n), "VBUS comes up, and the source asks the cable and offers the device nothing"
	}
	if n.FromSource == 0 { // where VBUS does not come up nobody has to speak
		if s, why := p.byLevels(); s[noVBUS] > 0 {
			return s, why
		}
	}
	if n.FromSource > 0 && p.lostOnTheWay() {
		return exactly(lostOnTheWay), "the source offers, and no VBUS arrives at the meter"
	}
	if late, limit := lateAnswers(n); late >= glimpses {
		return exactly(lateAnswer), fmt.Sprintf("%d Requests are answered later than %s, and no contract comes of them", late, limit)
	}
	if again := n.CRCErrors.UnheardSource; again >= againCount {
		return exactly(unheardSink), fmt.Sprintf("the source repeats %d messages that the sink acknowledged", again)
	}
	if step, count := commonStep(n); count > 0 {
		s := stepSeen(step, n)
		if step == negotiation.StepCutShort {
			return p.cutShort(count), p.stallText(step)
		}
		if fallen := fallsFromContract(p.meter()); s[noPowerReady] > 0 && fallen >= glimpses {
			if d := p.meter(); d.Sampling.MaxA >= surgeA && !loadedAt5(d) { // the sink has not let it in
				return exactly(cutPulled), p.stallText(step) + fmt.Sprintf(", and up to %.2g A pull VBUS down on its way up", d.Sampling.MaxA)
			}
			if p.drawsNothing(fallen) || p.idlesLong() {
				return s, p.stallText(step) + ", though VBUS rises, and nothing is drawn from it"
			}
			s[contractLost] = cameUp // it comes up and goes away again, and nobody said why
			return s, p.stallText(step) + ", though VBUS rises and falls again"
		}
		if s[wronglyAsked] > s[refused] {
			return s, p.stallText(step) + "; it asks for what the source does not offer"
		}
		if p.meter() == nil && s[unanswered] > 0 {
			s[lostOnTheWay] = 1 // nobody saw whether VBUS arrives
		}
		return s, p.stallText(step)
	}
	if p.is("no-source-capabilities", rules.Note) && !p.above5V() {
		return silentSource(n), p.text("no-source-capabilities")
	}
	return nil, ""
}

// idleA is more than a port controller and the capacitors before the switches take while
// VBUS rises: common practice.
const idleA = 0.15

// drawsNothing reports a meter that would have seen what takes VBUS down so many times, and
// did not.
func (p picture) drawsNothing(times int) bool {
	s := p.meter().Sampling
	return s.WithCurrent > 0 && s.IntervalS > 0 && s.MaxA <= idleA && unseen(s.IntervalS, times) <= unseenMost
}

// endsByMessages reports attempts whose end the messages tell: VBUS, and the draw, only follow.
func (p picture) endsByMessages() bool {
	return p.state[cutPulled]+p.state[cutIdle]+p.state[cutBySink]+p.state[readyUnheard]+p.state[misnumbered] > 0
}

// standsLow reports VBUS that stands between nothing and 5 V with next to nothing drawn: it is
// up, and how far the power-up came is not told.
func (p picture) standsLow() bool {
	if p.weakFive(p.meter()) != "" {
		return true
	}
	f, known := p.found["vbus-out-of-range"]
	return known && f.Severity != rules.Note && p.heldByLittle(f) && p.neverMore(f)
}

// cutShort tells a source that gives up its own step from one that is pulled down in it.
func (p picture) cutShort(times int) seen {
	d := p.meter()
	talks := 0
	for _, a := range p.Facts.Negotiation.Attempts {
		if a.Missing == negotiation.StepCutShort && a.Interrupted {
			talks++
		}
	}
	switch {
	case 2*talks > times:
		return exactly(cutBySink)
	case d != nil && loadedAt5(d):
		return loadedSince(d)
	case d != nil && d.Sampling.MaxA >= burstA:
		return exactly(cutPulled)
	case d != nil && p.drawsNothing(times):
		return exactly(cutIdle)
	}
	return seen{cutPulled: 1, cutIdle: 1}
}

// loadedAt5 reports a working draw at 5 V.
func loadedAt5(d *draw.Result) bool {
	return slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && q.VoltageV != nil && *q.VoltageV >= fiveFrom && *q.VoltageV < contractV && *q.CurrentA >= standbyLowA && q.N >= glimpses
	})
}

// lateS is how long 5 V stands idle before a switch lets a load in, at the least, and
// lateRowS how close rows must lie to show it. Common practice.
const (
	lateS    = 0.02
	lateRowS = 0.01
)

// loadedSince tells a load that comes to 5 V from one that is there from the start.
func loadedSince(d *draw.Result) seen {
	if d.Sampling.IntervalS > lateRowS {
		return seen{cutFed: 1, cutLoaded: 1}
	}
	idle := 0.0
	for _, q := range d.Plateaus {
		switch {
		case q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < fiveFrom:
			idle = 0
		case *q.CurrentA < standbyA:
			idle += q.EndS - q.StartS + d.Sampling.IntervalS
		case idle >= lateS:
			return exactly(cutFed)
		default:
			return exactly(cutLoaded)
		}
	}
	return seen{cutFed: 1, cutLoaded: 1}
}

const (
	timedFrom   = 3    // contracts that end so: one may be a chance. Common practice
	timedShare  = 0.8  // of all that a Hard Reset ends
	timedChance = 0.05 // that what breaks down by itself does so just then each time
	timedS      = 0.01 // what stamps and a sink's timer are off
)

// readyUnheardTimes is how many contracts a Hard Reset ends for want of a PS_RDY that was
// said: the sink does not acknowledge it, or its wait for it runs out; 0 where that may be chance.
func readyUnheardTimes(n *negotiation.Result) int {
	wait := pd.TPSTransitionSPR.Limits(pd.Revision32)
	hits, resets := 0, 0
	for _, c := range n.Contracts {
		if c.EndedBy != "hard-reset" {
			continue
		}
		resets++
		if c.Unheard {
			hits++
			continue
		}
		if c.AcceptS == nil || c.EndS == nil {
			continue
		}
		if after := *c.EndS - *c.AcceptS; after >= wait.MinSI()-timedS && after <= wait.MaxSI()+timedS {
			hits++
		}
	}
	if hits < timedFrom || float64(hits) < timedShare*float64(resets) {
		return 0
	}
	return hits
}

// sustainedRowS is how close rows must lie to show a current that flows for as long as a sink
// waits for PS_RDY.
var sustainedRowS = pd.TPSTransitionSPR.Limits(pd.Revision32).MinSI() / 4

// idlesLong reports a meter that would have seen what holds VBUS down for as long as that.
func (p picture) idlesLong() bool {
	d := p.meter()
	s := d.Sampling
	drew := slices.ContainsFunc(d.Collapses, func(c draw.Collapse) bool { return max(c.AtA, c.HeldA) >= burstA })
	return s.WithCurrent > 0 && s.IntervalS > 0 && s.IntervalS <= sustainedRowS && s.MaxA < burstA && !drew
}

// above5V reports a meter that sees a contract by its voltage: a list without a message is
// younger than it, or its recorder heard nothing.
func (p picture) above5V() bool {
	d := p.meter()
	return d != nil && slices.ContainsFunc(d.Levels, func(l draw.Level) bool { return l.VoltageV >= contractV })
}

// agreed reports messages that hold a contract.
func (p picture) agreed() bool {
	n := p.Facts.Negotiation
	return n != nil && len(n.Contracts) > 0
}

// lostOnTheWay reports a meter that sees no VBUS, wherever it sits: at the
// source's end the source itself does not give what it speaks of.
func (p picture) lostOnTheWay() bool {
	d := p.meter()
	return d != nil && p.is("no-vbus", rules.Note) && d.Sampling.MaxV < absentV
}

func (p picture) byContract(n *negotiation.Result) (seen, string) {
	if len(n.Contracts) == 0 {
		return nil, ""
	}
	best := n.Contracts[0]
	for _, c := range n.Contracts {
		if millivolts(c) > millivolts(best) {
			best = c
		}
	}
	text := contractText(best)
	if lapsed := p.lapses(); lapsed != "" { // what follows is the source's duty
		return exactly(contractAnew), text + ", and " + lapsed
	}
	if times := readyUnheardTimes(n); times > 0 && p.meter() == nil {
		return seen{readyUnheard: 1, contractLost: timedChance}, fmt.Sprintf("%s, and %d times a Hard Reset follows as if the sink had not heard the PS_RDY", text, times)
	} else if times > 0 && p.meter().Sampling.MaxA < burstA {
		return exactly(readyUnheard), fmt.Sprintf("%s, and %d times a Hard Reset follows as if the sink had not heard the PS_RDY", text, times)
	}
	if rule, lost := p.losesContracts(); lost {
		return exactly(contractLost), text + ", and " + p.text(rule)
	}
	if anew := p.beginsAnew(); anew != "" {
		return exactly(contractAnew), text + ", and " + anew
	}
	if mv := millivolts(best); mv > 0 && float64(mv)/1000 < contractV {
		if !offersMore(n) { // the machine took all there is
			return seen{contract5V: 1, contractHigh: 1}, text + ", and the source offers no more, so CC, port controller and its supply work"
		}
		return exactly(contract5V), text
	}
	return exactly(contractHigh), text + ", so CC, port controller and its supply work"
}

// losesContracts reports contracts that are lost again and again, or in which VBUS gives
// way: one that ends without a reset may be a plug that was pulled, but not under load each
// time.
func (p picture) losesContracts() (rule string, lost bool) {
	for _, rule := range []string{"contract-lost", "hard-reset-loop"} {
		if p.is(rule, rules.Fault) {
			return rule, true
		}
	}
	return "vbus-collapse", p.is("vbus-collapse", rules.Fault) && fallsFromContract(p.meter()) >= glimpses
}

// offersMore reports an object above 5 V in the last offer, or no offer that was seen.
func offersMore(n *negotiation.Result) bool {
	if len(n.Offers) == 0 {
		return true
	}
	return slices.ContainsFunc(n.Offers, func(o negotiation.Offer) bool {
		return o.VoltageMV == nil || float64(*o.VoltageMV)/1000 >= contractV
	})
}

func millivolts(c negotiation.Contract) int {
	if c.VoltageMV == nil {
		return 0
	}
	return *c.VoltageMV
}

func contractText(c negotiation.Contract) string {
	text := "a contract"
	if mv := millivolts(c); mv > 0 {
		text = fmt.Sprintf("a contract at %.4g V", float64(mv)/1000)
	}
	if c.StartS != nil {
		text += fmt.Sprintf(" stands from %.2f s", *c.StartS)
	} else {
		text += " stands"
	}
	return text
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
	if counts[negotiation.StepAnswer] > 0 { // who offered, and falls silent after a Request, has nothing to say to it either
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
func stepSeen(step negotiation.Step, n *negotiation.Result) seen {
	switch step {
	case negotiation.StepCapabilities:
		return silentSource(n)
	case negotiation.StepAcknowledge:
		return exactly(unanswered)
	case negotiation.StepRequest:
		if n.GoodCRCs == 0 {
			return seen{unanswered: 1, noRequest: 1}
		}
		return exactly(noRequest)
	case negotiation.StepBegunAnew:
		return exactly(begunAnew)
	case negotiation.StepAnswer:
		return withoutAnswer(n)
	case negotiation.StepRefused:
		return refusal(n)
	case negotiation.StepAnswerHeard:
		return exactly(answerUnheard)
	case negotiation.StepPowerReady:
		return exactly(noPowerReady)
	}
	if n.FromSource == 0 { // nothing but the sink's own resets
		return silentSource(n)
	}
	return seen{unanswered: 1, noRequest: 1, refused: 1, wronglyAsked: 1, unheardAsked: 1, noAnswer: 1, noPowerReady: 1}
}

// elseHeard reports a source that takes whatever else the sink sends: it says nothing twice,
// and nothing is damaged.
func elseHeard(n *negotiation.Result) bool {
	e := n.CRCErrors
	return e.UnheardSource+e.UnacknowledgedSource+e.RepeatedSource+e.Source+e.Sink == 0
}

// withoutAnswer tells Requests that the source acknowledged from those that it did not.
func withoutAnswer(n *negotiation.Result) seen {
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
		return exactly(noAnswer)
	case heard == 0 && unheard >= glimpses && elseHeard(n):
		return exactly(deafToAsked)
	case unheard > heard:
		return exactly(unheardAsked)
	}
	return seen{noAnswer: 1, unheardAsked: 1}
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
func silentSource(n *negotiation.Result) seen {
	if c := n.CableAnswers; c.Asked && n.FromSource == 0 && !n.BeginsInside {
		if c.Answered {
			return exactly(asksCable)
		}
		return exactly(asksInVain)
	}
	if n.FromSource == 0 && n.FromSink+n.HardResets > 0 && !n.Software { // a source that never spoke has nothing to reset
		return exactly(deafSource)
	}
	s := exactly(noOffer)
	if n.Software {
		s[unanswered] = 0.5
	}
	return s
}

func (p picture) stallText(step negotiation.Step) string {
	rule := map[negotiation.Step]string{
		negotiation.StepCapabilities: "no-source-capabilities", negotiation.StepAcknowledge: "capabilities-unanswered",
		negotiation.StepRequest: "request-missing", negotiation.StepRefused: "request-refused", negotiation.StepPowerReady: "power-ready-missing",
	}[step]
	for _, r := range []string{rule, "contract-stalled", "stuck-at-5v"} {
		if f, known := p.found[r]; known {
			return f.Text
		}
	}
	return "an attempt at a contract came to nothing"
}

// byLevels reads the meter alone. At 5 V it cannot tell which step failed,
// only whether Hard Resets take VBUS away meanwhile.
func (p picture) byLevels() (seen, string) {
	d := p.meter()
	if d == nil {
		return nil, ""
	}
	if p.is("no-vbus", rules.Note) {
		return exactly(noVBUS), p.text("no-vbus")
	}
	if text := creepsUp(d); text != "" {
		return exactly(noPowerReady), text
	}
	at5, from, flickers := 0.0, math.NaN(), 0
	for i, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV && l.EndS-l.StartS > 0.05:
			text := fmt.Sprintf("VBUS reaches %.2f V at %.2f s, which takes a contract", l.VoltageV, l.StartS)
			if p.lapsed != "" {
				return seen{contractAnew: 1, contractLost: lapsedElse}, text + ", and " + p.lapsed
			}
			if rule, lost := p.losesContracts(); lost {
				return exactly(contractLost), text + ", and " + p.text(rule)
			}
			return exactly(contractHigh), text + ", so CC, port controller and its supply work"
		case l.NominalV == 5:
			if math.IsNaN(from) {
				from = l.StartS
			}
			at5 += l.EndS - l.StartS
			if i > 0 && d.Levels[i-1].NominalV == 0 {
				flickers++
			}
		}
	}
	if text := pulledInTheRise(d); text != "" {
		return exactly(cutPulled), text
	}
	if fallen := fallsFromContract(d); fallen >= glimpses {
		return exactly(contractLost), fmt.Sprintf("VBUS falls %d times from more than 5 V, which takes a contract, before it stands", fallen)
	}
	if p.standsLow() {
		return nil, ""
	}
	switch {
	case at5 < minLevelS && d.Sampling.EndS-d.Sampling.StartS >= minLevelS && at5 < 0.1*(d.Sampling.EndS-d.Sampling.StartS):
		return exactly(noVBUS), fmt.Sprintf("VBUS does not stay up in %.1f s", d.Sampling.EndS-d.Sampling.StartS)
	case at5 < minLevelS:
		return nil, ""
	case p.is("hard-reset-loop", rules.Fault):
		return resetsSeen(d), p.text("hard-reset-loop")
	default:
		return at5VSeen(false), fmt.Sprintf("VBUS stands at 5 V from %.2f s on and never above", from)
	}
}

// lapsedElse is the chance of contracts that are lost for another reason after the time that
// a programmable one takes to lapse. Common practice.
const lapsedElse = 0.1

// glimpses is how many rows or moments above 5 V are no glitch: common practice.
const glimpses = 2

// cameUp is how often a contract that breaks at once comes to no PS_RDY. Common practice.
const cameUp = 0.3

// fallsFromContract counts contracts too short for a level of their own.
func fallsFromContract(d *draw.Result) int {
	n := 0
	if d == nil {
		return 0
	}
	for _, c := range d.Collapses {
		if c.FromV >= contractV {
			n++
		}
	}
	return n
}

// at5VSeen is the chance that a meter sees 5 V, steady or with Hard Resets,
// under each step that may fail. A sink without answer resets two or three
// times and keeps 5 V; a source that waits for a Request resets again and
// again.
func at5VSeen(resets bool) seen {
	steady := seen{noOffer: 0.9, deafSource: 0.9, unanswered: 0.9, noRequest: 0.25, refused: 0.8, wronglyAsked: 0.8, unheardAsked: 0.15, deafToAsked: 0.15, unheardSink: 0.15, noAnswer: 0.15, lateAnswer: 0.15, noPowerReady: 0.15, contract5V: 0.98}
	if !resets {
		return steady
	}
	out := seen{}
	for state, x := range steady {
		out[state] = 1 - x
	}
	return out
}

// upEveryS is how close rows must lie to tell how long VBUS stands between two resets.
const upEveryS = 0.15

// resetsSeen is the chance of the resets under each step, by how long VBUS stands before
// each: a source without a Request resets at the end of its SenderResponseTimer, a sink
// without PS_RDY waits for tPSTransition.
func resetsSeen(d *draw.Result) seen {
	s := at5VSeen(true)
	up, n := upBetweenResets(d)
	if n < glimpses || d.Sampling.IntervalS > upEveryS {
		return s
	}
	power, first := pd.TPSTransitionSPR.Limits(pd.Revision32), pd.TFirstSourceCap.Limits(pd.Revision32)
	if up+d.Sampling.IntervalS/2 >= power.Min.Value/1000 {
		for _, quick := range []string{noRequest, unheardAsked, deafToAsked, noAnswer, lateAnswer} {
			s[quick] *= seldomUp
		}
	} else if up < first.Max.Value/1000 {
		s[noPowerReady] *= seldomUp
	}
	return s
}

// seldomUp is how often VBUS stands longer, or shorter, before a reset than the standard's
// timers say. Common practice.
const seldomUp = 0.1

// upBetweenResets is how long VBUS stands at 5 V between two resets: the median of n.
func upBetweenResets(d *draw.Result) (seconds float64, n int) {
	var lengths []float64
	for i := 1; i+1 < len(d.Levels); i++ {
		if l := d.Levels[i]; l.NominalV == 5 && d.Levels[i-1].NominalV == 0 && d.Levels[i+1].NominalV == 0 {
			lengths = append(lengths, l.EndS-l.StartS)
		}
	}
	return middle(lengths), len(lengths)
}

// byDisplay takes a meter's display where there is no log, or the voltage at
// the receptacle.
func (p picture) byDisplay() (seen, string) {
	name := "display-v"
	v, known := figure(p.Readings, name)
	if !known || p.meter() != nil {
		return nil, ""
	}
	r, _ := find(p.Readings, name)
	text := fmt.Sprintf("the display shows %s", r.Text)
	switch {
	case v < absentV:
		return exactly(noVBUS), text
	case v < contractV:
		return at5VSeen(false), text + ", which is no contract above 5 V"
	default:
		return exactly(contractHigh), text + ", which takes a contract, so CC, port controller and its supply work"
	}
}
