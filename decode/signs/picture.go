// Package signs says what a recording shows of a fault: how far the power-up comes, how
// contracts end, what the draw does, how VBUS and CC behave. Each question has its outcomes,
// and an outcome its words. It knows of no part that may have failed: what a sign speaks for
// is weighed in location.
package signs

import (
	"fmt"
	"strings"

	"portside/decode/draw"
	"portside/decode/rules"
)

// Thresholds of the draw. Common practice unless said.
const (
	contractV   = draw.FiveTo
	quietA      = 0.02 // a 12-bit current monitor may be off by 10 mA: data sheet SBOS844C
	standbyA    = 0.10 // 60 mA at 19 V is suspicious already
	standbyLowA = 0.30 // at 5 V always-on rails take up to this
	worksLowA   = 0.50 // what any machine may draw that charges from 5 V: USB 2.0 section 7.2.1; 0.4 A that never ends is a fault's as well
	lightW      = 10   // a precharge or an idle machine
	atLimit     = 0.90 // of the contract's current: inputs are limited a little below it
	absentV     = 0.8  // vSafe0V: USB PD R3.2 V1.1 table 7.24
	minLevelS   = 3.0  // a contract is due well within 2 s of the plug
)

// Picture is the evidence laid out for looking: findings by rule, the level
// of VBUS that was reached, and how.
type Picture struct {
	Evidence
	Found    map[string]rules.Finding // the gravest of each rule
	State    Seen                     // how far the power-up came; nil unknown
	StateWhy string
	Contract bool // VBUS above 5 V was reached

	// What VBUS does that is not the contract's, in words; empty where it does not.
	Back    string // the machine feeds it
	Unasked string // it is none that was asked for
	Low     string // it comes up, and not to 5 V
	Lapsed  string // it ends when a programmable contract lapses
	Cold    bool   // it does not come up, and amperes flow: a short before the switches
}

// coldLeast are how many tries show that VBUS cannot come up: one may be a plug on its way in.
// Rows further apart than coldEveryS may miss the contract between 5 V and what ends it.
// Common practice.
const (
	coldLeast  = 2
	coldEveryS = 0.02
)

// Look lays out the evidence.
func Look(e Evidence) Picture {
	p := Picture{Evidence: e, Found: map[string]rules.Finding{}}
	for _, f := range e.Findings {
		f.Text = timed(f)
		if old, known := p.Found[f.Rule]; !known || weight(f.Severity) > weight(old.Severity) {
			p.Found[f.Rule] = f
		}
	}
	if p.Lapsed = p.lapsesMostly(); p.Lapsed == "" {
		p.Lapsed = p.lapsesUnheard()
	}
	p.State, p.StateWhy = p.powerUp()
	p.Back, p.Low = p.feeds(p.Meter()), neverFive(p.Meter(), p.resets())
	if p.Back != "" && p.standsUnplugged(p.Meter()) != "" { // and says nothing of how far a start comes
		p.State, p.StateWhy = nil, ""
	}
	if p.Rides() != "" { // the source lets go of a device that it no longer sees
		p.State, p.StateWhy = nil, ""
	}
	p.Unasked = p.risesUnasked(p.Meter())
	p.Contract = (p.State[ContractHigh] > 0 || p.State[ContractAnew] > 0) && p.State[Contract5V] == 0 || p.State[ContractLost] > 0
	if d := p.Meter(); d != nil {
		c, held := heldDown(d)
		if waits(d) { // what is let in late takes VBUS away each time, and a new start follows
			p.State, p.StateWhy = nil, ""
		}
		p.Cold = d.Cold.Count >= coldLeast || held && p.Contract && c.FromV < contractV && d.Sampling.IntervalS <= coldEveryS
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

// Is reports a finding of at least the given severity.
func (p Picture) Is(rule string, least rules.Severity) bool {
	f, known := p.Found[rule]
	return known && weight(f.Severity) >= weight(least)
}

// Text is the text of a finding, empty where there is none.
func (p Picture) Text(rule string) string { return p.Found[rule].Text }

// Meter is the draw, nil where no sample carries what is asked for.
func (p Picture) Meter() *draw.Result {
	if d := p.Facts.Draw; d != nil && d.Sampling.WithVoltage > 0 {
		return d
	}
	return nil
}

// powerUp says how far the machine came: from the messages where they tell,
// else from the levels of VBUS, else from a display. What was not recorded
// says nothing.
func (p Picture) powerUp() (Seen, string) {
	if s, why := p.byMessages(); s != nil {
		return s, why
	}
	if s, why := p.byLevels(); s != nil {
		return s, why
	}
	return p.byDisplay()
}

// EndsByMessages reports attempts whose end the messages tell: VBUS, and the draw, only follow.
func (p Picture) EndsByMessages() bool {
	return p.State[CutPulled]+p.State[CutIdle]+p.State[CutBySink]+p.State[ReadyUnheard]+p.State[Misnumbered] > 0
}

// GraveFinding is the first fault of the recording.
func GraveFinding(p Picture) (rules.Finding, bool) {
	for _, f := range p.Findings {
		if f.Severity == rules.Fault {
			return f, true
		}
	}
	return rules.Finding{}, false
}
