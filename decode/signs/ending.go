package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// How a contract above 5 V ends that does not last.
const (
	EndAtOnce = "at-once"
	EndLoaded = "under-load"
	EndOver   = "over-the-promise"
	EndIdle   = "after-the-draw"
	EndEarly  = "before-a-draw"
	EndOpen   = "without-a-reset"
	EndParted = "without-a-reset-after-the-draw"
	EndSilent = "sink-silent"
	EndReset  = "reset-first"
	EndFed    = "reset-first-of-a-draw"
	EndLetGo  = "reset-first-after-the-draw"
	EndTimer  = "by-its-timer"
	EndCCOpen = "cc-opens-first"
	EndCCGone = "cc-gone-first"
	EndNever  = "never-draws"
	EndAll    = "with-all-that-is-fed"
)

const (
	atOnceS     = 0.4   // a charger circuit that is sound starts after its own delay and ramps: common practice
	overShare   = 1.05  // of the promise: the meter's 1 % and ripple lie below. Common practice
	littleShare = 0.25  // of the promise: what breaks at so little hardly breaks by the load. Common practice
	beganS      = 0.1   // a draw of this length is no inrush: common practice
	sharpEveryS = 0.15  // samples further apart mix the break with what follows: common practice
	surgeEveryS = 0.011 // samples further apart may miss what a load drew at the last moment: common practice
)

// Ending is how the contracts were lost, nil where none was.
func (p Picture) Ending() (Seen, string) {
	if !p.Contract || !p.BreaksDown() || p.Lapsed != "" {
		return nil, ""
	}
	if d := p.Meter(); d != nil && len(d.Ebbs) > 0 { // the draw rises as VBUS sinks
		return nil, ""
	}
	text := p.breakText()
	if outcome, first := p.CCEnds(); outcome != "" {
		return Exactly(outcome), text + "; " + first
	}
	if ignored := p.ignores(); ignored != "" {
		return Exactly(EndTimer), text + "; " + ignored
	}
	held, silent := p.held()
	switch {
	case p.sinkSilent():
		return Exactly(EndSilent), text + "; the sink did not acknowledge, not even a Soft_Reset"
	case p.Is("over-contract-current", rules.Fault):
		return Exactly(EndOver), text + "; " + p.Text("over-contract-current")
	case p.resetFirst():
		outcome, draws := p.drawsUntilReset()
		return Exactly(outcome), text + "; VBUS stood until the reset" + draws
	case held < atOnceS && p.rampsUp():
		return Exactly(EndLoaded), text + "; the draw was still rising as it does at a start"
	case held < atOnceS:
		missed := p.surgeMissed()
		text += fmt.Sprintf("; it held for %.0f ms", 1000*held)
		if missed < 0.5 {
			text += ", and nothing was drawn"
		}
		return Seen{EndAtOnce: missed, EndIdle: 1 - missed, EndEarly: 1 - missed, EndSilent: 1 - missed}, text
	}
	s, flow := p.flowAtBreak()
	if p.neverDraws() {
		return Exactly(EndNever), fmt.Sprintf("%s; each stood for %.2g s or longer, and nothing was drawn", text, neverS)
	}
	if idleA, ok := p.endsAll(); ok && s[EndIdle] > s[EndLoaded] {
		return Exactly(EndAll), fmt.Sprintf("%s%s, not even the %.2g mA from before the contract", text, flow, 1000*idleA)
	}
	if silent && s[EndOver] > s[EndLoaded] { // no contact opens because too much flows
		return s, text + flow
	}
	if silent {
		return Seen{EndOpen: s[EndLoaded] + s[EndOver] + 0.7*s[EndEarly], EndParted: s[EndIdle] + 0.3*s[EndEarly]}, text + flow
	}
	if !p.Agreed() { // resets are not seen either
		if s[EndLoaded]+s[EndEarly]+s[EndIdle] > 0 { // no contact opens because too much flows
			s[EndOpen], s[EndParted] = 0.7*max(s[EndLoaded], s[EndOver], s[EndEarly]), 0.7*s[EndIdle]
		}
		if math.IsNaN(held) {
			s[EndAtOnce] = 1
		}
	}
	return s, text + flow
}

// A contract that stands for this long, and the next as well, leaves a machine the time to start
// twice. Common practice.
const (
	neverS     = 1.5
	neverTimes = 2
)

