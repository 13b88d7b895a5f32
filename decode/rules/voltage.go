package rules

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/pd"
)

const (
	// vindpmDropV is where a charger begins to give way below the voltage it
	// saw without load: data sheet SLUSE65A, input voltage regulation.
	vindpmDropV = 1.28

	ratedA         = 3.0  // of a cable that says nothing of itself: USB PD R3.2 V1.1 section 4.4
	loadedA        = 0.1  // below this a fall of VBUS is a removal or a reset, not a collapse under load: common practice
	contactJumpOhm = 0.10 // twice what a worn contact adds: USB Type-C R2.0 section 3.7.8.1
	contactSigmas  = 6.0  // of the noise: the largest of the rows of a long log reach 4 or 5. Common practice
	contactLeastS  = 0.04 // a contact opens for longer; on a fast log less is a row that noise has set apart. Common practice
	contactJumps   = 3    // fewer may be the source changing its mind: common practice
	collapseS      = 0.1  // VBUS is on its way for as long: tSafe5V is 0.275 s at most, and half of that moves it far
	// regulationShare is what a fixed supply may drift at a standing load: 0.3 %,
	// common practice. A step of PPS is 20 mV, and a charge takes many.
	regulationShare = 0.003

	windowS = 1.0  // a level shorter than this may be a transition: twice tPSTransition
	windowN = 4    // fewer rows of a slow meter may be means over a transition
	idleA   = 0.02 // less flows from capacitors that nobody discharges: common practice
)

// cableDropV is the most that a sound cable loses at its rated current, both
// wires and both mated ends included.
func cableDropV() float64 {
	return limit(pd.VCableDropVBUS).MaxSI() + limit(pd.VCableDropGND).MaxSI()
}

// dropAt is the most that sound leads lose at a current: twice a cable at its limit, and
// never more than at its rated current. Where no current is known it is that.
func dropAt(amps float64) float64 {
	if math.IsNaN(amps) {
		return cableDropV()
	}
	return min(cableDropV(), 2*CableOhm()*max(amps, 0)+unloadedV)
}

// unloadedV is what a meter's offset and its own shunt may take: common practice.
const unloadedV = 0.05

// CableOhm is what a sound cable may take, in ohms: that drop at the 3 A which every cable
// carries (USB Type-C R2.0 section 4.4.1).
func CableOhm() float64 { return cableDropV() / ratedA }

// findVBUSCollapse reports VBUS giving way while current flowed. A fall with
// no load before it is a reset or a removal, and other rules name it.
func findVBUSCollapse(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	loaded := givesWay(f)
	if len(loaded) == 0 {
		return nil
	}
	first, last := loaded[0], loaded[len(loaded)-1]
	severity := Warning
	early := last.BackS != nil && last.FromV > limit(pd.VSafe5V).Max.Value && standsSince(first.TimeS, last.TimeS, f.Draw.Sampling.EndS) && worksAfter(f.Draw, last.TimeS)
	if (len(loaded) > 1 || last.BackS == nil) && !early && !findsItsLimit(f.Draw, loaded) {
		severity = Fault
	}
	text := fmt.Sprintf("VBUS falls from %s to %s at %s while %s flows", volts(first.FromV), volts(first.ToV), seconds(first.TimeS), amps(first.AtA))
	if len(loaded) > 1 {
		text = fmt.Sprintf("VBUS gives way %d times; first from %s to %s at %s while %s flows",
			len(loaded), volts(first.FromV), volts(first.ToV), seconds(first.TimeS), amps(first.AtA))
	}
	v := values{"count": len(loaded), "from_v": first.FromV, "to_v": first.ToV, "current_a": first.AtA}
	if i := slices.IndexFunc(loaded, func(c draw.Collapse) bool { return c.HeldA > 0 }); i >= 0 {
		c := loaded[i]
		v["held_v"], v["held_a"] = c.HeldV, c.HeldA
		text += fmt.Sprintf("; %s flow on at %s, into a short", amps(c.HeldA), volts(c.HeldV))
	}
	return []Finding{r.finding(severity, first.TimeS, last.TimeS, text, v)}
}

// searchFalls is how often a search may overload a plain source, each time with
// VBUS back within a second or so, before it settles: open laptop embedded-controller
// firmware.
const (
	plainMV     = pd.Millivolts(5000)
	searchFalls = 3
	searchBackS = 1.5
)

// findsItsLimit reports a plain 5 V source that gave way a few times and then carries a
// working draw, or whose recording ends before that can be told.
func findsItsLimit(d *draw.Result, loaded []draw.Collapse) bool {
	if len(loaded) > searchFalls {
		return false
	}
	plain, _ := pd.FixedWindow(plainMV)
	for _, c := range loaded {
		if c.FromV > plain.Max || c.BackS == nil || *c.BackS > searchBackS+2*d.Sampling.IntervalS { // each end is seen a row late
			return false
		}
	}
	last := loaded[len(loaded)-1].TimeS
	return worksAfter(d, last) || d.Sampling.EndS-last < climbS
}

