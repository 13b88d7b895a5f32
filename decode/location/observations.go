package location

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/probe"
	"portside/decode/rules"
	"portside/decode/signs"
)

// observations turns the evidence into independent facts.
func (m model) observations(p signs.Picture) []observation {
	weight, text := p.Strange()
	out := m.estranged(append(m.recorded(p), m.figures(p)...), weight, text)
	for i := range out {
		out[i].seen = true
	}
	out = append(out, m.setUp(p)...)
	return append(out, m.measured(p)...)
}

// recorded is what the recording, or a display in its place, shows.
func (m model) recorded(p signs.Picture) []observation {
	var out []observation
	pattern, patternText := p.DrawSeen()
	if pattern != nil && (signs.FollowsFromResets(p, pattern) || p.TakesBack() || p.KeptFrom() && pattern[signs.DrawNone]+pattern[signs.DrawStandby]+pattern[signs.DrawEnds] > 0 || signs.OnlyResists(p.Meter())) {
		pattern = nil
	}
	if p.State != nil && !p.Garbled() && p.Unasked == "" && p.Low == "" { // how far it comes is chance where messages are damaged
		progress := powerUpTopic(p.Facts.MeterAt, p.VBUSSeen())
		if n := p.Facts.Negotiation; n != nil && n.Messages > 0 {
			progress.cap = protocolCap
		}
		out = append(out, m.observe(progress, p.State, p.StateWhy))
	}
	own, ownText := p.Supply()
	if own != "" {
		out = append(out, m.observe(supplyTopic(own), signs.Exactly(own), ownText))
	}
	if own != "" || p.Starves() { // whatever it tries ends by that
		pattern = nil
	}
	end, endText := p.Ending()
	if p.Cold { // a short that came later: what was before it tells nothing of it
		out = nil
	}
	if p.Cold || own != "" || p.EndsByMessages() || p.BreaksAtResistor() || p.OverFed() { // that is how it ends
		end = nil
	}
	if p.EndsByMessages() {
		pattern = nil
	}
	back := p.Back != "" // then VBUS without a charger is the machine's own
	if end != nil {      // what breaks down with the contract is told by how it ends
		pattern = p.TriesWithin(pattern)
	}
	if end != nil && !back {
		how := endingTopic(p.Facts.MeterAt)
		if end[signs.EndCCOpen]+end[signs.EndCCGone] > 0 {
			how.cap = physicsCap
		}
		out = append(out, m.observe(how, end, endText))
	}
	if s, text := p.Rhythm(); s != nil {
		out = append(out, m.observe(rhythmTopic(), s, text))
	}
	if pattern != nil {
		if o, ok := m.drawObservation(p, pattern, patternText); ok {
			out = append(out, o)
		}
	}
	loss, lossText := p.Losses()
	if p.EndsByMessages() {
		loss = ""
	}
	if from, s := p.Worked(pattern); s >= signs.HoldsS && loss == "" { // what is lost now and then holds in between
		out = append(out, m.observe(holdTopic(), signs.Exactly(signs.Holds), fmt.Sprintf("from %.2f s the draw holds for %.0f s", from, s)))
	}
	out = append(out, m.voltage(p, pattern)...)
	out = append(out, m.line(p)...)
	if s, text := p.Goes(); s != nil {
		out = append(out, m.observe(goesTopic(), s, text))
	}
	if s, text := p.Starts(); s != nil {
		out = append(out, m.observe(startTopic(), s, text))
	}
	if how, first := p.CCEndsLoss(); loss != "" && how != "" {
		out = append(out, m.observe(endingTopic(p.Facts.MeterAt), signs.Exactly(how), lossText+"; "+first))
	} else if loss != "" {
		out = append(out, m.observe(lossTopic(), signs.Exactly(loss), lossText))
	}
	for _, sign := range []struct {
		topic topic
		see   func() (signs.Seen, string)
	}{
		{lifeTopic(), func() (signs.Seen, string) { return p.Life(pattern) }},
		{stillTopic(), func() (signs.Seen, string) { return p.StandsStill(pattern) }},
		{stirTopic(), func() (signs.Seen, string) { return p.Stirs(pattern) }},
		{closesTopic(), func() (signs.Seen, string) { return p.Closes(pattern) }},
		{goneTopic(), p.Gone},
		{liftTopic(p.Facts.MeterAt), p.Lifted},
		{alertTopic(), p.Alerted},
		{offerTopic(p.TurnsOften()), p.Offered},
		{asksTopic(), p.Asks},
		{backTo5Topic(), p.GoesBack},
		{wantsTopic(), func() (signs.Seen, string) { return p.WantsMore(pattern) }},
	} {
		if s, text := sign.see(); s != nil {
			out = append(out, m.observe(sign.topic, s, text))
		}
	}
	if f, ok := signs.GraveFinding(p); ok && p.State[signs.DeafSource] == 0 && !back { // resets that nobody hears are what a plain source is told by
		out = append(out, m.observe(faultTopic(), signs.Exactly("fault"), f.Text))
	}
	return out
}

