package location

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// observations turns the evidence into independent facts.
func (m model) observations(p picture) []observation {
	weight, text := p.strange()
	out := m.estranged(m.recorded(p), weight, text)
	for i := range out {
		out[i].seen = true
	}
	out = append(out, m.setUp(p)...)
	return append(out, m.measured(p)...)
}

// recorded is what the recording, or a display in its place, shows.
func (m model) recorded(p picture) []observation {
	var out []observation
	pattern, patternText := p.drawSeen()
	if pattern != nil && (followsFromResets(p, pattern) || p.keptFrom() && pattern[drawNone]+pattern[drawStandby]+pattern[drawEnds] > 0 || onlyResists(p.meter())) {
		pattern = nil
	}
	if p.state != nil && !p.garbled() && p.unasked == "" && p.low == "" { // how far it comes is chance where messages are damaged
		progress := powerUpTopic(p.Facts.MeterAt, p.vbusSeen())
		if n := p.Facts.Negotiation; n != nil && n.Messages > 0 {
			progress.cap = protocolCap
		}
		out = append(out, m.observe(progress, p.state, p.stateWhy))
	}
	own, ownText := p.supply()
	if own != "" {
		out = append(out, m.observe(supplyTopic(own), exactly(own), ownText))
	}
	if own != "" || p.starves() { // whatever it tries ends by that
		pattern = nil
	}
	end, endText := p.ending()
	if p.cold { // a short that came later: what was before it tells nothing of it
		out = nil
	}
	if p.cold || own != "" || p.endsByMessages() || p.breaksAtResistor() || p.overFed() { // that is how it ends
		end = nil
	}
	if p.endsByMessages() {
		pattern = nil
	}
	back := p.back != "" // then VBUS without a charger is the machine's own
	if end != nil {      // what breaks down with the contract is told by how it ends
		pattern = p.triesWithin(pattern)
	}
	if end != nil && !back {
		how := endingTopic(p.Facts.MeterAt)
		if end[endCCOpen]+end[endCCGone] > 0 {
			how.cap = physicsCap
		}
		out = append(out, m.observe(how, end, endText))
	}
	if s, text := p.rhythm(); s != nil {
		out = append(out, m.observe(rhythmTopic(), s, text))
	}
	if pattern != nil {
		if o, ok := m.drawObservation(p, pattern, patternText); ok {
			out = append(out, o)
		}
	}
	loss, lossText := p.losses()
	if p.endsByMessages() {
		loss = ""
	}
	if from, s := p.worked(pattern); s >= holdsS && loss == "" { // what is lost now and then holds in between
		out = append(out, m.observe(holdTopic(), exactly(holds), fmt.Sprintf("from %.2f s the draw holds for %.0f s", from, s)))
	}
	out = append(out, m.voltage(p, pattern)...)
	out = append(out, m.line(p)...)
	if o, ok := m.goes(p); ok {
		out = append(out, o)
	}
	out = append(out, m.start(p)...)
	if how, first := p.ccEnds(); loss != "" && how == endCCGone {
		out = append(out, m.observe(endingTopic(p.Facts.MeterAt), exactly(how), lossText+"; "+first))
	} else if loss != "" {
		out = append(out, m.observe(lossTopic(), exactly(loss), lossText))
	}
	for _, sign := range []struct {
		topic topic
		see   func() (seen, string)
	}{
		{lifeTopic(), func() (seen, string) { return p.life(pattern) }},
		{stirTopic(), func() (seen, string) { return p.stirs(pattern) }},
		{closesTopic(), func() (seen, string) { return p.closes(pattern) }},
		{goneTopic(), p.gone},
		{liftTopic(p.Facts.MeterAt), p.lifted},
		{alertTopic(), p.alerted},
		{p.offerTopic(), p.offered},
		{asksTopic(), p.asks},
		{backTo5Topic(), p.goesBack},
		{wantsTopic(), func() (seen, string) { return p.wantsMore(pattern) }},
	} {
		if s, text := sign.see(); s != nil {
			out = append(out, m.observe(sign.topic, s, text))
		}
	}
	if f, ok := graveFinding(p); ok && p.state[deafSource] == 0 && !back { // resets that nobody hears are what a plain source is told by
		out = append(out, m.observe(faultTopic(), exactly("fault"), f.Text))
	}
	return out
}

// vbusSeen reports a meter that sees VBUS.
func (p picture) vbusSeen() bool {
	d := p.meter()
	return d != nil && d.Sampling.MaxV > fiveFrom
}

// holdsS is how long a working draw must last to count as holding: several
// times the longest retry. Common practice.
const holdsS = 10

// works reports a draw that a machine at work has.
func works(pattern seen) bool {
	return pattern[drawWorking]+pattern[drawTaper]+pattern[drawAtLimit]+pattern[drawStairsSettle] > 0.5
}

