package rules

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/pd"
)

const (
	leastTryA           = 0.05  // a charger circuit limits to more: common practice
	leastPulseA         = 0.005 // 10 ms of 0.5 A are 10 mA in the mean of half a second: data sheet SLUSDU3
	noDrawA             = 0.02  // a 12-bit current monitor may be off by 10 mA: data sheet SBOS844C
	hiccupA             = 0.012 // the mean of 10 ms of 0.5 A each 0.51 s: data sheet SLUSDU3; a board in standby may take more
	workingA            = 0.10  // above standby at any voltage: 60 mA at 19 V is suspicious, common practice
	minSettledS         = 3.0   // the longest retry family is under 3 s
	shortestOverS       = 0.1   // an overshoot after a step settles sooner: common practice
	typeCA              = 3.0   // the most a source may advertise without a contract: USB Type-C R2.0 table 4-17
	overContractPercent = 5.0   // beyond reading accuracy and overshoot a sound input limits below its contract
	leastStepA          = 0.03  // input current limits move by 50 mA or more: data sheets SLUSE65A, SLUSDU3; firmware by 64 mA
	fewPulses           = 4     // capacitors that fill and rails that start make as many at a sound start: common practice
	benignResets        = 3     // open embedded-controller firmware settles after three matching overcurrents
	minPulses           = 3     // fewer have no period: common practice
	resistiveExponent   = 0.4   // -1 constant power, 0 constant current, +1 resistor; above 0.4 a leak is suspected
	resistorExponent    = 1.15  // a resistor has 1; the meter's 1 % at 15 V and at 20 V make 0.1 of it
	leakShare           = 0.7   // a leak keeps its resistance within this while the recording lasts
	shortestStateS      = 0.2   // a shorter stretch may be a transition: tSrcTransReq is 0.325 s
	inrushIntervalS     = 0.02  // a log this fast parts the charge from the draw that follows
	inrushAfterS        = 10.0  // a machine has begun to draw by then: common practice
	plateauShare        = 0.9   // a plateau of the same draw, noise and rounding allowed for
	drawShare           = 0.5   // of the peak that the mean over a sample leaves: half of it by chance
	spikeA              = 0.01  // what a retry of 0.5 A for 10 ms (data sheet SLUSDU3) leaves of a mean over half a second
	spikesNamed         = 10    // single findings for the largest; a busy machine has hundreds
)

// findNoDrawAtContract looks for a lasting high voltage without draw.
func findNoDrawAtContract(f *Facts, r Rule) []Finding {
	if f.Draw == nil || f.Draw.Sampling.WithCurrent == 0 {
		return nil
	}
	var out []Finding
	for _, l := range f.Draw.Levels {
		if l.NominalV < highV || l.EndS-l.StartS < minSilentS || math.Abs(l.MeanA) > noDrawA || worksAfter(f.Draw, l.EndS) || flows(f.Draw, l) {
			continue
		}
		text := fmt.Sprintf("%s stand for %s and %s is drawn, which a meter ", volts(l.VoltageV), seconds(l.EndS-l.StartS), amps(l.MeanA))
		if math.Abs(l.MeanA) > hiccupA {
			text += "can hardly tell from nothing"
		} else {
			text += "cannot tell from nothing"
		}
		out = append(out, r.finding(Warning, l.StartS, l.EndS, text, values{"voltage_v": l.VoltageV, "current_a": l.MeanA}))
		if len(out) == 10 {
			break
		}
	}
	return out
}

// flows reports current of either sign that stands within a level: a swap of the
// power roles may leave a mean of nothing.
func flows(d *draw.Result, l draw.Level) bool {
	return slices.ContainsFunc(d.Plateaus, func(p draw.Plateau) bool {
		return p.CurrentA != nil && math.Abs(*p.CurrentA) >= workingA && min(p.EndS, l.EndS)-max(p.StartS, l.StartS) >= minSilentS
	})
}

// findCurrentSpikes names the largest spikes that belong to no train of
// pulses and no staircase.
func findCurrentSpikes(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	var alone []draw.Spike
	for _, s := range f.Draw.Spikes {
		if s.PeakA-s.BaselineA >= spikeA && !within(f.Draw, s.TimeS) {
			alone = append(alone, s)
		}
	}
	if len(alone) > spikesNamed {
		largest := alone[0]
		for _, s := range alone {
			if s.PeakA-s.BaselineA > largest.PeakA-largest.BaselineA {
				largest = s
			}
		}
		text := fmt.Sprintf("%d spikes of the current; the largest at %s, %s above %s", len(alone), seconds(largest.TimeS), amps(largest.PeakA), amps(largest.BaselineA))
		return []Finding{r.finding(Note, alone[0].TimeS, alone[len(alone)-1].TimeS, text, values{
			"count": len(alone), "peak_a": largest.PeakA, "duration_s": largest.DurationS,
		})}
	}
	var out []Finding
	for _, s := range alone {
		text := fmt.Sprintf("the current leaps from %s to %s at %s for %s", amps(s.BaselineA), amps(s.PeakA), seconds(s.TimeS), seconds(s.DurationS))
		out = append(out, r.finding(Note, s.TimeS, s.TimeS+s.DurationS, text, values{"peak_a": s.PeakA, "duration_s": s.DurationS}))
	}
	return out
}

