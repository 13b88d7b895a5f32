package text

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// detail prints everything below the first screen.
func (p *sheet) detail(d *decode.Diagnosis, letters []string) {
	p.findings(d, letters)
	p.negotiation(d.Negotiation)
	p.line(d)
	p.draw(d.Draw)
	p.suspects(d)
	p.locate(d)
	p.measured(&d.Measured, &d.Draw.Load, d.Draw.Peak)
	p.notSeen(d.NotSeen)
	p.inputs(d)
	p.cautions(d)
}

func (p *sheet) findings(d *decode.Diagnosis, letters []string) {
	p.heading("All findings")
	if len(d.Findings) == 0 {
		p.para(2, "No rule found anything.")
		return
	}
	p.sections[len(p.sections)-1].Lettered = true
	g := newGrid("", "severity", "when", "side", "rule and what was seen")
	g.narrow[3] = 11 // one or two sides a line
	for i, f := range d.Findings {
		g.add(letters[i], severity(f.Severity), span(f.StartS, f.EndS), places(f.PointsTo), f.Rule+": "+findingText(d, f))
	}
	p.table(g)
	p.leftOut(d.LeftOut)
}

// leftOut tells of entries that the diagnosis itself had to drop.
func (p *sheet) leftOut(n int) {
	if n > 0 {
		p.para(2, fmt.Sprintf("%s beyond the 10,000 largest left out.", count(n, "entry", "entries")))
	}
}

func (p *sheet) negotiation(n *negotiation.Result) {
	if n == nil || n.Messages == 0 && len(n.Phases)+len(n.Offers)+len(n.Contracts) == 0 && n.AttachS == nil && n.HardResets+n.SoftResets == 0 {
		return
	}
	p.heading("What the two ends agreed on")
	attach := "Attach not recorded"
	if n.AttachS != nil {
		attach = "Attach at " + secs(n.AttachS)
	}
	p.para(2, fmt.Sprintf("%s; %s, %s.", attach, count(n.HardResets, "Hard Reset", "Hard Resets"), count(n.SoftResets, "Soft_Reset", "Soft_Resets")))
	phases := newGrid("phase", "when", "in time")
	for _, f := range n.Phases {
		phases.add(f.Phase, span(f.StartS, f.EndS), inTime(f))
	}
	p.list("", phases)
	offers := newGrid("offer", "kind", "voltage", "current", "power").figures(0, 2, 3, 4)
	for _, o := range n.Offers {
		offers.add(fmt.Sprint(o.Position), o.Kind, offerVolts(o), orDash(o.CurrentMA, "A"), orDash(o.PowerMW, "W"))
	}
	p.list("The source's last offer", offers)
	contracts := newGrid("contract", "kind", "offer", "voltage", "current", "ended").figures(2, 3, 4)
	for _, c := range n.Contracts {
		contracts.add(span(c.StartS, c.EndS), c.Kind, fmt.Sprint(c.Position), orDash(c.VoltageMV, "V"), orDash(c.CurrentMA, "A"), ended(c))
	}
	p.list("Contracts", contracts)
	p.leftOut(n.LeftOut)
}

// list prints a titled table, or nothing where it is empty.
func (p *sheet) list(title string, g *Grid) {
	if len(g.Rows) == 0 {
		return
	}
	if title != "" {
		p.blank()
		p.para(2, title+":")
	}
	p.table(g)
}

func inTime(f negotiation.Phase) string {
	word := "yes"
	if f.Late {
		word = "LATE"
	}
	if f.Limit != "" && f.LimitS != nil {
		word += fmt.Sprintf(" (%s %s)", f.Limit, figure(f.LimitS, "s"))
	}
	return word
}

func offerVolts(o negotiation.Offer) string {
	if o.MinVoltageMV != nil && o.VoltageMV != nil {
		return milli(o.MinVoltageMV, "V") + " to " + milli(o.VoltageMV, "V")
	}
	return orDash(o.VoltageMV, "V")
}

func orDash(v *int, unit string) string {
	if v == nil {
		return "-"
	}
	return milli(v, unit)
}

