package location

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
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
	if pattern != nil && (followsFromResets(p, pattern) || p.keptFrom() && pattern[drawNone]+pattern[drawStandby] > 0) {
		pattern = nil
	}
	if p.state != nil && !p.garbled() && p.unasked(p.meter()) == "" && neverFive(p.meter()) == "" { // how far it comes is chance where messages are damaged
		progress := powerUpTopic(p.Facts.MeterAt, p.vbusSeen())
		if n := p.Facts.Negotiation; n != nil && n.Messages > 0 {
			progress.cap = protocolCap
		}
		out = append(out, m.observe(progress, p.state, p.stateWhy))
	}
	end, endText := p.ending()
	back := p.feeds(p.meter()) != "" // then VBUS without a charger is the machine's own
	if end != nil && !back {         // what breaks down with the contract is told by how it ends
		out = append(out, m.observe(endingTopic(p.Facts.MeterAt), end, endText))
		pattern = p.triesWithin(pattern)
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
	if from, s := p.worked(pattern); s >= holdsS && loss == "" { // what is lost now and then holds in between
		out = append(out, m.observe(holdTopic(), exactly(holds), fmt.Sprintf("from %.2f s the draw holds for %.0f s", from, s)))
	}
	out = append(out, m.voltage(p, pattern)...)
	out = append(out, m.line(p)...)
	out = append(out, m.start(p)...)
	if loss != "" {
		out = append(out, m.observe(lossTopic(), exactly(loss), lossText))
	}
	if s, text := p.life(pattern); s != nil {
		out = append(out, m.observe(lifeTopic(), s, text))
	}
	if s, text := p.gone(); s != nil {
		out = append(out, m.observe(goneTopic(), s, text))
	}
	if s, text := p.alerted(); s != nil {
		out = append(out, m.observe(alertTopic(), s, text))
	}
	if s, text := p.offered(); s != nil {
		out = append(out, m.observe(lessTopic(), s, text))
	}
	if s, text := p.asks(); s != nil {
		out = append(out, m.observe(asksTopic(), s, text))
	}
	if s, text := p.wantsMore(pattern); s != nil {
		out = append(out, m.observe(wantsTopic(), s, text))
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
	return p.notAsAgreed() || neverFive(p.meter()) != "" || p.unasked(p.meter()) != "" || p.beginsAnew() != ""
}

func brokenOff(pattern seen) bool {
	return pattern[drawDrops] > 0.5 || pattern[drawSlow] > 0.5
}

// drawObservation weighs a pattern by the level it stands on. Where the level
// is not known the tables are mixed by how likely each class gets there.
func (m model) drawObservation(p picture, pattern seen, text string) (observation, bool) {
	high := m.observe(highDrawTopic(word(p.Readings, "battery") == "disconnected", p.Facts.MeterAt), pattern, text)
	low := m.observe(lowDrawTopic(), pattern, text)
	switch {
	case p.contract:
		return high, true
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

// soundShare is how sure a resistance must be that of a sound cable to be called so: common
// practice.
const soundShare = 0.9

// farOhm is more than a sound cable at its limit (0.25 ohm), a source's own slope
// (5 % of 5 V at 3 A) and two worn contacts add up to: common practice.
const farOhm = 0.4

// extremeOhm is a third more than what starves a charger circuit at 3 A (1.28 V:
// data sheet SLUSE65A): common practice.
const extremeOhm = 0.6

// limitedShare is how often a source in its limit of current, as it breaks down, looks
// like a resistance behind a sound lead: common practice.
const limitedShare = 0.02

// resistance is a series resistance that is not above the limit for certain: its
// uncertainty may reach over it.
func resistance(q draw.Quantity) (seen, string) {
	text := fmt.Sprintf("VBUS sags by %.0f mohm times the current", q.Value*1000)
	if q.Uncertainty == nil || *q.Uncertainty <= 0 {
		return exactly(seriesSound), text + ", as behind a sound cable"
	}
	below := func(ohm float64) float64 { return 0.5 * math.Erfc((q.Value-ohm) / *q.Uncertainty / math.Sqrt2) }
	cable := rules.CableOhm()
	sound, high, far := below(cable), below(farOhm), below(extremeOhm)
	s := seen{seriesSound: sound, seriesHigh: high - sound, seriesFar: far - high, seriesExtreme: 1 - far}
	if sound < soundShare {
		return s, text + fmt.Sprintf(", +-%.0f: a sound cable's is under %.0f", 2000**q.Uncertainty, 1000*cable)
	}
	return s, text + ", as behind a sound cable"
}

// howHigh says by how much a resistance that is too high is so.
func howHigh(q *draw.Quantity) string {
	switch {
	case q == nil || q.Uncertainty == nil || q.Value-2**q.Uncertainty <= farOhm:
		return seriesHigh
	case q.Value-2**q.Uncertainty <= extremeOhm:
		return seriesFar
	default:
		return seriesExtreme
	}
}

// voltage is what VBUS itself and the law of the load say.
func (m model) voltage(p picture, pattern seen) []observation {
	var out []observation
	d := p.meter()
	if d == nil {
		return nil
	}
	series := seriesTopic(p.Facts.MeterAt)
	switch {
	case brokenOff(pattern): // VBUS that gives way has no slope of its own
	case p.is("contact-unsteady", rules.Note):
		out = append(out, m.observe(series, exactly(seriesUnsteady), p.text("contact-unsteady")))
	case p.is("series-resistance-high", rules.Note):
		high := exactly(howHigh(d.Measured.SeriesResistanceOhm))
		if p.breaksDown() {
			high = seen{howHigh(d.Measured.SeriesResistanceOhm): 1, seriesSound: limitedShare}
		}
		out = append(out, m.observe(series, high, p.text("series-resistance-high")))
	case d.Measured.SeriesResistanceOhm != nil && !p.breaksDown() && !p.garbled(): // what comes and goes, or garbles, need not have a resistance as well
		s, text := resistance(*d.Measured.SeriesResistanceOhm)
		out = append(out, m.observe(series, s, text))
	}
	if o, ok := m.window(p, d); ok && p.feeds(d) == "" {
		out = append(out, o)
	}
	if text := p.intoShort(d); text != "" {
		out = append(out, m.observe(heldTopic(p.Facts.MeterAt), exactly(heldShort), text))
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
	if text := p.feeds(d); text != "" {
		out = append(out, m.observe(backTopic(), exactly(feedsBack), text))
	}
	if f, known := p.found["inrush-excess"]; known && !p.breaksDown() {
		out = append(out, m.observe(inrushTopic(), exactly(inrushExcess), f.Text))
	}
	return out
}

// window is VBUS against what it should be, where it is not.
func (m model) window(p picture, d *draw.Result) (observation, bool) {
	f, known := p.found["vbus-out-of-range"]
	known = known && f.Severity != rules.Note && p.state[noVBUS] == 0 && !leftOver(f)
	switch {
	case known && p.agreed():
		kind := p.againstAgreed(f)
		return m.observe(agreedTopic(kind), exactly(kind), f.Text), true
	case known:
		return m.observe(windowTopic(), exactly(againstFixed(f)), f.Text), true
	}
	if text := neverFive(d); text != "" {
		return m.observe(windowTopic(), exactly(windowSunk), text), true
	}
	if text := p.unasked(d); text != "" {
		return m.observe(agreedTopic(windowRaised), exactly(windowRaised), text), true
	}
	if text := p.neverRises(d); text != "" {
		return m.observe(agreedTopic(windowSunk), exactly(windowSunk), text), true
	}
	if text := p.slips(d); text != "" {
		return m.observe(agreedTopic(windowSunk), seen{windowSunk: 1, windowInside: unheardShare}, text), true
	}
	if text := p.sagging(d); text != "" {
		return m.observe(agreedTopic(windowSunk), exactly(windowSunk), text), true
	}
	if l, lower := standsLower(d); lower && p.is("vbus-collapse", rules.Fault) {
		text := fmt.Sprintf("%s; it stands at %.2f V and carries %.2f A on", p.text("vbus-collapse"), l.VoltageV, l.MeanA)
		return m.observe(windowTopic(), exactly(windowSlides), text), true
	}
	if l, swings := p.swings(d); swings {
		text := fmt.Sprintf("VBUS swings by +-%.2g V about %.4g V, more than %.2g A explain", l.SpreadV, l.VoltageV, l.MaxA)
		return m.observe(windowTopic(), exactly(windowSwings), text), true
	}
	if level, odd := p.oddLevel(d); odd > 0 {
		kind := windowOdd
		if p.beyondProgrammable(level) {
			kind = windowBeyond
		}
		return m.observe(windowTopic(), seen{kind: odd, windowInside: 1 - odd}, fmt.Sprintf("VBUS stands at %.2f V, which no fixed supply gives", level)), true
	}
	return observation{}, false
}

// notAsAgreed reports VBUS that stands far from the contract while hardly a current flows:
// a machine need not start from a voltage that it did not ask for.
func (p picture) notAsAgreed() bool {
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

// swings is a fixed contract whose voltage scatters so.
func (p picture) swings(d *draw.Result) (draw.Level, bool) {
	if p.is("contact-unsteady", rules.Note) || p.breaksDown() {
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

// A programmable contract is kept alive each 10 s and mostly moves with it: a level that
// stands as long is steady, and one of half the time nothing. Common practice.
const (
	oddFromS  = 5.0
	oddLevelS = 10.0
)

// oddLevel is how surely the highest level of a meter alone is none of the fixed supplies,
// and stands.
func (p picture) oddLevel(d *draw.Result) (volts, odd float64) {
	if p.agreed() || p.is("vbus-out-of-range", rules.Note) {
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

// intoShort says how current flows on without a voltage, empty where it does not.
func (p picture) intoShort(d *draw.Result) string {
	if c, held := heldDown(d); held {
		return fmt.Sprintf("at %.2f s %.2f A flow on while VBUS is held at %.2f V", c.TimeS, c.HeldA, c.HeldV)
	}
	if p.state[noVBUS] > 0 && d.Sampling.MaxA >= intoShortA && d.Sampling.MaxV < lowestV {
		return fmt.Sprintf("%.2g A flow, and VBUS does not come up", d.Sampling.MaxA)
	}
	return ""
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

// Bands of the exponent: common practice. Its uncertainty must leave it
// inside for the outer two.
const (
	resistiveFrom = 0.4
	converterTo   = -0.6
)

func (m model) load(p picture) (observation, bool) {
	q := p.meter().Measured.LoadExponent
	if q == nil || math.IsNaN(q.Value) {
		return observation{}, false
	}
	u := 0.0
	if q.Uncertainty != nil {
		u = *q.Uncertainty
	}
	kind, text := loadMixed, fmt.Sprintf("the draw goes with the voltage to the power %.1f", q.Value)
	switch {
	case q.Value-2*u > resistiveFrom && !p.is("resistive-load", rules.Note):
		return observation{}, false // the machine changed what it does with the voltage
	case q.Value-2*u > resistiveFrom:
		kind, text = loadResistive, text+", as a resistor's does"
	case q.Value+2*u < converterTo:
		kind, text = loadConverter, text+", as a converter's does"
	}
	law := loadTopic()
	if kind == loadResistive {
		law.cap = weakCap
		if p.muchLeaks() {
			law.cap = trialCap
		}
	}
	return m.observe(law, exactly(kind), text), true
}

// muchLeaks reports a resistor that takes more than any part that only waits, and less than
// what burns: what a machine switches on as its voltage rises looks like one as well.
func (p picture) muchLeaks() bool {
	ohms, known := p.found["resistive-load"].Values["resistance_ohm"].(float64)
	volts := p.meter().Sampling.MaxV
	return known && volts > standbyA*ohms && volts*volts/ohms < leakW
}

// leakW is what no leak at the receptacle takes for long: it would show by its smoke.
// Common practice.
const leakW = 15.0

// beyondLaw is how many times its own draw a resistor must be exceeded at the break to
// have no part in it: common practice.
const beyondLaw = 4

// breaksBeyond reports contracts that break down at a draw beside which the resistor that
// was found is nothing.
func (p picture) breaksBeyond() bool {
	f, known := p.found["resistive-load"]
	ohms, measured := f.Values["resistance_ohm"].(float64)
	if !known || !measured || !p.breaksDown() {
		return false
	}
	return slices.ContainsFunc(p.meter().Collapses, func(c draw.Collapse) bool { return c.AtA > beyondLaw*c.FromV/ohms })
}

// heavyShare of damaged messages is far above any sound line's, and heavyCount of
// them are no accident: common practice.
const (
	heavyShare = 0.1
	heavyCount = 4
)

// roughFrom is how many failed starts make a rough one: a plug that is moved
// makes one.
const roughFrom = 2

// start tells a power-up that stands at once from one that needed several. Where
// contracts are lost again and again, starts that fail in between still tell: an overload
// waits for its contract.
func (m model) start(p picture) []observation {
	if !p.contract || p.garbled() { // the same damage
		return nil
	}
	failed := p.failedStarts()
	switch {
	case failed >= roughFrom && p.breaksDown():
		return []observation{m.observe(startTopic(), exactly(startRough), fmt.Sprintf("%d starts come to no contract", failed))}
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

// damagedSide tells whose messages suffer; equal counts tell nothing of it.
func damagedSide(source, sink int) seen {
	switch {
	case source > sink:
		return exactly(lineSource)
	case sink > source:
		return exactly(lineSink)
	}
	return seen{lineSource: 1, lineSink: 1}
}

// line is what damaged messages and the level of CC say.
// garbled reports talk of which so much is damaged that no sound line loses it.
func (p picture) garbled() bool {
	n := p.Facts.Negotiation
	if n == nil || !p.is("crc-errors", rules.Warning) {
		return false
	}
	damaged := n.CRCErrors.Source + n.CRCErrors.Sink
	return damaged >= heavyCount && float64(damaged) > heavyShare*float64(n.Messages)
}

func (m model) line(p picture) []observation {
	var out []observation
	if p.is("crc-errors", rules.Warning) {
		n := p.Facts.Negotiation
		damaged := exactly(lineSource)
		if n != nil {
			damaged = damagedSide(n.CRCErrors.Source, n.CRCErrors.Sink)
		}
		if n != nil && float64(n.CRCErrors.Source+n.CRCErrors.Sink) > heavyShare*float64(n.Messages) {
			damaged = exactly(lineHeavy)
		}
		if only := oneSided(n); only != "" {
			damaged = exactly(only)
		}
		quality := lineTopic()
		if p.garbled() {
			quality.cap = protocolCap
		}
		out = append(out, m.observe(quality, damaged, p.text("crc-errors")))
	} else if s, text := p.unheard(); s != nil {
		out = append(out, m.observe(hearingTopic(), s, text))
	}
	for _, level := range []struct{ rule, outcome string }{
		{"cc-stuck-high", ccHigh}, {"cc-stuck-low", ccLow}, {"rd-missing", ccNoRd}, {"rd-on-both", ccBothRd}, {"rp-wrong", ccBadRp},
	} {
		if p.is(level.rule, rules.Warning) {
			return append(out, m.observe(ccTopic(), exactly(level.outcome), p.text(level.rule)))
		}
	}
	return out
}

// Damage of one side's frames alone. Common practice.
const (
	sideMost  = 0.6  // of what it says is damaged
	sideLeast = 0.05 // and of the other's no more
)

// oneSided tells the side whose frames alone are damaged, empty where both or few are.
func oneSided(n *negotiation.Result) string {
	if n == nil || n.CRCErrors.Source+n.CRCErrors.Sink < heavyCount {
		return ""
	}
	source := damagedShare(n.CRCErrors.Source, n.FromSource)
	sink := damagedShare(n.CRCErrors.Sink, n.FromSink)
	switch {
	case source >= sideMost && sink <= sideLeast && n.FromSink >= heavyCount:
		return lineSourceOnly
	case sink >= sideMost && source <= sideLeast && n.FromSource >= heavyCount:
		return lineSinkOnly
	}
	return ""
}

func damagedShare(damaged, whole int) float64 { return float64(damaged) / float64(max(damaged+whole, 1)) }

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
