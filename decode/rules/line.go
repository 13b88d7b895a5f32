package rules

import (
	"fmt"
	"slices"

	"portside/decode/line"
	"portside/decode/negotiation"
	"portside/pd"
)

const (
	lineShare = 0.8 // of the time that a line was seen: messages move it for a thousandth of it
	lineSeenS = 1.0 // less of a silent line says nothing: a source offers within 0.5 s of VBUS. Common practice
)

// silentLine is a recording of CC on which nothing at all was said, long
// enough to have heard something.
func silentLine(f *Facts) (*line.Result, bool) {
	l := f.Line
	if l == nil || l.Frames+l.Broken+l.CutShort > 0 {
		return nil, false
	}
	return l, slices.ContainsFunc(l.Lines, func(x line.Line) bool { return x.SeenS >= lineSeenS })
}

// lineFinding is a state of the recorded CC line that stood over all of it.
func lineFinding(r Rule, severity Severity, x line.Line, share float64, words string) []Finding {
	finding := r.finding(severity, x.StartS, x.StartS+x.SeenS, fmt.Sprintf("CC (signal %s) %s", x.Name, words), values{"share": share, "count": x.Edges})
	finding.FromMeter = false
	return []Finding{finding}
}

// rests is the share of the time it rested that a line in volts spent at levels.
// A slow recording sees but parts of the time, so that SeenS is no measure of it.
func rests(x line.Line, levels ...pd.CCLevel) float64 {
	at, all := 0.0, 0.0
	for _, rest := range x.Rests {
		all += rest.S
		if slices.ContainsFunc(levels, func(l pd.CCLevel) bool { return l.String() == rest.Level }) {
			at += rest.S
		}
	}
	if all <= 0 {
		return 0
	}
	return at / all
}

// pulledDown reports a line at which Rd is seen. Where it is, the other one may
// carry VCONN, which stands above all levels of Rp and Rd.
func pulledDown(l *line.Result) bool {
	return slices.ContainsFunc(l.Lines, func(x line.Line) bool { return x.Rd != nil && *x.Rd })
}

// vbusSeen reports a meter that saw VBUS, in the same recording.
func vbusSeen(f *Facts) bool { return f.Draw != nil && f.Draw.Sampling.MaxV > LowestContractV }

// lineStuckHigh is a silent line that never came down. Where no VBUS was seen
// it may be a source that waits for Rd. A logic level is worth a note only: the
// Rp of a plain charger, which never speaks, reads high too. Above vSafe5V the
// contract was made before the recording began, and silence is right.
func lineStuckHigh(f *Facts, r Rule) []Finding {
	l, ok := silentLine(f)
	if !ok || !vbusSeen(f) || pulledDown(l) {
		return nil
	}
	for _, x := range l.Lines {
		if x.Stuck != nil && *x.Stuck == "high" && len(x.Rests) == 0 && f.Draw.Sampling.MaxV <= limit(pd.VSafe5V).MaxSI() {
			return lineFinding(r, Note, x, 1, "stays high with VBUS there, and nothing is said; a charger without PD leaves it so too")
		}
		if share := rests(x, pd.CCOutside); share >= lineShare {
			return lineFinding(r, Fault, x, share, "stands above all that Rd leaves, with VBUS there")
		}
	}
	return nil
}

// lineStuckLow is a silent line at 0 V. As a logic level it is worth a note
// only: the lowest Rp against Rd reads low too.
func lineStuckLow(f *Facts, r Rule) []Finding {
	l, ok := silentLine(f)
	if !ok {
		return nil
	}
	inVolts := true
	for _, x := range l.Lines {
		logic := len(x.Rests) == 0
		if logic && (x.Stuck == nil || *x.Stuck != "low") || !logic && rests(x, pd.CCOpen) < lineShare {
			return nil // one pin of two is low by right
		}
		inVolts = inVolts && !logic
	}
	if inVolts {
		return lineFinding(r, Warning, l.Lines[0], 1, "stays at 0 V, and nothing is said: shorted to ground, or no source pulls it up")
	}
	return lineFinding(r, Note, l.Lines[0], 1, "stays low, and nothing is said: shorted to ground, no source, or one that advertises default current without PD")
}

