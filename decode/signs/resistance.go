package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// soundShare is how sure a resistance must be that of a sound cable to be called so: common
// practice.
const soundShare = 0.9

// farOhm is more than a sound cable at its limit (0.25 ohm), a source's own slope
// (5 % of 5 V at 3 A) and two worn contacts add up to: common practice.
const farOhm = 0.4

// extremeOhm is a third more than what starves a charger circuit at 3 A (1.28 V:
// data sheet SLUSE65A): common practice.
const extremeOhm = 0.6

// LimitedShare is how often a source in its limit of current, as it breaks down, looks
// like a resistance behind a sound lead: common practice.
const LimitedShare = 0.02

// Resistance is a series resistance that is not above the limit for certain: its
// uncertainty may reach over it.
func Resistance(q draw.Quantity) (Seen, string) {
	text := fmt.Sprintf("VBUS sags by %.0f mohm times the current", q.Value*1000)
	if q.Uncertainty == nil || *q.Uncertainty <= 0 {
		return Exactly(SeriesSound), text + ", as behind a sound cable"
	}
	cable := rules.CableOhm()
	sound, high, far := below(cable, q.Value, *q.Uncertainty), below(farOhm, q.Value, *q.Uncertainty), below(extremeOhm, q.Value, *q.Uncertainty)
	s := Seen{SeriesSound: sound, SeriesHigh: high - sound, SeriesFar: far - high, SeriesExtreme: 1 - far}
	if sound < soundShare {
		return s, text + fmt.Sprintf(", +-%.0f: a sound cable's is under %.0f", 2000**q.Uncertainty, 1000*cable)
	}
	return s, text + ", as behind a sound cable"
}

// below is how sure a value with its standard uncertainty lies below a limit.
func below(limit, value, uncertainty float64) float64 {
	return 0.5 * math.Erfc((value-limit)/uncertainty/math.Sqrt2)
}

// notSharp is how far the limits beyond a sound cable's may themselves lie elsewhere: they
// are sums of what parts differ in. Common practice.
const notSharp = 0.1

// HowHigh says by how much a resistance that is too high is so.
func HowHigh(q *draw.Quantity) Seen {
	if q == nil || q.Uncertainty == nil {
		return Exactly(SeriesHigh)
	}
	under := func(ohm float64) float64 { return below(ohm, q.Value, math.Hypot(*q.Uncertainty, notSharp*ohm)) }
	far, extreme := under(farOhm), under(extremeOhm)
	return Seen{SeriesHigh: far, SeriesFar: max(0, extreme-far), SeriesExtreme: 1 - extreme}
}

// loadedRows is how many rows a load must stand for to show what VBUS does under it: the first and
// the last are means of more than that. Common practice.
const loadedRows = 3

// StandsLoaded reports a draw that VBUS stood under.
func StandsLoaded(d *draw.Result) bool {
	return slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return volts(q) >= draw.FiveFrom && amps(q) >= standbyA && q.N >= loadedRows
	})
}

// extreme reports a resistance that is so for certain.
func extreme(q *draw.Quantity) bool {
	return q != nil && q.Uncertainty != nil && q.Value-2**q.Uncertainty > extremeOhm
}

// Bands of the exponent: common practice. Its uncertainty must leave it
// inside for the outer two.
const (
	ResistiveFrom = 0.4
	ConverterTo   = -0.6
)

// MuchLeaks reports a resistor that takes more than any part that only waits, and less than
// what burns: what a machine switches on as its voltage rises looks like one as well.
func (p Picture) MuchLeaks() bool {
	ohms, known := p.Found["resistive-load"].Values["resistance_ohm"].(float64)
	volts := p.Meter().Sampling.MaxV
	return known && volts > standbyA*ohms && volts*volts/ohms < leakW
}

// leakW is what no leak at the receptacle takes for long: it would show by its smoke.
// Common practice.
const leakW = 15.0

// beyondLaw is how many times its own draw a resistor must be exceeded at the break to
// have no part in it: common practice.
const beyondLaw = 4

// BreaksBeyond reports contracts that break down at a draw beside which the resistor that
// was found is nothing.
func (p Picture) BreaksBeyond() bool {
	f, known := p.Found["resistive-load"]
	ohms, measured := f.Values["resistance_ohm"].(float64)
	if !known || !measured || !p.BreaksDown() {
		return false
	}
	return slices.ContainsFunc(p.Meter().Collapses, func(c draw.Collapse) bool { return c.AtA > beyondLaw*c.FromV/ohms })
}

// breaksByLaw is how close to its own draw at the break a resistor has to lie: common practice.
const breaksByLaw = 0.25

// BreaksAtResistor reports contracts that break down at the draw of the resistor that was
// found, each time: what ends them is that.
func (p Picture) BreaksAtResistor() bool {
	f, known := p.Found["resistive-load"]
	ohms, measured := f.Values["resistance_ohm"].(float64)
	d := p.Meter()
	if !known || !measured || d == nil {
		return false
	}
	breaks := d.Collapses
	return len(breaks) >= glimpses && !slices.ContainsFunc(breaks, func(c draw.Collapse) bool {
		return c.FromV < contractV || math.Abs(c.AtA*ohms/c.FromV-1) > breaksByLaw
	})
}

// Starves reports tries under a resistance that takes what a charger circuit needs, while
// VBUS itself never goes: the lead ends them, and they tell nothing of what is behind it.
func (p Picture) Starves() bool {
	d := p.Meter()
	if p.ThinLead(d) != "" {
		return true
	}
	if d == nil || !p.Is("retry-pulses", rules.Warning) || !p.Is("series-resistance-high", rules.Warning) || !extreme(d.Measured.SeriesResistanceOhm) {
		return false
	}
	drop, _ := p.Found["series-resistance-high"].Values["drop_v"].(float64)
	if p.BreaksDown() && !StandsLoaded(d) {
		return false
	}
	return drop >= starvesV && !slices.ContainsFunc(d.Pulses, func(q draw.Pulses) bool { return q.WithVBUS })
}

// starvesV is what tries must make VBUS sag: most of what a charger circuit regulates to
// (1.28 V, data sheet SLUSE65A); rows that are means show less than it was.
const starvesV = 0.7