// worked is from when and how long the working draw lasted, 0 where it is none.
func (p picture) worked(pattern seen) (from, longest float64) {
	if pattern[drawWorking]+pattern[drawTaper]+pattern[drawAtLimit]+pattern[drawStairsSettle] == 0 {
		return 0, 0
	}
	for _, rule := range []string{"ramp-normal", "charge-taper"} {
		if f, known := p.found[rule]; known && f.StartS != nil && f.EndS != nil {
			if long := *f.EndS - *f.StartS; long > longest {
				from, longest = *f.StartS, long
			}
		}
	}
	return from, longest
}

// followsFromResets reports VBUS going off and on at 5 V where Hard Resets
// are seen: they take it away by themselves.
func followsFromResets(p picture, pattern seen) bool {
	return !p.contract && p.is("hard-reset-loop", rules.Warning) && brokenOff(pattern)
}

// triesWithin keeps a pattern of short tries: contracts that are lost come and
// go more slowly, and make every other pattern by themselves.
func (p picture) triesWithin(pattern seen) seen {
	if pattern[drawFast]+pattern[drawCharger] > 3*pattern[drawSlow] && pattern[drawStandby]+pattern[drawNone] == 0 {
		return pattern
	}
	return nil
}

// keptFrom reports a machine that need not draw whatever stands behind the port: VBUS is not
// what it asked for, or it begins the talk anew before it can.
func (p picture) keptFrom() bool {
	return p.notAsAgreed() || p.state == nil && p.back != "" || p.low != "" || p.unasked != "" || p.beginsAnew() != "" || p.overFed()
}

func brokenOff(pattern seen) bool {
	return pattern[drawDrops] > 0.5 || pattern[drawSlow] > 0.5
}

// drawObservation weighs a pattern by the level it stands on. Where the level
// is not known the tables are mixed by how likely each class gets there.
func (m model) drawObservation(p picture, pattern seen, text string) (observation, bool) {
	high := m.observe(highDrawTopic(word(p.Readings, "battery") == "disconnected", p.Facts.MeterAt), pattern, text)
	low := m.observe(lowDrawTopic(), pattern, text)
	if pattern[drawBounces] > 0 {
		high.cap = physicsCap
	}
	switch {
	case p.contract:
		return high, sum(high.like) > 0
	case p.state[noVBUS] > 0:
		off := offQuiet
		if p.is("retry-pulses", rules.Note) {
			off = offTicks
		}
		return m.observe(offDrawTopic(), exactly(off), text), true
	case p.state != nil:
		return low, sum(low.like) > 0
	}
	progress := powerUpTopic("", false)
	table := progress.likelihoods(m)
	for i := range high.like {
		reached := table[progress.index(contractHigh)][i] + table[progress.index(contractLost)][i]
		high.like[i] = reached*high.like[i] + (1-reached)*low.like[i]
	}
	return high, true
}

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}

// voltage is what VBUS itself and the law of the load say.
func (m model) voltage(p picture, pattern seen) []observation {
	var out []observation
	d := p.meter()
	if d == nil {
		return nil
	}
	series := seriesTopic(p.Facts.MeterAt)
	thin := p.thinLead(d)
	switch {
	case thin != "":
		out = append(out, m.observe(series, exactly(seriesExtreme), thin))
	case brokenOff(pattern) && !p.starves(), p.lapsed != "", p.endsByMessages(): // VBUS that gives way, or moves by contract, has no slope of its own
	case p.is("contact-unsteady", rules.Note):
		out = append(out, m.observe(series, exactly(seriesUnsteady), p.text("contact-unsteady")))
	case p.is("series-resistance-high", rules.Note):
		how := howHigh(d.Measured.SeriesResistanceOhm)
		if how == seriesFar && works(pattern) && !p.is("series-resistance-high", rules.Fault) {
			how = seriesCarries
		}
		high := exactly(how)
		if p.breaksDown() && !p.starves() {
			high = seen{how: 1, seriesSound: limitedShare}
		}
		out = append(out, m.observe(series, high, p.text("series-resistance-high")))
	case d.Measured.SeriesResistanceOhm != nil && !p.breaksDown() && !p.garbled(): // what comes and goes, or garbles, need not have a resistance as well
		s, text := resistance(*d.Measured.SeriesResistanceOhm)
		out = append(out, m.observe(series, s, text))
	}
	if o, ok := m.window(p, d); ok && p.back == "" {
		out = append(out, o)
	}
	if outcome, text := p.intoShort(d); outcome != "" && !p.endsByMessages() {
		out = append(out, m.observe(heldTopic(p.Facts.MeterAt), exactly(outcome), text))
	}
	law, known := m.load(p)
	told := known
	if ohmic, text := p.ohmic(d); ohmic != nil && (!known || ohmic[ohmicTwice]+ohmic[ohmicLate] == 0) {
		out, known, told = append(out, m.observe(ohmicTopic(), ohmic, text)), false, true // one draw tells its law once
	}
	if known && !p.breaksBeyond() {
		out = append(out, law)
	}
	if amps, ok := p.beforeContract(d); ok && !told { // the law is told by the same draw
		out = append(out, m.observe(earlyTopic(), exactly(early(amps)), fmt.Sprintf("at 5 V, before the contract, %.0f mA flow", 1000*amps)))
	}
	if p.back != "" {
		out = append(out, m.observe(backTopic(), exactly(feedsBack), p.back))
	}
	if f, known := p.found["inrush-excess"]; known && !p.breaksDown() {
		out = append(out, m.observe(inrushTopic(), exactly(inrushExcess), f.Text))
	}
	return out
}