// drawObservation weighs a pattern by the level it stands on. Where the level
// is not known the tables are mixed by how likely each class gets there.
func (m model) drawObservation(p signs.Picture, pattern signs.Seen, text string) (observation, bool) {
	high := m.observe(highDrawTopic(probe.Word(p.Readings, "battery") == "disconnected", p.Facts.MeterAt), pattern, text)
	low := m.observe(lowDrawTopic(), pattern, text)
	if pattern[signs.DrawBounces]+pattern[signs.DrawBouncesFed] > 0 {
		high.cap = physicsCap
	}
	switch {
	case p.Contract:
		return high, sum(high.like) > 0
	case p.State[signs.NoVBUS] > 0:
		off := signs.OffQuiet
		if p.Is("retry-pulses", rules.Note) {
			off = signs.OffTicks
		}
		return m.observe(offDrawTopic(), signs.Exactly(off), text), true
	case p.State != nil:
		return low, sum(low.like) > 0
	}
	progress := powerUpTopic("", false)
	table := progress.likelihoods(m)
	for i := range high.like {
		reached := table[progress.index(signs.ContractHigh)][i] + table[progress.index(signs.ContractLost)][i]
		high.like[i] = reached*high.like[i] + (1-reached)*low.like[i]
	}
	return high, true
}

// voltage is what VBUS itself and the law of the load say.
func (m model) voltage(p signs.Picture, pattern signs.Seen) []observation {
	var out []observation
	d := p.Meter()
	if d == nil {
		return nil
	}
	series := seriesTopic(p.Facts.MeterAt)
	thin := p.ThinLead(d)
	shorted, shortText := p.IntoShort(d)
	switch {
	case thin != "":
		out = append(out, m.observe(series, signs.Exactly(signs.SeriesExtreme), thin))
	case signs.Rejoins(d) != "":
		out = append(out, m.observe(series, signs.Exactly(signs.SeriesRejoins), signs.Rejoins(d)))
	case shorted != "": // what is held down shows the source's limit
	case signs.BrokenOff(pattern) && !p.Starves() && (p.BreaksDown() || !p.Is("series-resistance-high", rules.Note)), p.Lapsed != "", p.EndsByMessages(): // VBUS that gives way, or moves by contract, has no slope of its own
	case p.BreaksDown() && !signs.StandsLoaded(d): // nor has it one where nothing stood under a load
	case p.Is("contact-unsteady", rules.Note):
		out = append(out, m.observe(series, signs.Exactly(signs.SeriesUnsteady), p.Text("contact-unsteady")))
	case p.Is("series-resistance-high", rules.Note):
		high := signs.HowHigh(d.Measured.SeriesResistanceOhm)
		if signs.Works(pattern) && !p.Is("series-resistance-high", rules.Fault) {
			high[signs.SeriesFar], high[signs.SeriesCarries] = 0, high[signs.SeriesFar]
		}
		if p.BreaksDown() && !p.Starves() {
			high[signs.SeriesSound] = signs.LimitedShare
		}
		out = append(out, m.observe(series, high, p.Text("series-resistance-high")))
	case d.Measured.SeriesResistanceOhm != nil && !p.BreaksDown() && !p.Garbled(): // what comes and goes, or garbles, need not have a resistance as well
		s, text := signs.Resistance(*d.Measured.SeriesResistanceOhm)
		out = append(out, m.observe(series, s, text))
	}
	if o, ok := m.window(p, d); ok && p.Back == "" {
		out = append(out, o)
	}
	if shorted != "" && (p.Cold || !p.EndsByMessages()) {
		out = append(out, m.observe(heldTopic(p.Facts.MeterAt), signs.Exactly(shorted), shortText))
	}
	law, known := m.load(p)
	told := known
	if ohmic, text := p.Ohmic(d); ohmic != nil && (!known || ohmic[signs.OhmicTwice]+ohmic[signs.OhmicLate] == 0) {
		out, known, told = append(out, m.observe(ohmicTopic(), ohmic, text)), false, true // one draw tells its law once
	}
	if known && !p.BreaksBeyond() {
		out = append(out, law)
	}
	if amps, ok := p.BeforeContract(d); ok && !told { // the law is told by the same draw
		out = append(out, m.observe(earlyTopic(), signs.Exactly(signs.Early(amps)), fmt.Sprintf("at 5 V, before the contract, %.0f mA flow", 1000*amps)))
	}
	if p.Back != "" {
		out = append(out, m.observe(backTopic(), signs.Exactly(signs.FeedsBack), p.Back))
	}
	if f, known := p.Found["inrush-excess"]; known && !p.BreaksDown() {
		out = append(out, m.observe(inrushTopic(), signs.Exactly(signs.InrushExcess), f.Text))
	}
	return out
}

