package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// A recording that no source, cable and machine can make tells nothing about any of
// them: another quantity stands in a column, another device was logged, or something
// happens that no list of faults holds.
const (
	beyondV   = 57.6 // no supply is set higher than 48 V (USB PD R3.2 V1.1 table 10.12), nor is one off by a fifth: common practice
	reversedV = -1.0 // a meter's zero is off by millivolts, and a source pulls up: common practice
	beyondA   = 8.0  // standing: no cable carries more than 5 A (USB Type-C R2.0 section 4.4.1), and a limit sets in within half of that above: common practice
	// Between vSafe0V (USB PD R3.2 V1.1 table 7.24) and the lowest programmable contract,
	// 3.3 V less 5 %, VBUS is held down by a load at the source's limit, or on its way.
	noLevelFromV = 0.9
	noLevelToV   = 3.1
	noLimitA     = 0.4 // no source limits so low: common practice
	nothingV     = 0.3 // no VBUS, and yet
	somethingA   = 0.3 // a draw that stands: a source that limits gives up, or its voltage shows
	strangeS     = 2.0 // that long, where a source has to decide within 0.65 s: tSafe0V, table 7.25
	strangePart  = 0.5 // of the recording at least: less may be on its way
)

// VBUS rests on a level but for changes of 0.275 s (tSrcSettle, USB PD R3.2 V1.1 table
// 7.23), also where it is taken away again and again: tries are 0.1 s and longer
// (SLVSDJ5D). The means of a slow meter hide that.
const (
	restS        = 0.1
	restHz       = 8.0
	restless     = 0.40 // of the time at rest: surely nothing of the kind
	restlessLess = 0.60 // more is no sign. Common practice
	restRows     = 3
	huntsLeast   = 0.5 // of its highest voltage: a source that hunts stays about what it should give
	strangeRows  = 50  // of fewer a share tells nothing
)

// Strange is what the meter shows that no modelled machine makes, with how sure
// that is, 0 for nothing.
func (p Picture) Strange() (weight float64, text string) {
	d := p.Meter()
	if d == nil {
		return 0, ""
	}
	looks := []func(*draw.Result) (float64, string){beyond, between, restlessVBUS}
	if p.Hums() || p.Rides() != "" || p.triesQuickly(d) || slices.ContainsFunc(d.Hunts, func(h draw.Hunt) bool { return h.LowV >= huntsLeast*h.HighV }) { // that is what moves it
		looks = looks[:2]
	}
	for _, look := range looks {
		if w, t := look(d); w > weight {
			weight, text = w, t
		}
	}
	return weight, text
}

// Attempts at a contract that follow each other so fast move VBUS most of the time. Common
// practice.
const (
	quickTries = 8
	quickEachS = 1.0
)

func (p Picture) triesQuickly(d *draw.Result) bool {
	n := p.Facts.Negotiation
	return n != nil && len(n.Attempts) >= quickTries && float64(len(n.Attempts))*quickEachS >= d.Sampling.EndS-d.Sampling.StartS
}

// beyond looks for a standing voltage or current that USB-C has no use for.
func beyond(d *draw.Result) (float64, string) {
	for _, l := range d.Levels {
		switch {
		case l.EndS-l.StartS < strangeS:
		case l.VoltageV > beyondV:
			return 1, fmt.Sprintf("VBUS stands at %.0f V from %.2f s, more than any source gives", l.VoltageV, l.StartS)
		case l.VoltageV < reversedV:
			return 1, fmt.Sprintf("VBUS stands at %.1f V from %.2f s, below zero", l.VoltageV, l.StartS)
		case l.MeanA > beyondA:
			return 1, fmt.Sprintf("%.1f A stand at %.1f V from %.2f s, more than any cable carries", l.MeanA, l.VoltageV, l.StartS)
		}
	}
	return 0, ""
}

// between looks for VBUS that stands where no source leaves it.
func between(d *draw.Result) (float64, string) {
	if d.Sampling.IntervalS*restHz > 1 { // a row is the mean of tries
		return 0, ""
	}
	above := 0.0
	for i, l := range d.Levels {
		fell := above > l.VoltageV // capacitors behind a plug that was pulled hold their charge
		above = max(above, l.MinV)
		switch {
		case l.EndS-l.StartS < strangeS || l.N < restRows:
		case math.Abs(l.VoltageV) < nothingV && l.MeanA > somethingA && steady(l):
			return 1, fmt.Sprintf("%.2f A flow from %.2f s while VBUS is %.2f V", l.MeanA, l.StartS, l.VoltageV)
		case fell || l.EndS-l.StartS < strangePart*(d.Sampling.EndS-d.Sampling.StartS):
		case l.MeanA <= standbyA && (i > 0 || l.MeanA > quietA/2): // a source that does not regulate, or a lead of tens of ohms: HeldByLittle
		case l.VoltageV > noLevelFromV && l.VoltageV < noLevelToV && l.MeanA < noLimitA && steady(l):
			return 1, fmt.Sprintf("VBUS stands at %.2f V from %.2f s at %.2f A, where no source leaves it", l.VoltageV, l.StartS, l.MeanA)
		}
	}
	return 0, ""
}

// steady reports a level that does not move by more than a fifth, nor its current by
// more than a half: tries move both.
func steady(l draw.Level) bool {
	return l.MaxV-l.MinV < 0.2*max(l.VoltageV, 1) && l.MaxA < 1.5*max(l.MeanA, 0.05)
}

// restlessVBUS looks for VBUS that stands nowhere.
func restlessVBUS(d *draw.Result) (float64, string) {
	s := d.Sampling
	if s.WithVoltage < strangeRows || s.IntervalS <= 0 || s.IntervalS*restHz > 1 {
		return 0, ""
	}
	rest, span := 0.0, 0.0
	for _, l := range d.Levels {
		long := l.EndS - l.StartS + s.IntervalS
		span = max(span, l.EndS-d.Levels[0].StartS)
		if l.N >= restRows && long >= restS {
			rest += long
		}
	}
	for _, g := range d.Gaps {
		span -= g.EndS - g.StartS
	}
	if span < strangeS {
		return 0, ""
	}
	share := min(1, rest/span)
	weight := min(1, max(0, (restlessLess-share)/(restlessLess-restless)))
	return weight, fmt.Sprintf("VBUS is at rest for %.0f %% of the time from %.2f to %.2f s, and a source holds it at a level", 100*share, s.StartS, s.EndS)
}