// neverDraws reports contracts that stood for as long as any start takes, and none was drawn from.
func (p Picture) neverDraws() bool {
	d := p.Meter()
	if d == nil || idleContracts(d) < neverTimes {
		return false
	}
	short := 0
	for _, l := range d.Levels {
		if l.VoltageV >= contractV && l.EndS-l.StartS < neverS && l.EndS < d.Sampling.EndS {
			short++
		}
	}
	return short == 0
}

// endsAll reports contracts before whose end even what the port controller takes is gone, while
// VBUS stands.
func (p Picture) endsAll() (idleA float64, ok bool) {
	d := p.Meter()
	if d == nil {
		return 0, false
	}
	gone, all := 0, 0
	for _, c := range d.Collapses {
		if c.FromV < contractV {
			continue
		}
		all++
		if a, nothing := p.losesAll(d, c.AtA); nothing {
			idleA, gone = a, gone+1
		}
	}
	return idleA, gone >= glimpses && 2*gone > all
}

// BreaksDown reports contracts that are lost as a fault.
func (p Picture) BreaksDown() bool {
	if p.State[ContractLost] > 0 {
		return true
	}
	if p.Is("vbus-collapse", rules.Fault) {
		return true
	}
	d := p.Meter()
	return d != nil && p.Is("retry-pulses", rules.Fault) && slices.ContainsFunc(d.Pulses, func(q draw.Pulses) bool { return q.WithVBUS })
}

// sinkSilent reports contracts, half of them at least, in which the source had
// to go on to a Hard Reset because the sink acknowledged nothing.
func (p Picture) sinkSilent() bool {
	n := p.Facts.Negotiation
	if n == nil {
		return false
	}
	failed, lost := 0, 0
	for _, r := range n.Resets {
		if r.Hard && r.By == "source" && r.Cause == "soft-reset-failed" {
			failed++
		}
	}
	for _, c := range n.Contracts {
		if c.EndS != nil && c.EndedBy != "new-contract" {
			lost++
		}
	}
	return failed > 0 && 2*failed >= lost
}

func (p Picture) breakText() string {
	for _, rule := range []string{"vbus-collapse", "contract-lost", "hard-reset-loop", "retry-pulses"} {
		if p.Is(rule, rules.Fault) {
			return p.Text(rule)
		}
	}
	return p.StateWhy
}

// held is how long the contracts that were lost stood, by the messages or the levels of
// VBUS, whichever is less; silent where most of them ended without a reset.
func (p Picture) held() (seconds float64, silent bool) {
	lengths := lostLengths(p.Facts.Negotiation)
	resets, anew := 0, 0
	for _, c := range lostContracts(p.Facts.Negotiation) {
		if c.EndedBy == "hard-reset" {
			resets++
		} else {
			anew++
		}
	}
	seconds = middle(lengths)
	if d := p.Meter(); d != nil { // the reset is sent some time after VBUS went
		if onMeter := middle(heldLevels(d)); onMeter < seconds || math.IsNaN(seconds) {
			seconds = onMeter
		}
	}
	return seconds, anew > resets
}

// fiveEveryS is how close rows must lie to show the 5 V that every new contract begins
// with: it stands for tTypeCSendSourceCap, 0.1 s, and longer (USB PD R3.2 V1.1, table
// 6.68).
const fiveEveryS = 0.03

// heldLevels is how long VBUS stood above 5 V each time before it fell, through
// whatever levels it gave way. It may have stood an interval longer than it was
// seen. What comes back without 5 V is what is left of the contract before.
func heldLevels(d *draw.Result) []float64 {
	var lengths []float64
	from, anew := math.NaN(), true
	for i, l := range d.Levels {
		anew = anew || l.VoltageV >= draw.FiveFrom && l.VoltageV < contractV || d.Sampling.IntervalS > fiveEveryS
		switch {
		case l.VoltageV >= contractV && math.IsNaN(from):
			if anew {
				from = l.StartS
			}
			anew = false
		case l.VoltageV < contractV && !math.IsNaN(from):
			lengths = append(lengths, d.Levels[i-1].EndS-from+d.Sampling.IntervalS)
			from = math.NaN()
		}
	}
	return lengths
}
