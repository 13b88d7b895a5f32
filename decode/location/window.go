package location

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// window is VBUS against what it should be, where it is not: the first of these that shows.
func (m model) window(p picture, d *draw.Result) (observation, bool) {
	for _, shows := range []func(picture, *draw.Result) (topic, seen, string){
		hum, pinned, weak, idles, outOfRange, sunk, raised, below, standingLower, unsteadyVoltage, oddVoltage,
	} {
		if t, s, text := shows(p, d); s != nil {
			return m.observe(t, s, text), true
		}
	}
	return observation{}, false
}

func hum(p picture, _ *draw.Result) (topic, seen, string) {
	if !p.hums() {
		return topic{}, nil, ""
	}
	t := windowTopic()
	t.cap = physicsCap
	return t, exactly(windowHums), p.text("vbus-out-of-range")
}

// pinned is VBUS held down by less current than the source gives.
func pinned(p picture, d *draw.Result) (topic, seen, string) {
	text := p.pinned(d)
	if text == "" {
		return topic{}, nil, ""
	}
	return agreedTopic(windowSunk), exactly(windowSunk), text
}

// weak is 5 V that never came to stand.
func weak(p picture, d *draw.Result) (topic, seen, string) {
	text := p.weakFive(d)
	if text == "" {
		return topic{}, nil, ""
	}
	return littleTopic(p.Facts.MeterAt), exactly(windowSunk), text
}

func idles(p picture, d *draw.Result) (topic, seen, string) {
	text := p.idlesBelow(d)
	if text == "" {
		return topic{}, nil, ""
	}
	return agreedTopic(windowElse), exactly(windowElse), text
}

func outOfRange(p picture, _ *draw.Result) (topic, seen, string) {
	f, known := p.found["vbus-out-of-range"]
	if !known || f.Severity == rules.Note || p.state[noVBUS] > 0 {
		return topic{}, nil, ""
	}
	if leftOver(f) && !(p.heldByLittle(f) && p.neverMore(f)) {
		return topic{}, nil, ""
	}
	if p.heldByLittle(f) {
		return littleTopic(p.Facts.MeterAt), exactly(windowSunk), f.Text
	}
	if p.agreed() {
		kind := p.againstAgreed(f)
		return agreedTopic(kind), exactly(kind), f.Text
	}
	return windowTopic(), exactly(againstFixed(f)), f.Text
}

func sunk(p picture, _ *draw.Result) (topic, seen, string) {
	if p.low == "" {
		return topic{}, nil, ""
	}
	return windowTopic(), exactly(windowSunk), p.low
}

func raised(p picture, _ *draw.Result) (topic, seen, string) {
	if p.unasked == "" {
		return topic{}, nil, ""
	}
	return agreedTopic(windowRaised), exactly(windowRaised), p.unasked
}

// below is VBUS under what was agreed, which no finding tells: it never comes, slips away, or
// sags further than the draw explains.
func below(p picture, d *draw.Result) (topic, seen, string) {
	t := agreedTopic(windowSunk)
	if text := p.neverRises(d); text != "" {
		return t, exactly(windowSunk), text
	}
	if text := p.neverFollows(d); text != "" {
		return t, exactly(windowSunk), text
	}
	if text := p.slips(d); text != "" {
		return t, seen{windowSunk: 1, windowInside: unheardShare}, text
	}
	if text := p.sagging(d); text != "" {
		return t, exactly(windowSunk), text
	}
	return topic{}, nil, ""
}

// standingLower is a collapse that ends at a lower voltage, which carries the draw on.
func standingLower(p picture, d *draw.Result) (topic, seen, string) {
	l, lower := standsLower(d)
	if !lower || !p.is("vbus-collapse", rules.Fault) {
		return topic{}, nil, ""
	}
	text := fmt.Sprintf("%s; it stands at %.2f V and carries %.2f A on", p.text("vbus-collapse"), l.VoltageV, l.MeanA)
	return windowTopic(), exactly(windowSlides), text
}

func unsteadyVoltage(p picture, d *draw.Result) (topic, seen, string) {
	l, swings := p.swings(d)
	if !swings {
		return topic{}, nil, ""
	}
	text := fmt.Sprintf("VBUS swings by +-%.2g V about %.4g V, more than %.2g A explain", l.SpreadV, l.VoltageV, l.MaxA)
	return windowTopic(), exactly(windowSwings), text
}

func oddVoltage(p picture, d *draw.Result) (topic, seen, string) {
	if text := p.againAndAgainBeyond(d); text != "" {
		return windowTopic(), exactly(windowBeyond), text
	}
	level, odd := p.oddLevel(d)
	if odd <= 0 {
		return topic{}, nil, ""
	}
	kind := windowOdd
	if p.beyondProgrammable(level) {
		kind = windowBeyond
	}
	text := fmt.Sprintf("VBUS stands at %.2f V, which no fixed supply gives", level)
	return windowTopic(), seen{kind: odd, windowInside: 1 - odd}, text
}

// hums reports VBUS that swings with the mains.
func (p picture) hums() bool {
	_, hums := p.found["vbus-out-of-range"].Values["hum_hz"]
	return hums
}

// notAsAgreed reports VBUS that stands far from the contract while hardly a current flows:
// a machine need not start from a voltage that it did not ask for.
func (p picture) notAsAgreed() bool {
	if d := p.meter(); d != nil && p.neverFollows(d) != "" {
		return true
	}
	f, known := p.found["vbus-out-of-range"]
	amps, measured := f.Values["current_a"].(float64)
	return known && f.Severity == rules.Fault && p.agreed() && (idleBelow(f) || aboveNominal(f) && measured && amps <= standbyA)
}