func ended(c negotiation.Contract) string {
	word := c.EndedBy
	if word == "" {
		word = "stands"
	}
	if c.Mismatch {
		word += ", capability mismatch"
	}
	if c.Implied {
		word += ", began before the recording"
	}
	return word
}

func (p *sheet) draw(r *draw.Result) {
	if r == nil || r.Sampling.N == 0 && len(r.Plateaus)+len(r.Spikes)+len(r.Staircases)+len(r.Pulses)+len(r.Tapers)+len(r.Profile) == 0 {
		return
	}
	p.heading("The draw")
	if r.EnergyWh != nil {
		p.para(2, "Energy taken: "+figure(r.EnergyWh, "Wh")+".")
	}
	p.plateaus(r.Plateaus)
	spikes := newGrid("spike at", "peak", "from", "lasts").figures(1, 2, 3)
	for _, x := range r.Spikes {
		spikes.add(secs(&x.TimeS), figure(&x.PeakA, "A"), figure(&x.BaselineA, "A"), figure(&x.DurationS, "s"))
	}
	p.list("Spikes", spikes)
	stairs := newGrid("staircase", "steps", "step", "collapses", "every").figures(1, 2, 3, 4)
	for _, x := range r.Staircases {
		stairs.add(span(&x.StartS, &x.EndS), fmt.Sprint(x.Steps), figure(&x.StepA, "A"), fmt.Sprint(x.Resets), figure(x.PeriodS, "s"))
	}
	p.list("Staircases", stairs)
	pulses := newGrid("pulses", "count", "every", "on for", "peak").figures(1, 2, 3, 4)
	for _, x := range r.Pulses {
		pulses.add(span(&x.StartS, &x.EndS), fmt.Sprint(x.Count), figure(x.PeriodS, "s"), figure(x.OnS, "s"), figure(&x.PeakA, "A"))
	}
	p.list("Pulses", pulses)
	tapers := newGrid("taper", "time constant").figures(1)
	for _, x := range r.Tapers {
		tapers.add(span(&x.StartS, &x.EndS), figure(x.TauS, "s"))
	}
	p.list("Tapers", tapers)
	profile := newGrid("phase of the charge", "when")
	for _, x := range r.Profile {
		profile.add(x.Phase, span(&x.StartS, &x.EndS))
	}
	p.list("Charge", profile)
	p.leftOut(r.LeftOut)
}

// plateaus lists the longest stretches of steady draw in the order of time;
// a shaky recording has hundreds of one sample.
func (p *sheet) plateaus(all []draw.Plateau) {
	longest := slices.Clone(all)
	slices.SortStableFunc(longest, func(a, b draw.Plateau) int { return cmp.Compare(b.EndS-b.StartS, a.EndS-a.StartS) })
	shorter := max(len(longest)-maxRows, 0)
	longest = longest[:len(longest)-shorter]
	slices.SortStableFunc(longest, func(a, b draw.Plateau) int { return cmp.Compare(a.StartS, b.StartS) })
	g := newGrid("steady draw", "voltage", "current").figures(1, 2)
	for _, x := range longest {
		g.add(span(&x.StartS, &x.EndS), figure(x.VoltageV, "V"), figure(x.CurrentA, "A"))
	}
	p.list("", g)
	if shorter > 0 {
		p.para(2, count(shorter, "shorter one", "shorter ones")+": --json lists them.")
	}
}

func (p *sheet) suspects(d *decode.Diagnosis) {
	if len(d.Suspects) == 0 {
		return
	}
	p.heading("Parts to suspect")
	g := newGrid("share", "part", "where", "why, and what would confirm it").figures(0)
	unlikely := 0
	for _, s := range d.Suspects {
		if s.Probability < leastShare {
			unlikely++
			continue
		}
		where := "-"
		if s.Location != nil {
			where = side(*s.Location)
		}
		text := strings.TrimSpace(stop(s.Why) + " " + confirm(s.Confirm))
		g.add(percent(s.Probability), s.Part, where, text)
	}
	p.table(g)
	if unlikely > 0 {
		p.para(2, count(unlikely, "part", "parts")+" below 1 %: --json lists them.")
	}
}