// lineRdMissing is a source that pulls up, and no sink that pulls down. A
// single line tells it only beside a meter without VBUS: else it may be VCONN.
func lineRdMissing(f *Facts, r Rule) []Finding {
	l, ok := silentLine(f)
	const pins = 2
	if !ok || vbusSeen(f) || pulledDown(l) || len(l.Lines) < pins && f.Draw == nil {
		return nil
	}
	for _, x := range l.Lines {
		share := rests(x, pd.CCOutside)
		switch {
		case share < lineShare:
		case f.Draw != nil:
			return lineFinding(r, Fault, x, share, "stands high and VBUS stays off: the source pulls up and no Rd pulls down")
		default:
			return lineFinding(r, Warning, x, share, "stands above all that Rd leaves: the source pulls up and no Rd pulls down, or a supply has got onto it")
		}
	}
	return nil
}

func lineRdOnBoth(f *Facts, r Rule) []Finding {
	if f.Line == nil || f.Line.Rd == nil || *f.Line.Rd != "both" || len(f.Line.Lines) == 0 {
		return nil
	}
	return lineFinding(r, Warning, f.Line.Lines[0], 1, "and the other line are both pulled down by a sink: a cable with an e-marker then fails")
}

// lineRpWrong is a line that rests at no level of the standard.
func lineRpWrong(f *Facts, r Rule) []Finding {
	if f.Line == nil {
		return nil
	}
	for _, x := range f.Line.Lines {
		between := []pd.CCLevel{pd.CCTooClose}
		if x.Frames > 0 { // else it may wait for Rd, or carry VCONN
			between = append(between, pd.CCOutside)
		} else if x.SeenS < lineSeenS || otherPin(f.Line, x) {
			continue
		}
		share := rests(x, between...)
		if share >= lineShare && x.RestV != nil && !loadLifts(f, x) {
			return lineFinding(r, Warning, x, share, fmt.Sprintf("rests at %s, which is none of the levels that a source may advertise", volts(*x.RestV)))
		}
	}
	return nil
}

// otherPin reports a line that says nothing, beside one that speaks or has Rd: Rp may stand
// against a cable's Ra there, which gives no level of the sink's.
func otherPin(l *line.Result, x line.Line) bool {
	return l.Frames > 0 || pulledDown(l) && (x.Rd == nil || !*x.Rd)
}

// loadLifts reports a line whose rest may be right, and lifted by the current: the drop in
// the ground wire stands between the sink and a recorder at the source. A level seen before
// any load came is free of it.
func loadLifts(f *Facts, x line.Line) bool {
	const ratedA = 3 // of any cable: USB Type-C R2.0 section 4.4.1
	share := 0.0
	switch {
	case x.Frames > 0 && f.Line.Rp != nil:
		return true
	case x.Frames > 0 && (f.Negotiation == nil || !f.Negotiation.BeginsInside):
		return false
	case f.Draw != nil && f.Draw.Sampling.WithCurrent > 0:
		share = min(1, max(0, f.Draw.Sampling.MaxA/ratedA))
	case x.Frames > 0:
		share = 1
	}
	switch pd.CCMeaning(*x.RestV - share*limit(pd.VIRDropGNDC).MaxSI()) {
	case pd.CCDefault, pd.CC1A5, pd.CC3A0:
		return true
	}
	return false
}

// findUnanswered adds what only a recording of the line can tell: that the
// sink said nothing at all, which a list may have left out.
func findUnanswered(f *Facts, r Rule) []Finding {
	out := stalled(negotiation.StepAcknowledge)(f, r)
	l := f.Line
	if l == nil || l.SilentPort == nil || *l.SilentPort != "sink" || l.OffersInVain == 0 {
		return out
	}
	for i := range out {
		out[i].Text += fmt.Sprintf("; on the line the source repeats its offer (%d sent in vain) and no one acknowledges: look at the sink's CC path", l.OffersInVain)
		out[i].Values["in_vain"] = l.OffersInVain
	}
	return out
}

// eitherPath gives the findings of the meter's columns, else of the line.
func eitherPath(f *Facts, r Rule, columns, path func(*Facts, Rule) []Finding) []Finding {
	if found := columns(f, r); len(found) > 0 {
		return found
	}
	return path(f, r)
}