// climbS is what a search takes from its start to where the source gives way: 8 to 20 s at
// 64 mA each 0.5 s. Open laptop embedded-controller firmware.
const climbS = 20.0

// findVBUSOutOfRange holds each lasting level against the window of its
// nominal voltage. The meter may sit at the device, so a low reading is
// outside only beyond the cable's drop as well.
func findVBUSOutOfRange(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	if hums(f.Draw) {
		h := f.Draw.Hum
		text := fmt.Sprintf("VBUS swings by +-%.2g V at %.0f Hz, twice the frequency of the mains, while %s flows", h.AmpV, h.Hz, amps(h.AtA))
		return []Finding{r.finding(Warning, h.StartS, h.EndS, text, values{"hum_hz": h.Hz, "amplitude_v": h.AmpV, "current_a": h.AtA})}
	}
	if adjustable(f) {
		return nil
	}
	var out []Finding
	for _, l := range f.Draw.Levels {
		if l.EndS-l.StartS < windowS || l.N < windowN {
			continue
		}
		if finding, outside := outsideWindow(f, r, l); outside {
			out = append(out, finding)
			if len(out) == 10 {
				break // the first ten say it; a level that flickers is one complaint
			}
		}
	}
	if f.Negotiation == nil && len(out) == 0 {
		out = slid(f.Draw, r)
	}
	return out
}

// cameUp reports a level that VBUS rose to in the recording, and never stood above before.
func cameUp(d *draw.Result, l draw.Level) bool {
	first := d.Levels[0]
	return first.StartS < l.StartS && first.NominalV == 0 && !slices.ContainsFunc(d.Levels, func(x draw.Level) bool {
		return x.StartS < l.StartS && x.VoltageV > l.VoltageV
	})
}

// A second of hum, and what its windows may miss at either end: common practice.
const (
	humWindows = 5
	humMarginS = 0.5
)

// hums reports VBUS that swings with the mains.
func hums(d *draw.Result) bool { return d.Hum != nil && d.Hum.Windows >= humWindows }

// swung reports a fall that is a trough of the hum.
func swung(d *draw.Result, c draw.Collapse) bool {
	return hums(d) && c.TimeS >= d.Hum.StartS-humMarginS && c.TimeS <= d.Hum.EndS+humMarginS && c.ToV > c.FromV/3
}

// slid reports VBUS that slides away from a contract, for a meter alone: which contract
// stands where it ends nobody says.
func slid(d *draw.Result, r Rule) []Finding {
	if len(d.Slides) == 0 || len(d.Slides) > mostReplugs { // a programmable contract goes down and up again and again
		return nil
	}
	s := d.Slides[0]
	text := fmt.Sprintf("VBUS slides from %s to %s in %.1f s while %s flows: no fixed supply changes so slowly, so it gives way, or a programmable one is asked for less",
		volts(s.FromV), volts(s.ToV), s.EndS-s.StartS, amps(s.AtA))
	return []Finding{r.finding(Warning, s.StartS, s.EndS, text, values{"from_v": s.FromV, "to_v": s.ToV, "slide_s": s.EndS - s.StartS, "current_a": s.AtA})}
}

// adjustable reports a recording whose contract sets the voltage in steps, so
// that no nominal voltage can be told from the meter.
func adjustable(f *Facts) bool {
	if f.Negotiation == nil {
		return f.Draw != nil && len(f.Draw.Steers) > 0
	}
	for _, c := range f.Negotiation.Contracts {
		if c.Kind != "fixed" {
			return true
		}
	}
	return false
}