// leastShare of the probability is worth a row of its own.
const leastShare = 0.01

func confirm(s string) string {
	if s == "" {
		return ""
	}
	return "Confirm: " + stop(s)
}

func (p *sheet) locate(d *decode.Diagnosis) {
	if len(d.Locate) == 0 {
		return
	}
	p.heading("Finding the part, step by step")
	for i, s := range d.Locate {
		label := fmt.Sprintf("  %2d. ", i+1)
		p.item(label, "", fmt.Sprintf("%s (%s)", strings.TrimSuffix(s.Step, "."), minutes(s.Minutes)))
		if s.Expect != "" {
			p.item("      expect: ", "", stop(s.Expect))
		}
		if len(s.Limits) > 0 {
			p.item("      limits: ", "", limits(s.Limits))
		}
		if s.Caution != nil {
			p.item("      caution: ", yellow, stop(*s.Caution))
		}
		if s.Reading != nil {
			p.para(6, fmt.Sprintf("feed back: --reading %s=%s", *s.Reading, form(*s.Reading)))
		}
	}
}

// limits prints bounds by name; keys end in their unit.
func limits(m map[string]float64) string {
	var words []string
	for _, key := range slices.Sorted(maps.Keys(m)) {
		name, unit := splitUnit(key)
		words = append(words, name+" "+strings.TrimSpace(short(m[key])+" "+unit))
	}
	return strings.Join(words, ", ")
}

// keyUnits are the endings of JSON keys and how they are written.
var keyUnits = [...][2]string{
	{"_ohm", "ohm"}, {"_percent", "%"}, {"_mv", "mV"}, {"_ma", "mA"}, {"_mw", "mW"}, {"_ms", "ms"}, {"_us", "us"},
	{"_hz", "Hz"}, {"_uf", "uF"}, {"_wh", "Wh"}, {"_s", "s"}, {"_v", "V"}, {"_a", "A"}, {"_w", "W"}, {"_c", "C"},
	{"_celsius", "deg C"}, {"_mm", "mm"},
}

// splitUnit parts a JSON key into words and its unit.
func splitUnit(key string) (name, unit string) {
	for _, u := range keyUnits {
		if head, ok := strings.CutSuffix(key, u[0]); ok {
			return strings.ReplaceAll(head, "_", " "), u[1]
		}
	}
	return strings.ReplaceAll(key, "_", " "), ""
}

func (p *sheet) measured(m *draw.Measured, load *draw.Load, peak *draw.Peak) {
	g := newGrid("measured", "value", "standard uncertainty", "at").figures(1, 2, 3)
	row := func(name, unit string, q *draw.Quantity) {
		if q == nil {
			g.add(name, "not to be had", "-", "-")
			return
		}
		at := "-"
		if q.AtS != nil {
			at = secs(q.AtS)
		}
		g.add(name, figure(&q.Value, unit), figure(q.Uncertainty, unit), at)
	}
	row("series resistance", "ohm", m.SeriesResistanceOhm)
	row("load exponent", "", m.LoadExponent)
	row("leak resistance", "ohm", m.LeakResistanceOhm)
	row("retry period", "s", m.RetryPeriodS)
	row("taper time constant", "s", m.TaperTauS)
	row("inrush charge", "C", m.InrushChargeC)
	p.heading("Measured from the recording")
	p.table(g)
	p.load(load)
	p.peak(peak)
}

// peak says within what the largest current of an inrush lies: no row need show it.
func (p *sheet) peak(k *draw.Peak) {
	if k == nil {
		return
	}
	s := fmt.Sprintf("The inrush at %s s peaked at %s or more", secs(&k.TimeS), figure(&k.LeastA, "A"))
	if k.MostA != nil {
		s += fmt.Sprintf(", and at %s at most, as long as VBUS rises no faster than a source may", figure(k.MostA, "A"))
	}
	p.para(2, s+rows(k.Samples)+".")
}