func within(d *draw.Result, t float64) bool {
	for _, p := range d.Pulses {
		if t >= p.StartS && t <= p.EndS {
			return true
		}
	}
	for _, s := range d.Staircases {
		if t >= s.StartS && t <= s.EndS {
			return true
		}
	}
	return false
}

// findStaircases tells the search that settles from the climb that collapses.
func findStaircases(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	var out []Finding
	for _, s := range f.Draw.Staircases {
		severity, how := climb(f.Draw, s)
		text := fmt.Sprintf("from %s on the draw climbs in %d steps of %s; %s", seconds(s.StartS), s.Steps, amps(s.StepA), how)
		out = append(out, r.finding(severity, s.StartS, s.EndS, text, values{
			"step_a": s.StepA, "dwell_s": s.DwellS, "resets": s.Resets, "top_a": s.TopA,
		}))
	}
	return out
}

// climb judges one staircase. A single climb that ends in a fall is what a boot
// may do; it is suspicious where nothing works after it.
func climb(d *draw.Result, s draw.Staircase) (severity Severity, how string) {
	severity = Note
	switch {
	case s.Resets > benignResets:
		severity, how = Fault, fmt.Sprintf("it collapses and begins again %s", times(s.Resets))
	case s.SettledA != nil:
		how = "it settles at " + amps(*s.SettledA)
	case s.Collapsed:
		how = "it collapses at " + amps(s.TopA)
		if s.Resets > 0 || !worksAfter(d, s.EndS) {
			severity = Warning
		}
	case s.Resets > 0:
		severity, how = Warning, fmt.Sprintf("it collapses and begins again %s, and has not settled when the recording ends", times(s.Resets))
	default:
		how = "the recording shows no end of it"
	}
	if s.StepA < leastStepA {
		severity = Note // a ramp, cut into steps by the sampling
	}
	return severity, how
}

func findRetryPulses(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	var out []Finding
	for _, p := range f.Draw.Pulses {
		if p.Count < minPulses || p.PeakA < leastPulse(f.Draw.Sampling.IntervalS) {
			continue // what reaches nothing, or flows out of the device, is no try
		}
		severity := Fault
		if _, settled := settledFrom(f.Draw); settled || worksAfter(f.Draw, p.EndS) {
			severity = Warning
			if p.Count <= fewPulses {
				severity = Note
			}
		}
		wakes := severity == Fault && mayWake(f.Draw, p)
		if wakes {
			severity = Warning
		}
		text := fmt.Sprintf("%d pulses of up to %s from %s to %s", p.Count, amps(p.PeakA), seconds(p.StartS), seconds(p.EndS))
		v := values{
			"period_s": p.PeriodS, "uncertainty_period_s": p.PeriodU, "on_s": p.OnS, "uncertainty_on_s": nil,
			"peak_a": p.PeakA, "count": p.Count,
		}
		finding := r.finding(severity, p.StartS, p.EndS, text, v)
		switch {
		case p.PeriodS != nil:
			finding.Text += fmt.Sprintf(", one each %s", seconds(*p.PeriodS))
			finding.Text += retryWords(p)
		case p.SeenS != nil:
			finding.Text += fmt.Sprintf(", one seen each %s; at this rate every second one may be missed", seconds(*p.SeenS))
		default:
			finding.Text += "; the sampling cannot hold their period"
		}
		if p.Quiet {
			finding.Text += "; then nothing"
		}
		if wakes {
			finding.Text += "; so little may be a machine that sleeps and wakes"
		}
		out = append(out, finding)
	}
	return out
}

// leastPulse is the least peak that is a try: half of what the shortest published one leaves
// in the mean of a row, and where rows are fine as little as the smallest part takes.
func leastPulse(intervalS float64) float64 {
	return min(leastTryA, max(leastPulseA, leastPulseA*0.5/intervalS))
}

