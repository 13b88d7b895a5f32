package location

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// How a contract above 5 V ends that does not last.
const (
	endAtOnce = "at-once"
	endLoaded = "under-load"
	endOver   = "over-the-promise"
	endIdle   = "after-the-draw"
	endOpen   = "without-a-reset"
	endParted = "without-a-reset-after-the-draw"
	endSilent = "sink-silent"
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
			source: 12, cable: 4, mains: 10, powContact: 6, ccContact: 4, controller: 8, supply: 8, vbusShort: 60, vbusLeak: 10,
			inputSwitch: 30, inputShort: 86, railShort: 50, railLeak: 15, chargerIC: 30, downstream: 20, battery: 5, healthyPart: 10,
		}, "the switches close into a short", practice},
		{endLoaded, "while no more is drawn than was promised", 35, like{
			source: 62, cable: 30, mains: 60, powContact: 28, ccContact: 6, controller: 6, supply: 6, vbusShort: 12, vbusLeak: 40,
			inputSwitch: 25, inputShort: 5, railShort: 12, railLeak: 35, chargerIC: 20, downstream: 20, battery: 32, healthyPart: 25,
		}, "a source must carry what it promised; a contact opens under way", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{endOver, "while more is drawn than was promised", 15, like{
			source: 5, cable: 2, mains: 4, powContact: 2, ccContact: 1, controller: 1, supply: 1, vbusShort: 20, vbusLeak: 30,
			inputSwitch: 5, inputShort: 7, railShort: 27, railLeak: 30, chargerIC: 25, downstream: 38, battery: 28, healthyPart: 3,
		}, "an overload trips a source that gives what it promised", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{endIdle, "after the draw has stopped", 20, like{
			source: 13, cable: 12, mains: 16, powContact: 20, ccContact: 22, controller: 38, supply: 40, vbusShort: 5, vbusLeak: 10,
			inputSwitch: 35, inputShort: 1, railShort: 9, railLeak: 15, chargerIC: 22, downstream: 18, battery: 32, healthyPart: 30,
		}, "the device let go first: its controller began anew, and a reset followed", practice},
		{endOpen, "both sides begin anew without a reset, and VBUS goes under load", 6, like{
			source: 6, cable: 34, mains: 8, powContact: 10, ccContact: 24, controller: 4, supply: 3, vbusShort: 2, vbusLeak: 6,
			inputSwitch: 3, inputShort: 1, railShort: 1.5, railLeak: 3, chargerIC: 2, downstream: 3, battery: 2, healthyPart: 16,
		}, "the plug moves, or a contact before the meter opens", practice},
		{endParted, "both sides begin anew without a reset, and the draw ends first", 4, like{
			source: 2, cable: 18, mains: 2, powContact: 34, ccContact: 14, controller: 4, supply: 3, vbusShort: 1, vbusLeak: 4,
			inputSwitch: 2, railShort: 0.5, railLeak: 2, chargerIC: 1, downstream: 1, battery: 1, healthyPart: 16,
		}, "a contact behind the meter opens", practice},
		{endSilent, "the sink stops acknowledging, and a Soft_Reset fails", 4, like{
			source: 3, cable: 12, powContact: 16, ccContact: 28, controller: 38, supply: 40, vbusShort: 8,
			inputSwitch: 3, inputShort: 7, railShort: 5, healthyPart: 1,
		}, "a controller that hears answers in hardware: it is down, or its line is open", "USB PD R3.2 V1.1 table 6.68 (tReceive, tSoftReset); " + practice},
	}}
	if meterAt == "source" { // the cable lies behind it
		t.rows[t.index(endOpen)].by[cable], t.rows[t.index(endParted)].by[cable] = 18, 34
	}
	return t
}

const (
	atOnceS     = 0.4  // a charger circuit that is sound starts after its own delay and ramps: common practice
	overShare   = 1.05 // of the promise: the meter's 1 % and ripple lie below. Common practice
	idleShare   = 0.10 // of the promise: the machine has let go
	sharpEveryS = 0.15 // samples further apart mix the break with what follows: common practice
)

// ending is how the contracts were lost, nil where none was.
func (p picture) ending() (seen, string) {
	if !p.contract || !p.breaksDown() {
		return nil, ""
	}
	text := p.breakText()
	held, silent := p.held()
	switch {
	case p.sinkSilent():
		return exactly(endSilent), text + "; the sink did not acknowledge, not even a Soft_Reset"
	case held < atOnceS && p.withoutSurge():
		return seen{endIdle: 1, endSilent: 1}, text + fmt.Sprintf("; it held for %.0f ms, and nothing was drawn", 1000*held)
	case held < atOnceS:
		return exactly(endAtOnce), text + fmt.Sprintf("; it held for %.0f ms", 1000*held)
	}
	s, flow := p.flowAtBreak()
	if silent {
		return seen{endOpen: s[endLoaded] + s[endOver], endParted: s[endIdle]}, text + flow
	}
	if p.Facts.Negotiation == nil || len(p.Facts.Negotiation.Contracts) == 0 { // resets are not seen either
		s[endOpen], s[endParted] = 0.7*max(s[endLoaded], s[endOver]), 0.7*s[endIdle]
		if math.IsNaN(held) {
			s[endAtOnce] = 1
		}
	}
	return s, text + flow
}

