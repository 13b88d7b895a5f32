package text

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"portside/decode"
	"portside/decode/compare"
	"portside/decode/draw"
)

// Comparison prints a recording from before a repair beside one from after it.
func Comparison(w io.Writer, c *compare.Comparison, before, after *decode.Diagnosis, look Look) error {
	p := newPage(w, look)
	for _, line := range wrap(Safe(ComparisonLine(c)), p.width) {
		p.put(p.paint(bold, line))
	}
	_, why, _ := strings.Cut(c.Summary, ": ")
	p.para(0, capital(stop(why)))
	p.blank()
	p.item("  before  ", "", sideLine(before))
	p.item("  after   ", "", sideLine(after))
	p.pictures(before, after)
	p.sheet(changed(c))
	return p.close()
}

// changed lists the changes.
func changed(c *compare.Comparison) *sheet {
	s := &sheet{}
	s.heading("What changed")
	g := newGrid("", "before", "after", "change").figures(1, 2, 3)
	for _, x := range c.Changes {
		g.add(x.What, changeValue(x.Before, x.Unit), changeValue(x.After, x.Unit), difference(x))
	}
	s.table(g)
	if slices.ContainsFunc(c.Changes, func(x compare.Change) bool { return x.Uncertainty != nil }) {
		s.para(2, "Change is after less before, +- twice its standard uncertainty.")
	}
	if len(c.Changes) == 0 {
		s.para(2, "Neither recording holds anything that can be set beside the other.")
	}
	return s
}

// ComparisonLine is the verdict of a comparison in one line.
func ComparisonLine(c *compare.Comparison) string {
	return strings.ToUpper(c.Outcome) + "."
}

// Changes are both verdicts and what changed from one to the other.
func Changes(c *compare.Comparison, before, after *decode.Diagnosis) []Section {
	s := &sheet{}
	s.heading("Both recordings")
	s.item("before", "", sideLine(before)+". "+capital(stop(before.Verdict.Summary)))
	s.item("after", "", sideLine(after)+". "+capital(stop(after.Verdict.Summary)))
	return append(s.sections, changed(c).sections...)
}

func sideLine(d *decode.Diagnosis) string {
	return strings.TrimSuffix(verdictLine(&d.Verdict), ".")
}

func changeValue(v any, unit string) string {
	switch x := v.(type) {
	case float64:
		if math.IsInf(x, 1) {
			return "open"
		}
		return figure(&x, unit)
	case int:
		return fmt.Sprint(x)
	case string:
		return x
	}
	return unknown
}

// difference prints after less before with twice its standard uncertainty.
func difference(c compare.Change) string {
	b, isB := c.Before.(float64)
	a, isA := c.After.(float64)
	if !isB || !isA || math.IsInf(a, 0) || math.IsInf(b, 0) {
		return ""
	}
	d := a - b
	out := figure(&d, c.Unit)
	if d > 0 {
		out = "+" + out
	}
	if c.Uncertainty != nil {
		u := 2 * *c.Uncertainty
		out += " +- " + figure(&u, c.Unit)
	}
	return out
}

// pictures draws the current of both recordings from their plug-in or contract
// on, to one scale of time and current, side by side where the page is wide
// enough for it.
func (p *page) pictures(before, after *decode.Diagnosis) {
	if len(before.Draw.Trace) == 0 || len(after.Draw.Trace) == 0 {
		return
	}
	from := [2]float64{powerOn(before.Draw), powerOn(after.Draw)}
	long := math.Max(before.Draw.Sampling.EndS-from[0], after.Draw.Sampling.EndS-from[1])
	if long <= 0 {
		return
	}
	p.heading("Current from VBUS on: before | after")
	room := (p.width-axisWidth-4)/2 - 1
	var columns [2][]string
	high := math.Max(before.Draw.Sampling.MaxA, after.Draw.Sampling.MaxA)
	for i, r := range []*draw.Result{before.Draw, after.Draw} {
		x := timeAxis{startS: from[i], endS: from[i] + long, cells: room}
		columns[i] = p.strip(r, x, high)
	}
	for row := range panelRows {
		label := ""
		switch row {
		case 0:
			label = figure(&high, "A")
		case panelRows - 1:
			label = "0 A"
		}
		p.put(fmt.Sprintf("%*s | %s | %s", axisWidth-2, label, pad(columns[0][row], room), columns[1][row]))
	}
	p.put(fmt.Sprintf("%*s + %s + %s", axisWidth-2, "", strings.Repeat("-", room), strings.Repeat("-", room)))
	zero := 0.0
	end := figure(&long, "s")
	line := pad(figure(&zero, "s"), room-len(end)) + end
	p.put(fmt.Sprintf("%*s   %s   %s", axisWidth-2, "", line, line))
}

// powerOn is the time at which VBUS first comes up, or the start of the log.
func powerOn(r *draw.Result) float64 {
	for _, l := range r.Levels {
		if l.NominalV > 0 {
			return l.StartS
		}
	}
	return r.Sampling.StartS
}

// strip draws the extent of the current over time in rows of characters, the
// highest first.
func (p *page) strip(r *draw.Result, x timeAxis, high float64) []string {
	b, _ := bandOf(r, x, x.cells, func(bin draw.Bin) (float64, float64) {
		if bin.EndS < x.startS || bin.StartS > x.endS {
			return math.NaN(), math.NaN()
		}
		return bin.MinA, bin.MaxA
	})
	mark := "#"
	if p.look.Unicode {
		mark = "█"
	}
	rows := make([]string, panelRows)
	for row := range rows {
		floor := high * float64(panelRows-1-row) / panelRows
		var line strings.Builder
		for i := range x.cells {
			if b.high[i] > floor && b.high[i] > 0 || row == panelRows-1 && b.high[i] == b.high[i] {
				line.WriteString(mark)
			} else {
				line.WriteByte(' ')
			}
		}
		rows[row] = line.String()
	}
	return rows
}