// A machine that sleeps wakes for tenths of a second and more, seconds apart,
// and takes a few watts. Common practice.
const (
	wakeW      = 8.0
	wakeS      = 0.15
	wakeEveryS = 1.5

	wakeMoreW = 15.0 // or as much, where it does so
	wakeLongS = 0.3  // for so long,
	wakeRareS = 4.0  // and so seldom

	wakeBriefS = 0.05  // or so briefly, where it rests at a sleep's draw
	wakeRestA  = 0.045 // a board that is off takes 9 to 30 mA at 19 V, one that sleeps 50 and more
	wakeSlowS  = 2.5   // and no part tries again so seldom: the slowest published do each 2 s
)

// mayWake reports pulses that a sound machine's sleep explains: under a
// standing contract, small, and slow.
func mayWake(d *draw.Result, p draw.Pulses) bool {
	least := wakeS
	if p.RestA >= wakeRestA && p.PeriodS != nil && *p.PeriodS >= wakeSlowS {
		least = wakeBriefS
	}
	if p.WithVBUS || p.OnS != nil && *p.OnS < least || p.PeriodS != nil && *p.PeriodS < wakeEveryS {
		return false
	}
	volts := max(levelAt(d, p.StartS), levelAt(d, p.EndS)) // a train may begin before the contract
	if p.PeriodS == nil && d.Sampling.IntervalS < wakeS {  // a fast meter would have held a steady period
		return (p.EndS-p.StartS)/float64(p.Count) >= wakeEveryS && p.PeakA*volts <= wakeW
	}
	most := wakeW
	if p.PeriodS != nil && *p.PeriodS >= wakeRareS && p.OnS != nil && *p.OnS >= wakeLongS {
		most = wakeMoreW
	}
	return volts >= LowestContractV && p.PeakA*volts <= most
}

// levelAt is the voltage of the level at a time, 0 where there is none.
func levelAt(d *draw.Result, t float64) float64 {
	for _, l := range d.Levels {
		if t >= l.StartS && t <= l.EndS {
			return l.VoltageV
		}
	}
	return 0
}

// worksAfter reports a steady working draw after the given time.
func worksAfter(d *draw.Result, t float64) bool {
	for _, p := range d.Plateaus {
		if p.StartS >= t-1e-9 && p.CurrentA != nil && *p.CurrentA >= workingA && p.EndS-p.StartS >= minSettledS {
			return true
		}
	}
	return false
}

// findOverContractCurrent compares lasting draw with what the contracts of its
// time allow, or, where the clocks are not aligned, with the most that any does.
func findOverContractCurrent(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	from, most := math.NaN(), 0.0 // of the plateaus above the bar, one after the other: a ramp is cut into single rows
	for _, p := range f.Draw.Plateaus {
		if p.CurrentA == nil {
			continue
		}
		allowed, bar, known := contractAmps(f, p)
		if !known || *p.CurrentA <= bar*(1+f.AccuracyA/100)+f.Draw.Sampling.ResolutionA {
			from, most = math.NaN(), 0
			continue
		}
		if math.IsNaN(from) {
			from = p.StartS
		}
		most = max(most, *p.CurrentA)
		if p.EndS-from < shortestOverS {
			continue
		}
		which := "no contract of that time"
		switch {
		case f.Negotiation == nil:
			which = "no contract at all"
		case !f.Aligned:
			which = "no contract of the recording"
		}
		text := fmt.Sprintf("%s flow from %s on; %s allows more than %s", amps(most), seconds(from), which, amps(allowed))
		return []Finding{r.finding(Fault, from, p.EndS, text, values{"current_a": most, "contract_a": allowed})}
	}
	return nil
}

func findResistiveLoad(f *Facts, r Rule) []Finding {
	if f.Draw == nil || f.Draw.Measured.LoadExponent == nil || f.Draw.Measured.LeakResistanceOhm == nil {
		return nil
	}
	n, leak := f.Draw.Measured.LoadExponent, f.Draw.Measured.LeakResistanceOhm
	if n.Uncertainty == nil || n.Value-2**n.Uncertainty <= resistiveExponent {
		return nil
	}
	if n.Value-2**n.Uncertainty > resistorExponent || drawsLess(f.Draw, leak.Value) {
		return nil // the machine changed what it does with the voltage
	}
	at := f.Draw.Sampling.StartS
	if n.AtS != nil {
		at = *n.AtS
	}
	text := fmt.Sprintf("the draw goes with the voltage to the power %.1f, as a leak of about %.0f ohm does", n.Value, leak.Value)
	return []Finding{r.finding(Warning, at, at, text, values{
		"resistance_ohm": leak.Value, "uncertainty_ohm": leak.Uncertainty, "exponent": n.Value, "uncertainty_exponent": n.Uncertainty,
	})}
}