// surgeEveryS is how close samples must lie to show the surge into a short that
// ends a contract at once: sources trip after 1 ms to 0.1 s. Common practice.
const surgeEveryS = 0.011

// withoutSurge reports a meter that would have seen a current and saw none at
// any break.
func (p picture) withoutSurge() bool {
	d := p.meter()
	if d == nil || d.Sampling.WithCurrent == 0 || d.Sampling.IntervalS > surgeEveryS || len(d.Collapses) == 0 {
		return false
	}
	return !slices.ContainsFunc(d.Collapses, func(c draw.Collapse) bool { return c.AtA > standbyA }) && d.Sampling.MaxA < surgeA
}

// surgeA is less than any source gives into a short: common practice.
const surgeA = 0.4

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
	var lengths []float64
	resets, anew := 0, 0
	if n := p.Facts.Negotiation; n != nil {
		for _, c := range n.Contracts {
			if c.StartS == nil || c.EndS == nil || millivolts(c) > 0 && float64(millivolts(c))/1000 < contractV {
				continue
			}
			switch c.EndedBy {
			case "hard-reset":
				resets++
			case "restart", "detach", "vbus-off":
				anew++
			default:
				continue
			}
			lengths = append(lengths, *c.EndS-*c.StartS)
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

// middle is the median, NaN of none.
func middle(lengths []float64) float64 {
	if len(lengths) == 0 {
		return math.NaN()
	}
	slices.Sort(lengths)
	return lengths[len(lengths)/2]
}

// heldLevels is how long VBUS stood above 5 V each time before it fell, through
// whatever levels it gave way. It may have stood an interval longer than it was
// seen.
func heldLevels(d *draw.Result) []float64 {
	var lengths []float64
	from := math.NaN()
	for i, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV && math.IsNaN(from):
			from = l.StartS
		case l.VoltageV < contractV && !math.IsNaN(from):
			lengths = append(lengths, d.Levels[i-1].EndS-from+d.Sampling.IntervalS)
			from = math.NaN()
		}
	}
	return lengths
}

// flowAtBreak holds the current at which VBUS gave way against the promise.
func (p picture) flowAtBreak() (seen, string) {
	d := p.meter()
	if d == nil || d.Sampling.WithCurrent == 0 {
		return seen{endLoaded: 1, endOver: 1, endIdle: 1}, ""
	}
	var at []float64
	for _, c := range d.Collapses {
		if c.FromV >= contractV && !math.IsNaN(c.AtA) {
			at = append(at, max(c.AtA, c.HeldA))
		}
	}
	if len(at) == 0 || d.Sampling.IntervalS > sharpEveryS {
		return seen{endLoaded: 1, endOver: 0.6, endIdle: 0.7}, ""
	}
	slices.Sort(at)
	amps := at[len(at)/2]
	promised, known := p.promisedA()
	text := fmt.Sprintf("; %.2f A flow then", amps)
	if known {
		text += fmt.Sprintf(", and %.2f A were promised", promised)
	}
	switch {
	case (amps <= standbyA || known && amps <= idleShare*promised) && d.Sampling.IntervalS > surgeEveryS:
		return seen{endIdle: 1, endOver: 0.3}, text
	case amps <= standbyA || known && amps <= idleShare*promised:
		return exactly(endIdle), text
	case !known:
		return seen{endLoaded: 1, endOver: 0.6}, text
	case amps > overShare*promised:
		return exactly(endOver), text
	default:
		return exactly(endLoaded), text
	}
}

// refusal tells a Request within the offer from one beyond it.
func refusal(n *negotiation.Result) seen {
	for _, a := range n.Attempts {
		if a.Missing != negotiation.StepRefused || a.RequestMV == 0 {
			continue
		}
		for _, o := range n.Offers {
			if o.VoltageMV != nil && *o.VoltageMV == a.RequestMV && o.CurrentMA != nil && *o.CurrentMA >= a.RequestMA {
				return exactly(refused)
			}
		}
		return seen{wronglyAsked: 1, refused: 0.5} // the offer may have been another one then
	}
	return seen{refused: 1, wronglyAsked: 1}
}
