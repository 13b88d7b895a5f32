package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
	"portside/decode/probe"
	"portside/decode/rules"
	"portside/pd"
)

// byLevels reads the meter alone. At 5 V it cannot tell which step failed,
// only whether Hard Resets take VBUS away meanwhile.
func (p Picture) byLevels() (Seen, string) {
	d := p.Meter()
	if d == nil {
		return nil, ""
	}
	if text := twitches(d); text != "" {
		return Exactly(ShortBefore), text
	}
	if p.Is("no-vbus", rules.Note) {
		return Exactly(NoVBUS), p.Text("no-vbus")
	}
	if text := creepsUp(d); text != "" {
		return Exactly(NoPowerReady), text
	}
	if text := pulledInTheRise(d); text != "" {
		return Exactly(CutPulled), text
	}
	at5, from := 0.0, math.NaN()
	for _, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV && l.EndS-l.StartS > 0.05:
			text := fmt.Sprintf("VBUS reaches %.2f V at %.2f s, which takes a contract", l.VoltageV, l.StartS)
			if p.Lapsed != "" {
				return Seen{ContractAnew: 1, ContractLost: lapsedElse}, text + ", and " + p.Lapsed
			}
			if rule, lost := p.losesContracts(); lost {
				return Exactly(ContractLost), text + ", and " + p.Text(rule)
			}
			return Exactly(ContractHigh), text + ", so CC, port controller and its supply work"
		case l.NominalV == 5:
			if math.IsNaN(from) {
				from = l.StartS
			}
			at5 += l.EndS - l.StartS
		}
	}
	if fallen := fallsFromContract(d); fallen >= glimpses {
		return Exactly(ContractLost), fmt.Sprintf("VBUS falls %d times from more than 5 V, which takes a contract, before it stands", fallen)
	}
	if p.standsLow() {
		return nil, ""
	}
	switch {
	case at5 < minLevelS && d.Sampling.EndS-d.Sampling.StartS >= minLevelS && at5 < 0.1*(d.Sampling.EndS-d.Sampling.StartS):
		return Exactly(NoVBUS), fmt.Sprintf("VBUS does not stay up in %.1f s", d.Sampling.EndS-d.Sampling.StartS)
	case at5 < minLevelS:
		return nil, ""
	case p.Is("hard-reset-loop", rules.Fault):
		return resetsSeen(d), p.Text("hard-reset-loop")
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

// standsLow reports VBUS that stands between nothing and 5 V with next to nothing drawn: it is
// up, and how far the power-up came is not told.
func (p Picture) standsLow() bool {
	if p.WeakFive(p.Meter()) != "" {
		return true
	}
	f, known := p.Found["vbus-out-of-range"]
	return known && f.Severity != rules.Note && p.HeldByLittle(f) && p.NeverMore(f)
}

// at5VSeen is the chance that a meter sees 5 V, steady or with Hard Resets,
// under each step that may fail. A sink without answer resets two or three
// times and keeps 5 V; a source that waits for a Request resets again and
// again.
func at5VSeen(resets bool) Seen {
	steady := Seen{NoOffer: 0.9, DeafSource: 0.9, Unanswered: 0.9, NoRequest: 0.25, Refused: 0.8, WronglyAsked: 0.8, UnheardAsked: 0.15, DeafToAsked: 0.15, UnheardSink: 0.15, NoAnswer: 0.15, LateAnswer: 0.15, NoPowerReady: 0.15, Contract5V: 0.98}
	if !resets {
		return steady
	}
	out := Seen{}
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
func resetsSeen(d *draw.Result) Seen {
	s := at5VSeen(true)
	up, n := upBetweenResets(d)
	if n > gaveUp()+1 {
		for _, unheard := range []string{NoOffer, DeafSource, Unanswered} {
			s[unheard] *= seldomOn
		}
	}
	if n < glimpses || d.Sampling.IntervalS > upEveryS {
		return s
	}
	power, first := pd.TPSTransitionSPR.Limits(pd.Revision32), pd.TFirstSourceCap.Limits(pd.Revision32)
	if up+d.Sampling.IntervalS/2 >= power.Min.Value/1000 {
		for _, quick := range []string{NoRequest, UnheardAsked, DeafToAsked, NoAnswer, LateAnswer} {
			s[quick] *= seldomUp
		}
	} else if up < first.Max.Value/1000 {
		s[NoPowerReady] *= seldomUp
	}
	return s
}

// seldomOn is how often one that hears nothing resets on, after nHardResetCount. Common practice.
const seldomOn = 0.3

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
func (p Picture) byDisplay() (Seen, string) {
	name := "display-v"
	v, known := probe.Figure(p.Readings, name)
	if !known || p.Meter() != nil {
		return nil, ""
	}
	r, _ := probe.Find(p.Readings, name)
	text := fmt.Sprintf("the display shows %s", r.Text)
	switch {
	case v < absentV:
		return Exactly(NoVBUS), text
	case v < contractV:
		return at5VSeen(false), text + ", which is no contract above 5 V"
	default:
		return Exactly(ContractHigh), text + ", which takes a contract, so CC, port controller and its supply work"
	}
}