func outsideWindow(f *Facts, r Rule, l draw.Level) (Finding, bool) {
	accuracy := f.AccuracyV / 100 * l.VoltageV
	nominal, known := agreedFor(f, l)
	if !known {
		nominal, known = nominalOf(f, l)
	}
	left := l.MeanA < idleA && !cameUp(f.Draw, l) // in capacitors, perhaps
	if known && left && l.VoltageV < LowestContractV-accuracy {
		known = false // the source is gone, whether somebody said so or not
	}
	if !known {
		// A steady odd voltage may be a programmable contract; between off
		// and the lowest contract it is neither.
		if l.VoltageV <= offV()+accuracy || l.VoltageV >= LowestContractV-accuracy {
			return Finding{}, false
		}
		text := fmt.Sprintf("VBUS stands at %s for %s: neither off nor any contract", volts(l.VoltageV), seconds(l.EndS-l.StartS))
		v := values{"voltage_v": l.VoltageV}
		if !math.IsNaN(l.MeanA) {
			v["current_a"] = l.MeanA
		}
		if l.MeanA < idleA {
			text += "; nothing flows"
			if left {
				text += ", so it may be what is left in capacitors"
			}
			return r.finding(Warning, l.StartS, l.EndS, text, v), true
		}
		return r.finding(Fault, l.StartS, l.EndS, text, v), true
	}
	if nominal == 0 {
		return Finding{}, false
	}
	static, _ := pd.FixedWindow(pd.Millivolts(math.Round(nominal * 1000)))
	high := static.Max + accuracy
	low := static.Min - dropAt(l.MeanA) - accuracy
	v := values{"voltage_v": l.VoltageV, "nominal_v": nominal}
	if !math.IsNaN(l.MeanA) {
		v["current_a"] = l.MeanA
	}
	below := fmt.Sprintf("VBUS stands at %s, below the %s that %.0f V allows less a sound cable's drop", volts(l.VoltageV), volts(static.Min), nominal)
	switch {
	case l.VoltageV > high && f.Negotiation == nil && programmed(f.Draw, l):
		text := fmt.Sprintf("VBUS moves about %s while the current stands, as a programmable contract (PPS, AVS) is asked to; no fixed one allows it", volts(l.VoltageV))
		return r.finding(Note, l.StartS, l.EndS, text, v), true
	case l.VoltageV > high:
		text := fmt.Sprintf("VBUS stands at %s, above the %s that %.0f V allows", volts(l.VoltageV), volts(static.Max), nominal)
		return r.finding(Fault, l.StartS, l.EndS, text, v), true
	case l.VoltageV < low-vindpmDropV:
		return r.finding(Fault, l.StartS, l.EndS, below, v), true
	case l.VoltageV < low:
		return r.finding(Warning, l.StartS, l.EndS, below, v), true
	}
	return Finding{}, false
}

// aboveFixed reports a voltage that no fixed supply reaches: a contact only takes
// away.
func aboveFixed(p draw.Plateau) bool {
	v := *p.VoltageV
	for _, nominal := range []pd.Millivolts{5000, 9000, 12000, 15000, 20000, 28000, 36000, 48000} {
		if w, _ := pd.FixedWindow(nominal); v <= w.Max && v >= w.Min-cableDropV()-vindpmDropV {
			return false
		}
	}
	return true
}

// programmed reports VBUS that moves within a level while the current stands,
// by more than the noise and the cable explain: a fixed supply does not.
func programmed(d *draw.Result, l draw.Level) bool {
	for i := 1; i < len(d.Plateaus); i++ {
		a, b := d.Plateaus[i-1], d.Plateaus[i]
		if jump, ok := jumpOhm(a, b, d.Sampling); ok && jump > contactJumpOhm && a.StartS >= l.StartS && b.EndS <= l.EndS {
			return true
		}
	}
	return slices.ContainsFunc(d.Plateaus, func(p draw.Plateau) bool {
		if p.VoltageV == nil || min(p.EndS, l.EndS)-max(p.StartS, l.StartS) < windowS {
			return false
		}
		still := d.Sampling.NoiseV + CableOhm()*p.AmpsSD + regulationShare**p.VoltageV
		return p.VoltsSD > still
	})
}

// nominalOf is the voltage that a level ought to have: that of a fixed object,
// or, where the level fits none, the nearest contract of the messages.
func nominalOf(f *Facts, l draw.Level) (volts float64, known bool) {
	if fixedNominal(l.NominalV) {
		return l.NominalV, true
	}
	if f.Negotiation == nil {
		return 0, false
	}
	highest, nearest := 0.0, 0.0
	for _, c := range f.Negotiation.Contracts {
		if c.VoltageMV == nil {
			continue
		}
		nominal := float64(*c.VoltageMV) / 1000
		if math.Abs(nominal-l.VoltageV) < nearContract*nominal {
			return nominal, true
		}
		highest = max(highest, nominal)
		if math.Abs(nominal-l.VoltageV) < math.Abs(nearest-l.VoltageV) {
			nearest = nominal
		}
	}
	// nothing that was agreed allows what stands a little above all of it, or beyond every offer
	beyond := len(f.Negotiation.Offers) > 0 && !offered(f.Negotiation, l.VoltageV) && !f.Negotiation.BeginsInside
	if beyond && l.VoltageV > draw.FiveTo && nearest > l.VoltageV {
		return nearest, true
	}
	return highest, highest > 0 && l.VoltageV > highest && (l.VoltageV < farAbove*highest || beyond)
}

// farAbove is where a level stands on a contract that was not recorded, rather than
// too high on one that was: fixed voltages lie at least 25 % apart.
const farAbove = 1.25

// nearContract is how far a level may stand from a contract and still be
// taken for it: fixed voltages lie at least 25 % apart.
const nearContract = 0.12