// drawsLess reports a stretch in which less flows than the leak alone would
// take: a resistor draws at every voltage, so it is none. Means over part of a
// stretch keep that proportion.
func drawsLess(d *draw.Result, ohm float64) bool {
	less := func(v, a float64) bool { return v > offV() && a < leakShare*v/ohm-noDrawA }
	for _, l := range d.Levels {
		if less(l.VoltageV, l.MeanA) {
			return true
		}
	}
	since := math.NaN() // of the plateaus one after the other
	for _, p := range d.Plateaus {
		switch {
		case p.VoltageV == nil || p.CurrentA == nil || !less(*p.VoltageV, *p.CurrentA):
			since = math.NaN()
			continue
		case math.IsNaN(since):
			since = p.StartS
		}
		if p.EndS-since+d.Sampling.IntervalS >= shortestStateS {
			return true
		}
	}
	return false
}

// findInrushExcess compares the charge of a rise with what the standard's
// capacitance would take over the same step of voltage.
func findInrushExcess(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	var out []Finding
	for _, rise := range f.Draw.Rises {
		step := rise.ToV - rise.FromV
		if step < 1 || onlyDraw(f.Draw, rise) {
			continue
		}
		allowed := limit(pd.CSnkBulkPd)
		if rise.FromV <= offV() {
			allowed = limit(pd.CSnkBulk)
		}
		uf := rise.ChargeC / step * 1e6
		if (rise.ChargeC-2*rise.ChargeU)/step*1e6 <= allowed.Max.Value {
			continue
		}
		text := fmt.Sprintf("%.1f mC flow in at %s, as into %.0f uF; the standard allows %.0f uF", rise.ChargeC*1000, seconds(rise.TimeS), uf, allowed.Max.Value)
		out = append(out, r.finding(Warning, rise.TimeS, rise.TimeS, text, values{
			"charge_c": rise.ChargeC, "uncertainty_c": rise.ChargeU, "capacitance_uf": uf, "uncertainty_uf": rise.ChargeU / step * 1e6,
		}))
		if len(out) == 10 {
			break
		}
	}
	return out
}

// onlyDraw reports a charge that a slow log cannot tell from the draw: what
// flows soon after reaches as high without VBUS rising.
func onlyDraw(d *draw.Result, rise draw.Rise) bool {
	if d.Sampling.IntervalS <= inrushIntervalS {
		return false
	}
	from, to := rise.TimeS+d.Sampling.IntervalS, rise.TimeS+inrushAfterS
	for _, p := range d.Plateaus {
		if p.EndS > from && p.StartS < to && p.CurrentA != nil && *p.CurrentA >= plateauShare*rise.PeakA {
			return true
		}
	}
	for _, s := range d.Spikes {
		if s.TimeS > from && s.TimeS < to && s.PeakA >= drawShare*rise.PeakA {
			return true
		}
	}
	return false
}

// findRampNormal looks for a working draw that comes and stays, with nothing
// after it that breaks down.
func findRampNormal(f *Facts, r Rule) []Finding {
	d := f.Draw
	if d == nil || len(d.Plateaus) == 0 {
		return nil
	}
	from, ok := settledFrom(d)
	if !ok {
		return nil
	}
	last := d.Plateaus[len(d.Plateaus)-1]
	text := fmt.Sprintf("from %s on the draw stays up, and nothing breaks down after it", seconds(from))
	return []Finding{r.finding(Note, from, last.EndS, text, values{"seconds_s": last.EndS - from})}
}

// settledFrom is when a working draw began that holds to the end.
func settledFrom(d *draw.Result) (float64, bool) {
	broken := d.Sampling.StartS
	for _, p := range d.Pulses {
		broken = max(broken, p.EndS)
	}
	for _, c := range d.Collapses {
		broken = max(broken, c.TimeS)
	}
	for _, s := range d.Staircases {
		if s.SettledA == nil {
			broken = max(broken, s.EndS)
		}
	}
	for i := len(d.Plateaus) - 1; i >= 0; i-- {
		p := d.Plateaus[i]
		if p.CurrentA == nil || *p.CurrentA < workingA {
			broken = max(broken, p.EndS)
			break
		}
	}
	for _, p := range d.Plateaus {
		if p.StartS >= broken-1e-9 {
			end := d.Plateaus[len(d.Plateaus)-1].EndS
			return p.StartS, end-p.StartS >= minSettledS
		}
	}
	return 0, false
}

func findChargeTaper(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	var out []Finding
	for _, t := range f.Draw.Tapers {
		text := fmt.Sprintf("the draw falls from %s to %s between %s and %s as at the end of a charge", amps(t.FromA), amps(t.ToA), seconds(t.StartS), seconds(t.EndS))
		out = append(out, r.finding(Note, t.StartS, t.EndS, text, values{"tau_s": t.TauS, "uncertainty_s": t.TauU}))
	}
	return out
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
