package location

import (
	"fmt"
	"math"

	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// heavyShare of damaged messages is far above any sound line's, and heavyCount of
// them are no accident: common practice.
const (
	heavyShare = 0.1
	heavyCount = 4
)

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

// garbled reports talk of which so much is damaged that no sound line loses it.
func (p picture) garbled() bool {
	n := p.Facts.Negotiation
	if n == nil || !p.is("crc-errors", rules.Warning) {
		return false
	}
	damaged := n.CRCErrors.Source + n.CRCErrors.Sink
	return damaged >= heavyCount && float64(damaged) > heavyShare*float64(n.Messages)
}

// line is what damaged messages and the level of CC say.
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
	if text := p.rides(); text != "" {
		t := ccTopic()
		t.cap = coldCap
		return append(out, m.observe(t, exactly(ccRides), text))
	}
	for _, level := range []struct{ rule, outcome string }{
		{"cc-stuck-high", ccHigh}, {"cc-stuck-low", ccLow}, {"rd-missing", ccNoRd}, {"rd-on-both", ccBothRd}, {"rp-wrong", ccBadRp},
	} {
		if !p.is(level.rule, rules.Warning) {
			continue
		}
		t := ccTopic()
		if _, held := p.found[level.rule].Values["voltage_v"]; held && level.outcome == ccLow {
			t.cap, level.outcome = physicsCap, ccHeld
		}
		if _, joined := p.found[level.rule].Values["voltage_v"]; joined && level.outcome == ccBothRd {
			t.cap, level.outcome = physicsCap, ccJoined
		}
		return append(out, m.observe(t, exactly(level.outcome), p.text(level.rule)))
	}
	if p.silentCC() {
		out = append(out, m.observe(ccTopic(), exactly(ccDead), p.text("no-vbus")+", and nothing on either CC pin"))
	}
	if d := p.meter(); d != nil && p.is("no-vbus", rules.Fault) && d.CC.Waits.Seconds >= rules.CCWaitsS && d.Sampling.MaxA < intoShortA {
		out = append(out, m.observe(ccWaitTopic(p.Facts.MeterAt, d.Sampling.IntervalS), exactly(ccWaits), p.text("no-vbus")))
	}
	return out
}

// silentCC reports pins that carry nothing for as long as VBUS does not come: no source pulls
// them up. A device that has none makes no difference to that.
func (p picture) silentCC() bool {
	d := p.meter()
	if d == nil || !p.is("no-vbus", rules.Fault) || d.Sampling.MaxA >= intoShortA {
		return false
	}
	off := d.CC.Off
	return off.N >= ridesRows && off.Low >= off.N-off.N/ridesRows
}

// A pin that VBUS pulls up: common practice.
const (
	ridesRows = 20
	ridesV    = 0.4 // from VBUS off to 5 V: more than a drop along GND or a source that changes its mind within one level

	climbsV      = 0.02 // with each volt of VBUS: 0.3 V from 5 to 20 V, of which a sound line knows nothing
	climbsSigmas = 6.0
)

// rides tells a CC pin that comes up with VBUS: the two are bridged, or one leaks into the
// other. A source that sees no Rd there lets go by rule.
func (p picture) rides() string {
	d := p.meter()
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

// ccEnds is what the connected CC pin did before VBUS went, empty where it stayed or nobody
// saw it.
func (p picture) ccEnds() (outcome, text string) {
	d := p.meter()
	if d == nil {
		return "", ""
	}
	e := d.CC.Ends
	least := max(ccEndsLeast, int(math.Ceil(ccEndsShare*float64(e.Open+e.Gone+e.Stays))))
	switch {
	case e.Open >= least:
		return endCCOpen, fmt.Sprintf("CC rises to its pull-up %d times before VBUS goes: Rd was gone first", e.Open)
	case e.Gone >= least:
		return endCCGone, fmt.Sprintf("CC falls to 0 V %d times before VBUS goes: its pull-up was gone first", e.Gone)
	}
	return "", ""
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

func damagedShare(damaged, whole int) float64 {
	return float64(damaged) / float64(max(damaged+whole, 1))
}