// LowestContractV is the lowest voltage that any object may name, in volts: that of PPS in
// R3.0.
const LowestContractV = float64(pd.PPSMinVoltage30) / 1000

// fixedNominal reports the voltages of fixed objects.
func fixedNominal(v float64) bool {
	switch v {
	case 0, 5, 9, 12, 15, 20, 28, 36, 48:
		return true
	}
	return false
}

// findSeriesResistance holds the slope of voltage on current against a sound
// cable. The slope contains the source's own regulation, so the limit alone
// is a warning; it is a fault where the drop makes a charger give way.
func findSeriesResistance(f *Facts, r Rule) []Finding {
	if f.Draw == nil || f.Draw.Measured.SeriesResistanceOhm == nil {
		return nil
	}
	q := f.Draw.Measured.SeriesResistanceOhm
	margin := 0.0
	if q.Uncertainty != nil {
		margin = 2 * *q.Uncertainty
	}
	if q.Value-margin <= CableOhm() {
		return nil
	}
	severity := Warning
	drop := q.Value * f.Draw.Sampling.MaxA
	if drop-margin*f.Draw.Sampling.MaxA > vindpmDropV {
		severity = Fault
	}
	at := f.Draw.Sampling.StartS
	if q.AtS != nil {
		at = *q.AtS
	}
	text := fmt.Sprintf("VBUS sags by %.0f mohm times the current; a sound 3 A cable takes at most %.0f mohm", q.Value*1000, CableOhm()*1000)
	return []Finding{r.finding(severity, at, at, text, values{
		"resistance_ohm": q.Value, "uncertainty_ohm": q.Uncertainty, "drop_v": drop,
	})}
}

// findContactUnsteady counts jumps of VBUS between neighbouring plateaus of
// the same current and the same level.
func findContactUnsteady(f *Facts, r Rule) []Finding {
	if f.Draw == nil || adjustable(f) || f.Draw.Oscillation != nil { // a programmable contract moves the voltage itself, a draw that swings moves it along
		return nil
	}
	var times []float64
	most := 0.0
	for i := 1; i < len(f.Draw.Plateaus); i++ {
		a, b := f.Draw.Plateaus[i-1], f.Draw.Plateaus[i]
		if jump, ok := jumpOhm(a, b, f.Draw.Sampling); ok && jump > contactJumpOhm && !collapsed(f.Draw, a.StartS, b.EndS) && !aboveFixed(a) && !aboveFixed(b) {
			times = append(times, b.StartS)
			most = max(most, jump)
		}
	}
	if len(f.Draw.Dips) > len(times) {
		times, most = dips(f.Draw)
	}
	if len(times) < contactJumps {
		return nil
	}
	text := fmt.Sprintf("VBUS jumps %d times at an unchanged current, by up to %.0f mohm", len(times), most*1000)
	return []Finding{r.finding(Warning, times[0], times[len(times)-1], text, values{"count": len(times), "jump_ohm": most})}
}

// dips are the times at which VBUS dips under a draw that goes on, with the largest jump
// of resistance that explains one.
func dips(d *draw.Result) (times []float64, most float64) {
	for _, dip := range d.Dips {
		if !collapsed(d, dip.StartS, dip.EndS) {
			times = append(times, dip.StartS)
			most = max(most, (dip.FromV-dip.ToV)/dip.AtA)
		}
	}
	return times, most
}

// collapsed reports VBUS falling away within a stretch: then the plateaus there
// are parts of that fall.
func collapsed(d *draw.Result, fromS, toS float64) bool {
	return slices.ContainsFunc(d.Collapses, func(c draw.Collapse) bool { return c.TimeS >= fromS-collapseS && c.TimeS <= toS+collapseS })
}

// jumpOhm is the change of series resistance between two plateaus of like
// current, ok only where both carry enough current to tell, and the noise of their
// rows explains it no longer.
func jumpOhm(a, b draw.Plateau, s draw.Sampling) (ohm float64, ok bool) {
	if a.VoltageV == nil || b.VoltageV == nil || a.CurrentA == nil || b.CurrentA == nil {
		return 0, false
	}
	mean := (*a.CurrentA + *b.CurrentA) / 2
	if mean < 0.5 || math.Abs(*a.CurrentA-*b.CurrentA) > 0.05*mean {
		return 0, false
	}
	dv := math.Abs(*a.VoltageV - *b.VoltageV)
	if s.IntervalS < contactLeastS && float64(min(a.N, b.N))*s.IntervalS < contactLeastS {
		return 0, false
	}
	sd := max(s.NoiseV, a.VoltsSD, b.VoltsSD)
	if dv < contactSigmas*sd*math.Sqrt(1/float64(max(a.N, 1))+1/float64(max(b.N, 1))) {
		return 0, false
	}
	if dv > cableDropV()+vindpmDropV { // a change of contract, not of contact
		return 0, false
	}
	return dv / mean, true
}