func rows(samples *string) string {
	if samples == nil {
		return ""
	}
	return "; the rows are " + *samples
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// load says what the draw goes with, and what that means for the source.
func (p *sheet) load(l *draw.Load) {
	if l.ExponentLow == nil || l.Law == draw.LawUnknown {
		p.para(2, "What the draw goes with cannot be told"+because(l.Why)+".")
		return
	}
	s := map[string]string{
		draw.LawResistive: "a resistor", draw.LawConstantCurrent: "a constant current",
		draw.LawConstantPower: "a converter at constant power", draw.LawMixed: "several kinds at once",
	}[l.Law]
	s = fmt.Sprintf("The load behaves as %s: %s (exponent %.2f to %.2f).", s, l.Why, *l.ExponentLow, *l.ExponentHigh)
	if l.IncrementalOhm != nil {
		s += fmt.Sprintf(" To the source it is %.3g ohm.", *l.IncrementalOhm)
	}
	if l.CollapseW != nil && l.Law == draw.LawConstantPower {
		s += fmt.Sprintf(" Over this source and cable a converter collapses beyond %.3g W.", *l.CollapseW)
	}
	p.para(2, s)
}

func (p *sheet) notSeen(list []string) {
	if len(list) == 0 {
		return
	}
	p.heading("What this recording cannot show")
	for _, s := range list {
		p.item("  - ", "", stop(s))
	}
}

func (p *sheet) inputs(d *decode.Diagnosis) {
	if len(d.Inputs) == 0 {
		return
	}
	p.heading("What was read")
	for _, in := range d.Inputs {
		p.item("  ", "", fmt.Sprintf("%s: %s, %s, %s skipped, %s", in.Path, in.Kind, count(in.Records, "record", "records"), count(in.Skipped, "row", "rows"), span(in.StartS, in.EndS)))
		for _, n := range in.Notes {
			p.item("    note: ", "", stop(n))
		}
		for _, x := range in.Problems {
			p.item("    "+problemPlace(x)+": ", "", stop(x.Text))
		}
		if more := in.Skipped - len(in.Problems); more > 0 && len(in.Problems) > 0 {
			p.para(4, fmt.Sprintf("%s more skipped.", count(more, "row", "rows")))
		}
	}
	if len(d.Clocks) > 1 {
		g := newGrid("clock of", "offset", "uncertainty", "how").figures(1, 2)
		for _, c := range d.Clocks {
			g.add(c.Path, secs(c.OffsetS), secs(c.UncertaintyS), c.Method+running(c))
		}
		p.table(g)
	}
}

func problemPlace(x decode.Problem) string {
	switch {
	case x.Line != nil:
		return fmt.Sprintf("line %d", *x.Line)
	case x.TimeS != nil:
		return "at " + secs(x.TimeS)
	default:
		return "whole file"
	}
}

// cautions are common practice of the trade. Those about heat and injected
// power are printed where the verdict may lead there.
func (p *sheet) cautions(d *decode.Diagnosis) {
	p.heading("Before you touch it")
	p.item("  - ", "", "Battery out before a probe or a tool touches the board. A swollen, hot or hissing pack: stop, do not charge it, do not press or pierce it.")
	p.item("  - ", "", "Mains: a charger is tested from outside only and never opened; what is stored inside can kill.")
	if len(d.Locate) > 0 || slices.Contains(d.Verdict.Open, rules.BehindPort) {
		p.item("  - ", "", "Injected power: only after a cold resistance reading, with a current limit, never above the rail's own voltage, eyes covered.")
		p.item("  - ", "", "Hot air: extract the fumes, shield battery and connectors, no heat near cells.")
	}
	p.item("  - ", "", "Local codes and licensed practice come before anything printed here.")
}

// running says how much faster the clocks of the rest run than an input's.
func running(c decode.InputClock) string {
	if c.RatePPM == nil || c.RateUncertaintyPPM == nil {
		return ""
	}
	return fmt.Sprintf("; they run %+.0f +- %.0f ppm apart", *c.RatePPM, *c.RateUncertaintyPPM)
}
