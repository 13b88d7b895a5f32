package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// Hums reports VBUS that swings with the mains.
func (p Picture) Hums() bool {
	_, hums := p.Found["vbus-out-of-range"].Values["hum_hz"]
	return hums
}

// notAsAgreed reports VBUS that stands far from the contract while hardly a current flows:
// a machine need not start from a voltage that it did not ask for.
func (p Picture) notAsAgreed() bool {
	if d := p.Meter(); d != nil && p.NeverFollows(d) != "" {
		return true
	}
	f, known := p.Found["vbus-out-of-range"]
	amps, measured := f.Values["current_a"].(float64)
	return known && f.Severity == rules.Fault && p.Agreed() && (idleBelow(f) || aboveNominal(f) && measured && amps <= standbyA)
}

// AgainstAgreed is how VBUS is out of the window of its contract.
func (p Picture) AgainstAgreed(f rules.Finding) string {
	amps, measured := f.Values["current_a"].(float64)
	promised, known := p.promisedA()
	switch {
	case f.Severity == rules.Fault && aboveNominal(f):
		return WindowRaised
	case f.Severity == rules.Fault && idleBelow(f):
		return WindowElse
	case f.Severity == rules.Fault && measured && known && amps < atLimit*promised, idleBelow(f):
		return WindowSunk
	default:
		return WindowLow
	}
}

// AgainstFixed is how VBUS is out of the window of the fixed voltage that it is nearest to.
func AgainstFixed(f rules.Finding) string {
	switch {
	case slides(f):
		return WindowSlides
	case f.Severity == rules.Fault && aboveNominal(f):
		return WindowHigh
	case idleBelow(f):
		return WindowSunk
	default:
		return WindowLow
	}
}

// idleBelow reports VBUS that stands below its window though hardly a current flows. What
// capacitors keep behind a plug that was pulled does not stand so long.
func idleBelow(f rules.Finding) bool {
	amps, measured := f.Values["current_a"].(float64)
	_, hasN := f.Values["nominal_v"]
	return measured && hasN && amps <= standbyA && !aboveNominal(f) && f.StartS != nil && f.EndS != nil && *f.EndS-*f.StartS >= minLevelS
}

// How far the rows of a fixed contract scatter that no load explains: a source keeps within
// 5 %, and a draw that leaps between nothing and its most moves VBUS by half of that draw
// times the resistance before the meter. Common practice.
const (
	swingShare = 0.02 // of the voltage, one standard deviation
	swingS     = 2.0
	swingRows  = 20
)

// adjustable reports a contract whose voltage the sink may move, and whose current a source may
// limit: USB PD R3.2 V1.1 sections 7.1.4.2 and 7.1.4.3.
func adjustable(c negotiation.Contract) bool {
	return c.Kind == pd.KindPPS.String() || c.Kind == pd.KindEPRAVS.String()
}

// asksForMore reports an adjustable contract whose voltage the sink moves, by its messages
// or, without them, by the steps of VBUS.
func (p Picture) asksForMore() bool {
	n := p.Facts.Negotiation
	if n == nil {
		d := p.Meter()
		return d != nil && len(d.Steers) > 0
	}
	first := 0
	return slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool {
		if !adjustable(c) {
			return false
		}
		if first == 0 {
			first = millivolts(c)
		}
		return millivolts(c) != first
	})
}

// Swings is a fixed contract whose voltage scatters so.
func (p Picture) Swings(d *draw.Result) (draw.Level, bool) {
	if p.Is("contact-unsteady", rules.Note) || p.BreaksDown() || p.asksForMore() {
		return draw.Level{}, false
	}
	if n := p.Facts.Negotiation; n != nil && slices.ContainsFunc(n.Contracts, adjustable) {
		return draw.Level{}, false
	}
	i := slices.IndexFunc(d.Levels, func(l draw.Level) bool {
		loads := max(0, l.MaxA) / 2 * farOhm
		return l.VoltageV >= contractV && l.Fixed() && l.N >= swingRows && l.EndS-l.StartS >= swingS && l.SpreadV > max(swingShare*l.VoltageV, loads) && !risesOnly(l)
	})
	if i < 0 {
		return draw.Level{}, false
	}
	return d.Levels[i], true
}

// risesOnly reports VBUS that goes up within a level and hardly comes down again: a programmable supply
// that follows a battery.
func risesOnly(l draw.Level) bool {
	return l.MaxV-l.MinV >= 2*l.SpreadV && l.FallsV < l.SpreadV
}

// OddLevel is how surely the highest level of a meter alone is none of the fixed supplies,
// and stands; idle where next to nothing flows there.
func (p Picture) OddLevel(d *draw.Result) (volts, odd float64, idle bool) {
	if p.Agreed() || p.Lapsed != "" || p.Is("vbus-out-of-range", rules.Note) || p.asksForMore() {
		return 0, 0, false
	}
	level, known := lastLevel(d, true)
	if !known || level.Fixed() {
		return 0, 0, false
	}
	return level.VoltageV, min(1, max(0, (level.EndS-level.StartS-oddFromS)/(oddLevelS-oddFromS))), level.MeanA <= standbyA
}

