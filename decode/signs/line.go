package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// HeavyShare of damaged messages is far above any sound line's, and heavyCount of
// them are no accident: common practice.
const (
	HeavyShare = 0.1
	heavyCount = 4
)

// DamagedSide tells whose messages suffer; equal counts tell nothing of it.
func DamagedSide(source, sink int) Seen {
	switch {
	case source > sink:
		return Exactly(LineSource)
	case sink > source:
		return Exactly(LineSink)
	}
	return Seen{LineSource: 1, LineSink: 1}
}

// Garbled reports talk of which so much is damaged that no sound line loses it.
func (p Picture) Garbled() bool {
	n := p.Facts.Negotiation
	if n == nil || !p.Is("crc-errors", rules.Warning) {
		return false
	}
	damaged := n.CRCErrors.Source + n.CRCErrors.Sink
	return damaged >= heavyCount && float64(damaged) > HeavyShare*float64(n.Messages)
}

// damaged reports messages that did not get through.
func (p Picture) damaged() bool {
	_, known := p.Found["crc-errors"]
	return known
}

// SilentCC reports pins that carry nothing for as long as VBUS does not come: no source pulls
// them up. A device that has none makes no difference to that.
func (p Picture) SilentCC() bool {
	d := p.Meter()
	if d == nil || !p.Is("no-vbus", rules.Fault) || d.Sampling.MaxA >= IntoShortA {
		return false
	}
	off := d.CC.Off
	return off.N >= ridesRows && off.Low >= off.N-off.N/ridesRows
}

// A pull-up that stood, and the short that holds it: common practice.
const (
	shortsOpenS = 0.15
	shortsLowS  = 2.0
)

// Shorts tells a CC pin whose pull-up was there until something was plugged in that holds it at
// 0 V: Rd would leave a fifth of a volt.
func (p Picture) Shorts() string {
	d := p.Meter()
	if d == nil || !p.Is("no-vbus", rules.Fault) || d.Sampling.MaxA >= IntoShortA || d.CC.Falls.OpenS < shortsOpenS || d.CC.Falls.LowS < shortsLowS {
		return ""
	}
	return fmt.Sprintf("a CC pin stands at its pull-up for %.2g s, falls to 0 V at %.2f s and stays there, and VBUS never comes", d.CC.Falls.OpenS, d.CC.Falls.TimeS)
}

// A port that toggles attaches within its debounce of the first pull-up that it sees. Common
// practice.
const (
	seeksFrom  = 20
	seeksUntil = 1.0 // s before the end
)

// Seeks tells a dual-role port that looks for a source until the end, though one is there.
func (p Picture) Seeks() string {
	d := p.Meter()
	if d == nil || d.Sampling.MaxV >= draw.FiveFrom || d.CC.Toggles.Count < seeksFrom || d.Sampling.EndS-d.CC.Toggles.LastS > seeksUntil {
		return ""
	}
	c := d.CC.Toggles
	return fmt.Sprintf("from %.2f s on a CC pin shows Rd %d times for no longer than a port that looks for a source, and is open in between, though a pull-up is there", c.FirstS, c.Count)
}

// A pin that VBUS pulls up: common practice.
const (
	ridesRows = 20
	ridesV    = 0.4 // from VBUS off to 5 V: more than a drop along GND or a source that changes its mind within one level

	climbsV      = 0.02 // with each volt of VBUS: 0.3 V from 5 to 20 V, of which a sound line knows nothing
	climbsSigmas = 6.0
)

// Rides tells a CC pin that comes up with VBUS: the two are bridged, or one leaks into the
// other. A source that sees no Rd there lets go by rule.
func (p Picture) Rides() string {
	d := p.Meter()
	if d == nil {
		return ""
	}
	highest := pd.VCC3A0.Limits(pd.Revision32).MaxSI()
	for i, r := range d.CC.Rides {
		if r.Off >= ridesRows && r.On >= ridesRows && r.OnV-r.OffV >= ridesV && r.OnV > highest {
			return fmt.Sprintf("CC%d comes up with VBUS, from %.2f V while VBUS is off to %.2f V at 5 V, above all that Rd leaves", i+1, r.OffV, r.OnV)
		}
		if slope, u, ok := d.CC.Climbs[i].Slope(); ok && slope-climbsSigmas*u >= climbsV {
			return fmt.Sprintf("CC%d goes up by %.0f mV with each volt of VBUS, so VBUS leaks into it, and the source no longer sees Rd", i+1, 1000*slope)
		}
	}
	return ""
}

// How the connected CC pin parts the ends of contracts: what is loose opens it most times.
const (
	ccEndsLeast = 2
	ccEndsShare = 0.6
)

// CCEnds is what the connected CC pin did before VBUS went, empty where it stayed or nobody
// saw it.
func (p Picture) CCEnds() (outcome, text string) {
	d := p.Meter()
	if d == nil {
		return "", ""
	}
	e := d.CC.Ends
	least := max(ccEndsLeast, int(math.Ceil(ccEndsShare*float64(e.Open+e.Gone+e.Stays))))
	switch {
	case e.Open >= least:
		return EndCCOpen, fmt.Sprintf("CC rises to its pull-up %d times before VBUS goes: Rd was gone first", e.Open)
	case e.Gone >= least:
		return EndCCGone, fmt.Sprintf("CC falls to 0 V %d times before VBUS goes: its pull-up was gone first", e.Gone)
	}
	return "", ""
}

// pulledMost is how often a plug may have been pulled: common practice.
const pulledMost = 3

// CCEndsLoss is the same for contracts that came again. Who pulls a plug opens CC as well.
func (p Picture) CCEndsLoss() (outcome, text string) {
	outcome, text = p.CCEnds()
	if outcome == EndCCOpen && p.Meter().CC.Ends.Open <= pulledMost {
		return "", ""
	}
	return outcome, text
}

// Damage of one side's frames alone. Common practice.
const (
	sideMost  = 0.6  // of what it says is damaged
	sideLeast = 0.05 // and of the other's no more
)

// OneSided tells the side whose frames alone are damaged, empty where both or few are.
func OneSided(n *negotiation.Result) string {
	if n == nil || n.CRCErrors.Source+n.CRCErrors.Sink < heavyCount {
		return ""
	}
	source := damagedShare(n.CRCErrors.Source, n.FromSource)
	sink := damagedShare(n.CRCErrors.Sink, n.FromSink)
	switch {
	case source >= sideMost && sink <= sideLeast && n.FromSink >= heavyCount:
		return LineSourceOnly
	case sink >= sideMost && source <= sideLeast && n.FromSource >= heavyCount:
		return LineSinkOnly
	}
	return ""
}

func damagedShare(damaged, whole int) float64 {
	return float64(damaged) / float64(max(damaged+whole, 1))
}