// heldDown is a fall of VBUS in which the load held it down.
func heldDown(d *draw.Result) (draw.Collapse, bool) {
	i := slices.IndexFunc(d.Collapses, func(c draw.Collapse) bool { return c.HeldA > 0 })
	if i < 0 {
		return draw.Collapse{}, false
	}
	return d.Collapses[i], true
}

// intoShortA is more than the capacitors take that a source may meet before a contract:
// 10 uF at 5 V are 50 uC, 50 mA in a row of 1 ms (USB Type-C R2.0 table 4-2). Common practice.
const intoShortA = 0.2

// intoShort says how current flows without a voltage, empty where it does not.
func (p picture) intoShort(d *draw.Result) (outcome, text string) {
	if c := d.Cold; c.Count >= coldLeast {
		return heldCold, fmt.Sprintf("%d times, first at %.2f s, up to %.2g A flow from the first moment and VBUS does not come up", c.Count, c.FirstS, c.PeakA)
	}
	if c, held := heldDown(d); held && p.cold {
		return heldCold, fmt.Sprintf("at %.2f s, at 5 V and before a contract, %.2f A hold VBUS down at %.2f V", c.TimeS, c.HeldA, c.HeldV)
	} else if held && p.state[contractHigh]+p.state[contractLost] == 0 && waits(d) {
		return heldLate, fmt.Sprintf("at %.2f s %.2f A hold VBUS down at %.2f V, and each time 5 V had stood idle before", c.TimeS, c.HeldA, c.HeldV)
	} else if held {
		return heldShort, fmt.Sprintf("at %.2f s %.2f A flow on while VBUS is held at %.2f V", c.TimeS, c.HeldA, c.HeldV)
	}
	if p.state[noVBUS] > 0 && d.Sampling.MaxA >= intoShortA && d.Sampling.MaxV < rules.LowestContractV {
		return heldShort, fmt.Sprintf("%.2g A flow, and VBUS does not come up", d.Sampling.MaxA)
	}
	return "", ""
}

// waitsS is how long 5 V stands idle before a short that is let in: what stands on VBUS
// itself takes it down in its first millisecond. Common practice.
const (
	waitsS    = 0.05
	waitsFrom = 3 // falls
)

// waits reports falls of 5 V to a short that each came after a while without a draw.
func waits(d *draw.Result) bool {
	late, held := 0, 0
	for _, c := range d.Collapses {
		if c.HeldA == 0 || c.FromV < fiveFrom || c.FromV >= contractV {
			continue
		}
		held++
		for _, l := range d.Levels {
			if l.NominalV == 5 && l.EndS <= c.TimeS && c.TimeS-l.EndS <= 2*d.Sampling.IntervalS && l.EndS-l.StartS >= waitsS && l.MeanA <= standbyA {
				late++
				break
			}
		}
	}
	return late >= waitsFrom && 5*late >= 4*held
}

// beforeContractS and beforeContractN are what 5 V must last and hold to be
// read before the contract.
const (
	beforeContractS = 0.08
	beforeContractN = 3
)

// beforeContract is the draw at 5 V before the first contract.
func (p picture) beforeContract(d *draw.Result) (amps float64, ok bool) {
	if !p.contract || d.Sampling.WithCurrent == 0 {
		return 0, false
	}
	if _, above := lastLevel(d, true); !above {
		return 0, false // 5 V is the contract
	}
	for _, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV:
			return 0, false
		case l.NominalV == 5 && l.N >= beforeContractN && l.EndS-l.StartS >= beforeContractS && !math.IsNaN(l.MeanA):
			return restOf(d, l), true
		}
	}
	return 0, false
}