// setUp is what the recording was made with: a part that was not in it cannot
// have shown the fault.
func (m model) setUp(p signs.Picture) []observation {
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
	if probe.Word(p.Readings, "recorded-charger") == "known-good" {
		without(source, "the recording was made with a charger known to be good")
	}
	if probe.Word(p.Readings, "recorded-cable") == "known-good" {
		without(cable, "the recording was made with a cable known to be good")
	}
	if probe.Word(p.Readings, "battery") == "disconnected" {
		without(battery, "the battery was disconnected")
	}
	return out
}

func (m model) load(p signs.Picture) (observation, bool) {
	q := p.Meter().Measured.LoadExponent
	if q == nil || math.IsNaN(q.Value) {
		return observation{}, false
	}
	u := 0.0
	if q.Uncertainty != nil {
		u = *q.Uncertainty
	}
	kind, text := signs.LoadMixed, fmt.Sprintf("the draw goes with the voltage to the power %.1f", q.Value)
	switch {
	case q.Value-2*u > signs.ResistiveFrom && !p.Is("resistive-load", rules.Note):
		return observation{}, false // the machine changed what it does with the voltage
	case q.Value-2*u > signs.ResistiveFrom:
		kind, text = signs.LoadResistive, text+", as a resistor's does"
	case q.Value+2*u < signs.ConverterTo:
		kind, text = signs.LoadConverter, text+", as a converter's does"
	}
	law := loadTopic()
	if kind == signs.LoadResistive {
		law.cap = weakCap
		if p.MuchLeaks() {
			law.cap = trialCap
		}
	}
	return m.observe(law, signs.Exactly(kind), text), true
}

// estranged takes from the recorded facts what a recording that cannot be takes from
// them, and puts in their place that it speaks for something unknown. What is read at
// the bench keeps its weight.
func (m model) estranged(facts []observation, weight float64, text string) []observation {
	if weight <= 0 {
		return facts
	}
	kept := []observation{}
	for _, o := range facts {
		if weight < 1 {
			o.like = capped(o.like, o.cap)
			o.shows = faded(o.shows, 1-weight)
			for i, x := range o.like {
				o.like[i] = math.Pow(x, 1-weight)
			}
			kept = append(kept, o)
		}
	}
	o := observation{text: text, node: "strange", cap: recordingCap, like: make([]float64, len(m.classes))}
	for i, c := range m.classes {
		o.like[i] = math.Pow(recordingCap, -weight)
		if c.part == unknownPart {
			o.like[i] = 1
		}
	}
	return append(kept, o)
}

func faded(shows []portion, to float64) []portion {
	out := slices.Clone(shows)
	for i := range out {
		out[i].of *= to
	}
	return out
}
