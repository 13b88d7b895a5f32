package location

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// How a contract above 5 V ends that does not last.
const (
	endAtOnce = "at-once"
	endLoaded = "under-load"
	endOver   = "over-the-promise"
	endIdle   = "after-the-draw"
	endEarly  = "before-a-draw"
	endOpen   = "without-a-reset"
	endParted = "without-a-reset-after-the-draw"
	endSilent = "sink-silent"
	endReset  = "reset-first"
	endTimer  = "by-its-timer"
	endCCOpen = "cc-opens-first"
	endCCGone = "cc-gone-first"
)

// endingTopic holds what breaks a contract against how it breaks. A short
// before the charger circuit ends it as the switches close; a source that is
// too weak gives way while no more flows than it promised; a controller that
// starts anew lets go of the draw first, and the source resets later; a
// contact takes both sides away without a word: a contact behind the meter ends
// the draw first, one before it takes VBUS with it.
func endingTopic(meterAt string) topic {
	t := topic{name: "ending", cap: recordingCap, rows: []row{
		{endAtOnce, "within 0.4 s of the contract", 20, like{
			source: 13, cable: 3, mains: 10, powContact: 5, ccContact: 4, controller: 5.5, supply: 5.5, vbusShort: 60, vbusLeak: 10,
			inputSwitch: 30, inputShort: 86, railShort: 50, railLeak: 15, chargerIC: 30, downstream: 20, battery: 5, healthyPart: 8.5,
		}, "the switches close into a short", practice},
		{endLoaded, "while no more is drawn than was promised", 25, like{
			source: 52, cable: 25, mains: 64, powContact: 22, ccContact: 6, controller: 4, supply: 4.5, vbusShort: 6, vbusLeak: 16,
			inputSwitch: 10, inputShort: 4, railShort: 5, railLeak: 15, chargerIC: 9, downstream: 9, battery: 14, healthyPart: 21,
		}, "a source must carry what it promised; a contact opens under way", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{endOver, "while more is drawn than was promised", 25, like{
			source: 4, cable: 1.6, mains: 4, powContact: 1.6, ccContact: 1, controller: 0.7, supply: 0.7, vbusShort: 24, vbusLeak: 46,
			inputSwitch: 12, inputShort: 8, railShort: 34, railLeak: 50, chargerIC: 36, downstream: 48, battery: 44, healthyPart: 2.5,
		}, "an overload trips a source that gives what it promised", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{endIdle, "after the draw has stopped", 11, like{
			source: 4, cable: 5, mains: 6, powContact: 19, ccContact: 11, controller: 15, supply: 16, vbusShort: 3, vbusLeak: 6,
			inputSwitch: 23, inputShort: 0.5, railShort: 6, railLeak: 9, chargerIC: 14, downstream: 12, battery: 24, healthyPart: 13,
		}, "the device let go first: its controller began anew, or a contact behind the meter took its VBUS, and a reset followed", practice},
		{endEarly, "before the machine draws", 9, like{
			source: 9, cable: 5, mains: 10, powContact: 7, ccContact: 11, controller: 14, supply: 16, vbusShort: 2, vbusLeak: 4,
			inputSwitch: 12, inputShort: 0.5, railShort: 3, railLeak: 6, chargerIC: 8, downstream: 6, battery: 8, healthyPart: 12,
		}, "no load broke it: a contact, a source or a controller that gives out by itself", practice},
		{endOpen, "both sides begin anew without a reset, and VBUS goes under load", 6, like{
			source: 6.5, cable: 32, mains: 8, powContact: 8, ccContact: 20, controller: 8, supply: 10, vbusShort: 2, vbusLeak: 6,
			inputSwitch: 3, inputShort: 1, railShort: 1.5, railLeak: 3, chargerIC: 2, downstream: 3, battery: 2, healthyPart: 13,
		}, "the plug moves, a contact before the meter opens, or a controller goes down and takes its Rd away", practice},
		{endParted, "both sides begin anew without a reset, and the draw ends first", 4, like{
			source: 1.6, cable: 13, mains: 2, powContact: 21, ccContact: 14, controller: 7, supply: 8, vbusShort: 1, vbusLeak: 4,
			inputSwitch: 2, railShort: 0.5, railLeak: 2, chargerIC: 1, downstream: 1, battery: 1, healthyPart: 13,
		}, "a contact behind the meter opens", practice},
		{endSilent, "the sink stops acknowledging, and a Soft_Reset fails", 4, like{
			source: 2.8, cable: 9.5, powContact: 13, ccContact: 28, controller: 26, supply: 29, vbusShort: 8,
			inputSwitch: 3, inputShort: 7, railShort: 5, healthyPart: 0.8,
		}, "a controller that hears answers in hardware: it is down, or its line is open", "USB PD R3.2 V1.1 table 6.68 (tReceive, tSoftReset); " + practice},
		{endReset, "a Hard Reset while VBUS stands, and no more flows than was promised", 4, like{
			source: 11, cable: 6.5, mains: 1, powContact: 3, ccContact: 20, controller: 20, supply: 11, vbusShort: 1, vbusLeak: 3,
			inputSwitch: 8, inputShort: 1, railShort: 2, railLeak: 3, chargerIC: 5, downstream: 6, sequence: 6, battery: 5, healthyPart: 17,
		}, "what trips a source or opens a lead takes VBUS away before the reset: here one side decided on it", "USB PD R3.2 V1.1 table 6.68 (tPSHardReset); " + practice},
		{endTimer, "the source resets as if the Requests that it answered had not come", 0.04, like{source: 3, healthyPart: 0.05}, "its own timer ends the contract", "USB PD R3.2 V1.1 table 6.68 (tPPSTimeout); " + practice},
		{endCCOpen, "CC rises to its pull-up before VBUS goes", 0.04, like{
			cable: 1.2, powContact: 0.8, ccContact: 10, controller: 1.2, supply: 1.2, healthyPart: 0.15,
		}, "what presents Rd is gone: the line opens behind the meter, or the controller lets go of it", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{endCCGone, "CC falls to 0 V before VBUS goes", 0.04, like{
			cable: 6.5, source: 1.2, mains: 1.6, ccContact: 0.4, healthyPart: 0.12,
		}, "what pulls up is gone: the line opens before the meter, or the source goes off", "USB Type-C R2.0 section 4.5.2.2; " + practice},
	}}
	open, gone := t.index(endCCOpen), t.index(endCCGone)
	switch meterAt {
	case "source": // the cable lies behind it; of a plug that moves CC opens first
		t.rows[t.index(endOpen)].by[cable], t.rows[t.index(endParted)].by[cable] = 26, 26
		t.rows[open].by[cable], t.rows[gone].by[cable] = 3.3, 0.08
	case "device":
		t.rows[open].by[cable] = 0.08
	}
	return t
}

const (
	atOnceS     = 0.4   // a charger circuit that is sound starts after its own delay and ramps: common practice
	overShare   = 1.05  // of the promise: the meter's 1 % and ripple lie below. Common practice
	littleShare = 0.25  // of the promise: what breaks at so little hardly breaks by the load. Common practice
	beganS      = 0.1   // a draw of this length is no inrush: common practice
	sharpEveryS = 0.15  // samples further apart mix the break with what follows: common practice
	surgeEveryS = 0.011 // samples further apart may miss what a load drew at the last moment: common practice
)

// ending is how the contracts were lost, nil where none was.
func (p picture) ending() (seen, string) {
	if !p.contract || !p.breaksDown() || p.lapsed != "" {
		return nil, ""
	}
	if d := p.meter(); d != nil && len(d.Ebbs) > 0 { // the draw rises as VBUS sinks
		return nil, ""
	}
	text := p.breakText()
	if outcome, first := p.ccEnds(); outcome != "" {
		return exactly(outcome), text + "; " + first
	}
	if ignored := p.ignores(); ignored != "" {
		return exactly(endTimer), text + "; " + ignored
	}
	held, silent := p.held()
	switch {
	case p.sinkSilent():
		return exactly(endSilent), text + "; the sink did not acknowledge, not even a Soft_Reset"
	case p.is("over-contract-current", rules.Fault):
		return exactly(endOver), text + "; " + p.text("over-contract-current")
	case p.resetFirst():
		return exactly(endReset), text + "; VBUS stood until the reset"
	case held < atOnceS && p.rampsUp():
		return exactly(endLoaded), text + "; the draw was still rising as it does at a start"
	case held < atOnceS:
		missed := p.surgeMissed()
		text += fmt.Sprintf("; it held for %.0f ms", 1000*held)
		if missed < 0.5 {
			text += ", and nothing was drawn"
		}
		return seen{endAtOnce: missed, endIdle: 1 - missed, endEarly: 1 - missed, endSilent: 1 - missed}, text
	}
	s, flow := p.flowAtBreak()
	if silent && s[endOver] > s[endLoaded] { // no contact opens because too much flows
		return s, text + flow
	}
	if silent {
		return seen{endOpen: s[endLoaded] + s[endOver] + 0.7*s[endEarly], endParted: s[endIdle] + 0.3*s[endEarly]}, text + flow
	}
	if !p.agreed() { // resets are not seen either
		s[endOpen], s[endParted] = 0.7*max(s[endLoaded], s[endOver], s[endEarly]), 0.7*s[endIdle]
		if math.IsNaN(held) {
			s[endAtOnce] = 1
		}
	}
	return s, text + flow
}

// breaksDown reports contracts that are lost as a fault.
func (p picture) breaksDown() bool {
	if p.state[contractLost] > 0 {
		return true
	}
	if p.is("vbus-collapse", rules.Fault) {
		return true
	}
	d := p.meter()
	return d != nil && p.is("retry-pulses", rules.Fault) && slices.ContainsFunc(d.Pulses, func(q draw.Pulses) bool { return q.WithVBUS })
}

// sinkSilent reports contracts, half of them at least, in which the source had
// to go on to a Hard Reset because the sink acknowledged nothing.
func (p picture) sinkSilent() bool {
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

func (p picture) breakText() string {
	for _, rule := range []string{"vbus-collapse", "contract-lost", "hard-reset-loop", "retry-pulses"} {
		if p.is(rule, rules.Fault) {
			return p.text(rule)
		}
	}
	return p.stateWhy
}

// held is how long the contracts that were lost stood, by the messages or the levels of
// VBUS, whichever is less; silent where most of them ended without a reset.
func (p picture) held() (seconds float64, silent bool) {
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
	if d := p.meter(); d != nil { // the reset is sent some time after VBUS went
		if onMeter := middle(heldLevels(d)); !(seconds <= onMeter) {
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
		anew = anew || l.VoltageV >= fiveFrom && l.VoltageV < contractV || d.Sampling.IntervalS > fiveEveryS
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