// restOf is the draw of a level without the surge that fills capacitors in it: of its plateaus
// the longest.
func restOf(d *draw.Result, l draw.Level) float64 {
	rest, longest := l.MeanA, 0.0
	for _, q := range d.Plateaus {
		if s := min(q.EndS, l.EndS) - max(q.StartS, l.StartS); q.CurrentA != nil && s > longest && s >= beforeContractS {
			rest, longest = min(l.MeanA, *q.CurrentA), s
		}
	}
	return rest
}

func early(amps float64) string {
	switch {
	case amps < earlyNoneA:
		return earlyNone
	case amps < earlyLittleA:
		return earlyLittle
	case amps < earlySomeA:
		return earlySome
	}
	return earlyMuch
}

// roughFrom is how many failed starts make a rough one: a plug that is moved
// makes one.
const roughFrom = 2

// start tells a power-up that stands at once from one that needed several. Where
// contracts are lost again and again, starts that fail in between still tell: an overload
// waits for its contract.
func (m model) start(p picture) []observation {
	if !p.contract || p.cold || p.garbled() { // the same damage
		return nil
	}
	failed := p.failedStarts()
	switch {
	case failed >= roughFrom && p.breaksDown():
		return []observation{m.observe(startTopic(), exactly(startRough), fmt.Sprintf("%d starts come to no contract", failed))}
	case failed >= roughFrom && p.listensLate():
		return []observation{m.observe(startTopic(), exactly(startLate), fmt.Sprintf("%d starts end with offers that get no answer, and the next one stands", failed))}
	case failed >= roughFrom:
		return []observation{m.observe(startTopic(), exactly(startRough), fmt.Sprintf("%d starts fail before it stands", failed))}
	case p.breaksDown():
		return nil
	}
	return []observation{m.observe(startTopic(), exactly(startSmooth), "the power-up stands at the first or second start")}
}

// glimpseEveryS is how close rows must lie to show a contract that is lost at once:
// common practice.
const glimpseEveryS = 0.05

// stoodS is how long VBUS stands above 5 V for a start that came to something: what ends
// it later is a plug that is pulled, or told as a loss. Common practice.
const stoodS = 2.0

// failedStarts counts attempts that came to no contract. A meter alone shows VBUS that
// goes off again; where contracts break down it must be quick enough to have seen them.
func (p picture) failedStarts() int {
	failed := 0
	if n := p.Facts.Negotiation; n != nil {
		for _, a := range n.Attempts {
			if !a.Beginning && a.Missing != negotiation.StepDone && a.Missing != negotiation.StepLeft {
				failed++
			}
		}
		return failed
	}
	d := p.meter()
	if d == nil || p.breaksDown() && d.Sampling.IntervalS > glimpseEveryS {
		return 0
	}
	stood := 0.0 // above 5 V
	for i, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV:
			stood += l.EndS - l.StartS + d.Sampling.IntervalS
		case l.NominalV == 0 && i > 0:
			if stood == 0 || stood < stoodS && !p.breaksDown() {
				failed++
			}
			stood = 0
		}
	}
	return failed
}

// lateMost is how many starts a machine that boots without its battery may miss: a Hard Reset
// comes each 1.5 s or so, and a controller boots within a few seconds. Common practice.
const lateMost = 4

// listensLate reports starts that fail before the first contract alone, and each because the
// offers were not acknowledged, or by the controller's hardware alone.
func (p picture) listensLate() bool {
	n := p.Facts.Negotiation
	if n == nil || p.breaksDown() {
		return false
	}
	missed := 0
	for _, a := range n.Attempts {
		switch {
		case a.Missing == negotiation.StepDone:
			return missed > 0 && missed <= lateMost
		case a.Missing != negotiation.StepAcknowledge && a.Missing != negotiation.StepRequest:
			return false
		}
		missed++
	}
	return false
}

// graveFinding is the first fault of the recording.
func graveFinding(p picture) (rules.Finding, bool) {
	for _, f := range p.Findings {
		if f.Severity == rules.Fault {
			return f, true
		}
	}
	return rules.Finding{}, false
}

// setUp is what the recording was made with: a part that was not in it cannot
// have shown the fault.
func (m model) setUp(p picture) []observation {
	var out []observation
	without := func(gone part, text string) {
		o := observation{text: text, node: text, cap: recordingCap, like: make([]float64, len(m.classes))}
		for i, c := range m.classes {
			o.like[i] = 1
			if c.part == gone {
				o.like[i] = 1.0 / recordingCap
			}
		}
		out = append(out, o)
	}
	if word(p.Readings, "recorded-charger") == "known-good" {
		without(source, "the recording was made with a charger known to be good")
	}
	if word(p.Readings, "recorded-cable") == "known-good" {
		without(cable, "the recording was made with a cable known to be good")
	}
	if word(p.Readings, "battery") == "disconnected" {
		without(battery, "the battery was disconnected")
	}
	return out
}
