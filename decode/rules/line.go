package rules

import (
	"fmt"
	"slices"

	"portside/decode/line"
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
	finding := r.finding(severity, 0, x.SeenS, fmt.Sprintf("on the line %s %s", x.Name, words), values{"share": share, "count": x.Edges})
	finding.FromMeter = false
	return []Finding{finding}
}

// rests is the share of its time that a line in volts rested at levels.
func rests(x line.Line, levels ...pd.CCLevel) float64 {
	if x.SeenS <= 0 {
		return 0
	}
	sum := 0.0
	for _, rest := range x.Rests {
		if slices.ContainsFunc(levels, func(l pd.CCLevel) bool { return l.String() == rest.Level }) {
			sum += rest.S
		}
	}
	return sum / x.SeenS
}

// vbusSeen reports a meter that saw VBUS, in the same recording.
func vbusSeen(f *Facts) bool { return f.Draw != nil && f.Draw.Sampling.MaxV > lowestContractV }

// lineStuckHigh is a silent line that never came down. Where no VBUS was seen
// it may be a source that waits for Rd.
func lineStuckHigh(f *Facts, r Rule) []Finding {
	l, ok := silentLine(f)
	if !ok || !vbusSeen(f) {
		return nil
	}
	for _, x := range l.Lines {
		if x.Stuck != nil && *x.Stuck == "high" {
			return lineFinding(r, Warning, x, 1, "CC stays high with VBUS there, and nothing is said")
		}
		if share := rests(x, pd.CCOutside); share >= lineShare {
			return lineFinding(r, Fault, x, share, "CC stands above all that Rd leaves, with VBUS there")
		}
	}
	return nil
}

func lineStuckLow(f *Facts, r Rule) []Finding {
	l, ok := silentLine(f)
	if !ok {
		return nil
	}
	for _, x := range l.Lines {
		low, share := x.Stuck != nil && *x.Stuck == "low", 1.0
		if !low {
			share = rests(x, pd.CCOpen)
			low = share >= lineShare
		}
		if !low { // one pin of two is low by right
			return nil
		}
	}
	return lineFinding(r, Warning, l.Lines[0], 1, "CC stays low, and nothing is said: shorted to ground, or no source pulls it up")
}

// lineRdMissing is a source that pulls up, and no sink that pulls down.
func lineRdMissing(f *Facts, r Rule) []Finding {
	l, ok := silentLine(f)
	if !ok || vbusSeen(f) || l.Rd == nil || *l.Rd != "none" {
		return nil
	}
	for _, x := range l.Lines {
		if share := rests(x, pd.CCOutside); share >= lineShare {
			return lineFinding(r, Fault, x, share, "CC stands high: the source pulls up and no Rd pulls down")
		}
	}
	return nil
}

func lineRdOnBoth(f *Facts, r Rule) []Finding {
	if f.Line == nil || f.Line.Rd == nil || *f.Line.Rd != "both" || len(f.Line.Lines) == 0 {
		return nil
	}
	return lineFinding(r, Warning, f.Line.Lines[0], 1, "and on the other CC line a sink pulls down: a cable with an e-marker then fails")
}

// lineRpWrong is a line that carries messages and rests at no level of the
// standard.
func lineRpWrong(f *Facts, r Rule) []Finding {
	if f.Line == nil {
		return nil
	}
	for _, x := range f.Line.Lines {
		if share := rests(x, pd.CCOutside, pd.CCTooClose); x.Frames > 0 && share >= lineShare {
			return lineFinding(r, Warning, x, share, fmt.Sprintf("CC rests at %s, which is none of the levels that a source may advertise", volts(*x.RestV)))
		}
	}
	return nil
}

// eitherPath gives the findings of the meter's columns, else of the line.
func eitherPath(f *Facts, r Rule, columns, path func(*Facts, Rule) []Finding) []Finding {
	if found := columns(f, r); len(found) > 0 {
		return found
	}
	return path(f, r)
}
