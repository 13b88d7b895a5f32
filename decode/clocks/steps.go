// Package clocks finds how the clock of a meter lies to the clock of a message
// list, from the voltage steps that both saw. Where the data do not determine
// it, it says why and gives no number.
package clocks

import (
	"cmp"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// Span is a range of time in seconds.
type Span struct{ Lo, Hi float64 }

func (s Span) middle() float64 { return (s.Lo + s.Hi) / 2 }

// Step is a change of VBUS: when it began and when it was done, as far as its
// recorder says, on that recorder's clock. FromV is NaN where it is not known.
type Step struct {
	FromV, ToV float64
	Start, End Span
	Likely     Span   // where Start lies if the source keeps its times; the zero Span is anywhere in it
	What       string // what the recorder saw, in words

	// Where Start and End may lie at most, when more is asked than what is usual; the zero
	// Span is no wider than they are.
	surelyStart, surelyEnd Span
	within                 float64 // a state that a meter's step passes over lasts no longer; 0 unknown
	fleeting               bool    // a level beside it was seen once, and may be a mean on the way
}

// moves reports a step that VBUS surely makes: a contract may keep the voltage of one that
// is not known.
func (s Step) moves() bool { return s.FromV == s.FromV || s.ToV == 0 }

const (
	maxSteps  = 256  // of each side; more say no more
	coarsest  = 5.0  // seconds: a step known no better helps little
	wholeStep = 1.0  // volts that VBUS moves at least
	clearStep = 2.0  // volts beyond which it leaves its old level before it is in its new window
	supply5V  = 5.0  // vSafe5V, nominal
	lateS     = 0.1  // a source may be this late: common practice
	causeS    = 0.5  // VBUS that breaks down is answered with a reset within this: tPSTransition (SPR), USB PD R3.2 V1.1 table 6.68
	edgeS     = 0.01 // VBUS takes this long to leave the band of its level: 0.4 V at a tenth of vSrcSlewPos, 30 mV/us at most
)

// MeterSteps are the steps between the VBUS levels of a meter log.
func MeterSteps(r *draw.Result) []Step {
	// a sample is the mean since the one before it, or taken at its time
	interval := r.Sampling.IntervalS
	levels := settled(r.Levels, interval)
	slack := interval / 4 // what a level's band leaves of that
	early, late := slack, slack
	if averages(levels, interval) {
		early, late = 2*slack, 0 // a mean stays in its band although VBUS has left it
	}
	var out []Step
	for i := 1; i < len(levels) && len(out) < maxSteps; i++ {
		a, b := levels[i-1], levels[i]
		if b.StartS-a.EndS > coarsest || math.Abs(b.NominalV-a.NominalV) < wholeStep {
			continue
		}
		arrived := max(b.StartS-2*interval, a.EndS)
		if b.StartS-a.EndS > causeS+2*interval {
			arrived = a.EndS // longer than a transition: it arrived, and something else disturbed it
		}
		out = append(out, Step{FromV: a.NominalV, ToV: b.NominalV, What: "VBUS step",
			Start:    Span{a.EndS - early, min(a.EndS+interval, b.StartS) + late},
			End:      Span{arrived - slack, b.StartS + slack},
			fleeting: a.N < 2 || b.N < 2,
			within:   b.StartS - a.EndS + slack,
			// Samples between the two levels may belong to either.
			surelyStart: Span{a.EndS - interval, b.StartS + slack},
			surelyEnd:   Span{min(b.StartS-2*interval, a.EndS-interval), b.StartS + slack}})
	}
	return out
}

// averages reports a meter that sees most steps by a sample between the two levels: the
// mean over a look that VBUS moved in. An instant meets it only while VBUS moves.
func averages(levels []draw.Level, interval float64) bool {
	steps, between := 0, 0
	for i := 1; i < len(levels); i++ {
		gap := levels[i].StartS - levels[i-1].EndS
		if gap > coarsest || math.Abs(levels[i].NominalV-levels[i-1].NominalV) < wholeStep {
			continue
		}
		steps++
		if gap > 1.5*interval {
			between++
		}
	}
	return 2*between > steps
}

// settled leaves out what a fast meter sees of VBUS on its way from one level to
// another.
func settled(levels []draw.Level, interval float64) []draw.Level {
	var out []draw.Level
	for i, l := range levels {
		if i == 0 || i == len(levels)-1 || l.EndS-l.StartS+interval >= passingS {
			out = append(out, l)
		}
	}
	return out
}

// passingS is how long a level lasts at least that is more than a place on the way: a
// ramp of 16 V in tSrcSettle (SPR) spends 7 ms in a band of 0.4 V, and no contract is
// over in four times that.
const passingS = 0.03

// MessageSteps are the steps of VBUS that the messages announce: a contract
// moves it between Accept and PS_RDY, a Hard Reset takes it to 0 V, and it comes
// up before the first capabilities.
func MessageSteps(n *negotiation.Result) []Step {
	out := contractSteps(n)
	out = append(out, resetSteps(n)...)
	out = append(out, noteSteps(n)...)
	out = append(out, attachSteps(n)...)
	slices.SortFunc(out, func(a, b Step) int {
		return cmp.Compare(a.Start.Hi, b.Start.Hi)
	})
	return out[:min(len(out), maxSteps)]
}

// longest is the time that VBUS may take to a new contract.
var longest = pd.TPSTransitionEPR.Limits(pd.Revision32).MaxSI()

// contractSteps takes the contracts at one voltage. The first comes from 5 V,
// where the recording has the beginning.
func contractSteps(n *negotiation.Result) []Step {
	var out []Step
	t := talkOf(n)
	from, since := supply5V, math.Inf(-1)
	if n.BeginsInside {
		from = math.NaN()
	}
	for _, c := range n.Contracts {
		if len(out) == maxSteps {
			break
		}
		if c.VoltageMV == nil || c.StartS == nil || c.Implied || t.lost(*c.StartS) {
			from = math.NaN()
			continue
		}
		to := float64(*c.VoltageMV) / 1000
		if t.doubtBetween(since, *c.StartS) {
			from = to // it may have been there
		}
		since = *c.StartS
		if from != from || math.Abs(to-from) >= wholeStep {
			// Inside its new window VBUS may creep on after PS_RDY, so that the end is open.
			start, likely := t.leaves(*c.StartS)
			s := Step{FromV: from, ToV: to, Start: start, End: start, Likely: likely, surelyEnd: Span{start.Lo, math.Inf(1)}, What: "PS_RDY"}
			if math.Abs(to-from) < clearStep {
				s.surelyStart = s.surelyEnd
			}
			out = append(out, s)
		}
		from = to
		if !stays(c.EndedBy) {
			from = supply5V
		}
	}
	return out
}

// lost reports a PS_RDY that is another Request's than its contract's: of the three
// messages that follow one another, some were not recorded.
func (t *talk) lost(ready float64) bool {
	accept, ok := t.accepts[ready]
	switch {
	case t.leftOut: // of what went before it too
		return ok && ready-accept > longest+lostS
	case !ok:
		since := ready - before(t.requests, ready).Hi
		return since > pd.TSenderResponse.Limits(pd.Revision32).MaxSI()+longest+lateS
	}
	answer := before(t.answers, accept)
	return ready-accept > longest+lostS || accept-answer.Hi > lostS || answer.Hi-answer.Lo > lostS
}

// doubtBetween reports a PS_RDY between two contracts whose Request was not recorded: VBUS
// may have moved.
func (t *talk) doubtBetween(since, ready float64) bool {
	last := before(t.doubtful, math.Nextafter(ready, since)).Hi
	return last > since && last < ready
}

// lostS is how much longer than any transition, or than an answer takes, a source may
// take: the sink has reset it long before, common practice.
const lostS = 1.0

// talk is what the phases tell of the messages around a PS_RDY.
type talk struct {
	accepts           map[float64]float64 // the Accept of each PS_RDY
	requests, answers []Span              // in the order of their ends
	doubtful          []Span              // Accept to PS_RDY that are none of one Request
	leftOut           bool                // the lists do not hold all
}

func talkOf(n *negotiation.Result) *talk {
	t := &talk{accepts: map[float64]float64{}, leftOut: n.LeftOut > 0}
	for _, p := range n.Phases {
		if p.StartS == nil || p.EndS == nil {
			continue
		}
		switch p.Phase {
		case "power-ready":
			t.accepts[*p.EndS] = *p.StartS
		case "request":
			t.requests = append(t.requests, Span{*p.StartS, *p.EndS})
		case "answer":
			t.answers = append(t.answers, Span{*p.StartS, *p.EndS})
		}
	}
	byEnd := func(a, b Span) int { return cmp.Compare(a.Hi, b.Hi) }
	slices.SortFunc(t.requests, byEnd)
	slices.SortFunc(t.answers, byEnd)
	for ready, accept := range t.accepts {
		if t.lost(ready) {
			t.doubtful = append(t.doubtful, Span{accept, ready})
		}
	}
	slices.SortFunc(t.doubtful, byEnd)
	return t
}

// before is the last span that is over at a time; before all times where there is none.
func before(spans []Span, at float64) Span {
	k, found := slices.BinarySearchFunc(spans, at, func(s Span, at float64) int { return cmp.Compare(s.Hi, at) })
	switch {
	case found:
		return spans[k]
	case k == 0:
		return Span{math.Inf(-1), math.Inf(-1)}
	}
	return spans[k-1]
}

// stays reports an end of a contract at which VBUS keeps its voltage: a Soft_Reset moves
// only the messages.
func stays(endedBy string) bool {
	return endedBy == "" || endedBy == "new-contract" || endedBy == "soft-reset"
}

// leaves is when VBUS leaves its level before a PS_RDY: after the Accept, where
// that was recorded, and after tSrcTransition where the source keeps to it.
func (t *talk) leaves(ready float64) (surely, likely Span) {
	wait := pd.TSrcTransition.Limits(pd.Revision32)
	if accept, ok := t.accepts[ready]; ok {
		return Span{accept, ready}, Span{accept + wait.MinSI(), min(ready, accept+wait.MaxSI()+edgeS)}
	}
	return Span{ready - longest, ready}, Span{}
}

// resetSteps takes the Hard Resets: VBUS begins to fall tPSHardReset after and
// is off tSafe0V later. Where it broke down by itself, that came before and is
// why the reset was sent.
func resetSteps(n *negotiation.Result) []Step {
	begins := pd.TPSHardReset.Limits(pd.Revision32).MaxSI() + lateS
	off := begins + pd.TSafe0V.Limits(pd.Revision32).MaxSI()
	var out []Step
	for _, r := range n.Resets {
		if r.Hard {
			out = append(out, Step{FromV: math.NaN(), ToV: 0, Start: Span{r.TimeS - causeS, r.TimeS + begins}, End: Span{r.TimeS - causeS, r.TimeS + off}, What: "Hard Reset"})
		}
	}
	return out
}

// noteSteps takes VBUS as the recorder of the messages noted it.
func noteSteps(n *negotiation.Result) []Step {
	var out []Step
	for _, v := range n.VBUS {
		about := Span{v.TimeS - noteS, v.TimeS + noteS}
		s := Step{FromV: math.NaN(), ToV: 0, Start: about, End: about, What: "VBUS_Off"}
		if v.On {
			s.FromV, s.ToV, s.What = 0, supply5V, "VBUS_On"
		}
		out = append(out, s)
	}
	return out
}

// noteS is how far a recorder's note of VBUS may stand from the edge: tSafe0V
// is the longest that the edge itself takes, and software notes it late.
const noteS = 0.65

// attachSteps is VBUS coming up before the first capabilities: of a recording that has
// its beginning, and after each Hard Reset.
func attachSteps(n *negotiation.Result) []Step {
	if len(n.VBUS) > 0 || n.FirstS == nil {
		return nil
	}
	var out []Step
	if !n.BeginsInside && len(n.Attempts) > 0 && !n.Attempts[0].Beginning && n.Attempts[0].Offers > 0 {
		out = append(out, comesUp(math.Inf(-1), n.Attempts[0].StartS))
	}
	for _, p := range n.Phases {
		if p.Phase == "hard-reset" && p.StartS != nil && p.EndS != nil && len(out) < maxSteps {
			out = append(out, comesUp(*p.StartS, *p.EndS))
		}
	}
	return out
}

// comesUp is VBUS coming up for capabilities, not before a time.
func comesUp(since, capabilities float64) Step {
	from := max(since, capabilities-pd.TFirstSourceCap.Limits(pd.Revision32).MaxSI()-lateS)
	about := Span{from, capabilities}
	return Step{FromV: 0, ToV: supply5V, Start: about, End: about, What: "first Source_Capabilities"}
}