// BeyondProgrammable reports a level above every programmable supply and below
// a fixed 28 V, by more than the meter's limit.
func (p Picture) BeyondProgrammable(volts float64) bool {
	extended, _ := pd.FixedWindow(28_000)
	accuracy := p.Facts.AccuracyV / 100
	return volts > pd.PPSMaxVoltage.Volts()*(1+accuracy) && volts < extended.Min*(1-accuracy)
}

// HeldByLittle reports VBUS that stands between nothing and 5 V under a draw that no source
// limits at.
func (p Picture) HeldByLittle(f rules.Finding) bool {
	amps, measured := f.Values["current_a"].(float64)
	_, hasN := f.Values["nominal_v"]
	_, slides := f.Values["slide_s"]
	d := p.Meter()
	if d == nil || !measured || hasN || slides || amps > standbyA || f.StartS == nil || f.EndS == nil || *f.EndS-*f.StartS < minLevelS {
		return false
	}
	return slices.ContainsFunc(d.Levels, func(l draw.Level) bool {
		return l.StartS == *f.StartS && l.MaxV-l.MinV <= littleSpread*l.VoltageV+2*d.Sampling.ResolutionV
	})
}

// littleSpread is how far apart the rows of a voltage that stands lie: the means of tries,
// which a slow meter has, differ by more. Common practice.
const littleSpread = 0.02

// OverFed reports a meter alone on which VBUS stands where no supply stands: a machine shuts
// such a voltage out.
func (p Picture) OverFed() bool {
	d := p.Meter()
	if d == nil {
		return false
	}
	level, odd, _ := p.OddLevel(d)
	return odd > 0 && p.BeyondProgrammable(level) || p.AgainAndAgainBeyond(d) != ""
}

// AgainAndAgainBeyond tells VBUS that comes up to where no supply stands in try after try,
// without a draw, for a meter alone.
func (p Picture) AgainAndAgainBeyond(d *draw.Result) string {
	if p.Agreed() {
		return ""
	}
	count, lasted, firstS, volts := 0, 0.0, 0.0, 0.0
	for _, l := range d.Levels {
		if l.MeanA <= standbyA && p.BeyondProgrammable(l.VoltageV) {
			if count++; count == 1 {
				firstS, volts = l.StartS, l.VoltageV
			}
			lasted += l.EndS - l.StartS
		}
	}
	if count < beyondFrom || lasted < beyondS {
		if count, firstS, volts = tops(d, contractV); count < beyondFrom || !p.BeyondProgrammable(volts) {
			return ""
		}
	}
	return fmt.Sprintf("%d times, first at %.2f s, VBUS comes up to %.2f V, which no supply gives, and goes away again", count, firstS, volts)
}

// tops counts the times that VBUS comes up, without a draw, to within a volt of the highest of
// them, which is volts or more: rows far apart see that of some.
func tops(d *draw.Result, volts float64) (count int, firstS, highestV float64) {
	type top struct{ timeS, v, a float64 }
	var all []top
	now := top{}
	for _, q := range d.Plateaus {
		switch {
		case q.VoltageV == nil || q.CurrentA == nil:
		case *q.VoltageV < absentV:
			if now.v >= volts {
				all = append(all, now)
			}
			now = top{}
		case *q.VoltageV > now.v:
			now = top{q.StartS, *q.VoltageV, max(now.a, *q.CurrentA)}
		}
	}
	for _, t := range all {
		highestV = max(highestV, t.v)
	}
	for _, t := range all {
		if t.v >= highestV-1 && t.a <= standbyA {
			if count++; count == 1 {
				firstS = t.timeS
			}
		}
	}
	return count, firstS, highestV
}

// How often, and how long in all: common practice.
const (
	beyondFrom = 3
	beyondS    = 0.3
)

// NeverMore reports a level that VBUS rose to in the recording and that is its highest: no plug
// was pulled that had carried more.
func (p Picture) NeverMore(f rules.Finding) bool {
	volts, known := f.Values["voltage_v"].(float64)
	d := p.Meter()
	return known && d != nil && len(d.Levels) > 1 && d.Levels[0].NominalV == 0 && d.Sampling.MaxV <= volts+pd.VSrcValid.Limits(pd.Revision32).MaxSI()
}

// LeftOver reports a level of nothing, without a draw: a plug that was pulled
// leaves it, and it tells no side.
func LeftOver(f rules.Finding) bool {
	_, hasN := f.Values["nominal_v"]
	_, slides := f.Values["slide_s"]
	return f.Severity != rules.Fault && !hasN && !slides
}

func aboveNominal(f rules.Finding) bool {
	v, hasV := f.Values["voltage_v"].(float64)
	nominal, hasN := f.Values["nominal_v"].(float64)
	return hasV && hasN && v > nominal
}

// A programmable contract is kept alive each 10 s and mostly moves with it: a level that
// stands as long is steady, and one of half the time nothing. Common practice.
const (
	oddFromS  = 5.0
	oddLevelS = 10.0
)