// againstAgreed is how VBUS is out of the window of its contract.
func (p picture) againstAgreed(f rules.Finding) string {
	amps, measured := f.Values["current_a"].(float64)
	promised, known := p.promisedA()
	switch {
	case f.Severity == rules.Fault && aboveNominal(f):
		return windowRaised
	case f.Severity == rules.Fault && idleBelow(f):
		return windowElse
	case f.Severity == rules.Fault && measured && known && amps < atLimit*promised, idleBelow(f):
		return windowSunk
	default:
		return windowLow
	}
}

// againstFixed is how VBUS is out of the window of the fixed voltage that it is nearest to.
func againstFixed(f rules.Finding) string {
	_, slides := f.Values["slide_s"]
	switch {
	case slides:
		return windowSlides
	case f.Severity == rules.Fault && aboveNominal(f):
		return windowHigh
	case idleBelow(f):
		return windowSunk
	default:
		return windowLow
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

// asksForMore reports a programmable contract whose voltage the sink moves, by its messages
// or, without them, by the steps of VBUS.
func (p picture) asksForMore() bool {
	n := p.Facts.Negotiation
	if n == nil {
		d := p.meter()
		return d != nil && len(d.Steers) > 0
	}
	first := 0
	return slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool {
		if c.Kind != pd.KindPPS.String() {
			return false
		}
		if first == 0 {
			first = millivolts(c)
		}
		return millivolts(c) != first
	})
}

// swings is a fixed contract whose voltage scatters so.
func (p picture) swings(d *draw.Result) (draw.Level, bool) {
	if p.is("contact-unsteady", rules.Note) || p.breaksDown() || p.asksForMore() {
		return draw.Level{}, false
	}
	i := slices.IndexFunc(d.Levels, func(l draw.Level) bool {
		loads := max(0, l.MaxA) / 2 * farOhm
		return l.VoltageV >= contractV && l.Fixed() && l.N >= swingRows && l.EndS-l.StartS >= swingS && l.SpreadV > max(swingShare*l.VoltageV, loads)
	})
	if i < 0 {
		return draw.Level{}, false
	}
	return d.Levels[i], true
}

// oddLevel is how surely the highest level of a meter alone is none of the fixed supplies,
// and stands.
func (p picture) oddLevel(d *draw.Result) (volts, odd float64) {
	if p.agreed() || p.lapsed != "" || p.is("vbus-out-of-range", rules.Note) || p.asksForMore() {
		return 0, 0
	}
	level, known := lastLevel(d, true)
	if !known || level.Fixed() {
		return 0, 0
	}
	return level.VoltageV, min(1, max(0, (level.EndS-level.StartS-oddFromS)/(oddLevelS-oddFromS)))
}

// beyondProgrammable reports a level above every programmable supply and below
// a fixed 28 V, by more than the meter's limit.
func (p picture) beyondProgrammable(volts float64) bool {
	extended, _ := pd.FixedWindow(28_000)
	accuracy := p.Facts.AccuracyV / 100
	return volts > pd.PPSMaxVoltage.Volts()*(1+accuracy) && volts < extended.Min*(1-accuracy)
}

// heldByLittle reports VBUS that stands between nothing and 5 V under a draw that no source
// limits at.
func (p picture) heldByLittle(f rules.Finding) bool {
	amps, measured := f.Values["current_a"].(float64)
	_, hasN := f.Values["nominal_v"]
	_, slides := f.Values["slide_s"]
	d := p.meter()
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

// overFed reports a meter alone on which VBUS stands where no supply stands: a machine shuts
// such a voltage out.
func (p picture) overFed() bool {
	d := p.meter()
	if d == nil {
		return false
	}
	level, odd := p.oddLevel(d)
	return odd > 0 && p.beyondProgrammable(level) || p.againAndAgainBeyond(d) != ""
}

// againAndAgainBeyond tells VBUS that comes up to where no supply stands in try after try,
// without a draw, for a meter alone.
func (p picture) againAndAgainBeyond(d *draw.Result) string {
	if p.agreed() {
		return ""
	}
	count, lasted, firstS, volts := 0, 0.0, 0.0, 0.0
	for _, l := range d.Levels {
		if l.MeanA <= standbyA && p.beyondProgrammable(l.VoltageV) {
			if count++; count == 1 {
				firstS, volts = l.StartS, l.VoltageV
			}
			lasted += l.EndS - l.StartS
		}
	}
	if count < beyondFrom || lasted < beyondS {
		if count, firstS, volts = tops(d, contractV); count < beyondFrom || !p.beyondProgrammable(volts) {
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

// neverMore reports a level that VBUS rose to in the recording and that is its highest: no plug
// was pulled that had carried more.
func (p picture) neverMore(f rules.Finding) bool {
	volts, known := f.Values["voltage_v"].(float64)
	d := p.meter()
	return known && d != nil && len(d.Levels) > 1 && d.Levels[0].NominalV == 0 && d.Sampling.MaxV <= volts+pd.VSrcValid.Limits(pd.Revision32).MaxSI()
}

// leftOver reports a level of nothing, without a draw: a plug that was pulled
// leaves it, and it tells no side.
func leftOver(f rules.Finding) bool {
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
