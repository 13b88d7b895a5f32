package text

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/rules"
)

const (
	axisWidth  = 9 // columns of the labels left of the plot, its line included
	panelRows  = 7
	markRows   = 3
	minTraceS  = 1e-6
	dotsWide   = 2 // a braille cell is two dots wide and four high
	dotsHigh   = 4
	legendRows = 8
	// milliFrom is from where an axis is labelled in whole units.
	milliFrom = 0.1
	// noiseShare is how far below zero a curve may go, by its height, before
	// the axis follows it.
	noiseShare = 0.05
)

// picture draws voltage and current over time, with the findings by letter.
func (p *page) picture(d *decode.Diagnosis, letters []string) {
	if d.Draw == nil || len(d.Draw.Trace) == 0 {
		return
	}
	x := newTimeAxis(d.Draw.Trace, p.width-axisWidth-1)
	p.heading("Voltage and current over time")
	marked, outside := p.findingMarks(d, letters, x)
	p.panel("VBUS", "V", x, d.Draw, func(b draw.Bin) (float64, float64) { return b.MinV, b.MaxV })
	p.panel("current", "A", x, d.Draw, func(b draw.Bin) (float64, float64) { return b.MinA, b.MaxA })
	p.timeAxis(x)
	p.contractMarks(d, x)
	p.legend(d, letters, marked, outside)
}

// timeAxis maps time to character columns.
type timeAxis struct {
	startS, endS float64
	cells        int
}

func newTimeAxis(trace []draw.Bin, cells int) timeAxis {
	x := timeAxis{startS: trace[0].StartS, endS: trace[len(trace)-1].EndS, cells: cells}
	if x.endS-x.startS < minTraceS {
		x.endS = x.startS + 1
	}
	return x
}

// at returns the column of a time among n; ok is false outside the picture.
func (x timeAxis) at(s float64, n int) (column int, ok bool) {
	c := int((s - x.startS) / (x.endS - x.startS) * float64(n))
	return min(max(c, 0), n-1), s >= x.startS && s <= x.endS
}

// band is the extent of one quantity in each column; NaN is a gap.
type band struct{ low, high []float64 }

// bandOf keeps the extremes of every bin. Columns between two samples are
// joined unless the log has a gap there.
func bandOf(r *draw.Result, x timeAxis, n int, of func(draw.Bin) (float64, float64)) (b band, ok bool) {
	b = band{low: make([]float64, n), high: make([]float64, n)}
	for i := range n {
		b.low[i], b.high[i] = math.NaN(), math.NaN()
	}
	last, lastEndS := -1, 0.0
	for _, bin := range r.Trace {
		low, high := of(bin)
		if math.IsNaN(low) || math.IsNaN(high) {
			last = -1
			continue
		}
		from, _ := x.at(bin.StartS, n)
		to, _ := x.at(bin.EndS, n)
		if to > from && bin.EndS > bin.StartS && onEdge(bin.EndS, x, n) {
			to--
		}
		for i := from; i <= to; i++ {
			b.low[i], b.high[i] = lower(b.low[i], low), higher(b.high[i], high)
		}
		if last >= 0 && from-last > 1 && !gapBetween(r.Gaps, lastEndS, bin.StartS) {
			b.join(last, from)
		}
		last, lastEndS, ok = to, bin.EndS, true
	}
	return b, ok
}

// onEdge reports a time that is exactly the left edge of a column, which a
// bin that ends there does not reach into.
func onEdge(s float64, x timeAxis, n int) bool {
	c := (s - x.startS) / (x.endS - x.startS) * float64(n)
	return c == math.Trunc(c) && s < x.endS
}

// join draws a straight line through the empty columns between two samples.
func (b band) join(from, to int) {
	a, z := (b.low[from]+b.high[from])/2, (b.low[to]+b.high[to])/2
	for i := from + 1; i < to; i++ {
		v := a + (z-a)*float64(i-from)/float64(to-from)
		b.low[i], b.high[i] = v, v
	}
}

func gapBetween(gaps []draw.Gap, fromS, toS float64) bool {
	return slices.ContainsFunc(gaps, func(g draw.Gap) bool { return g.StartS < toS && g.EndS > fromS })
}

func lower(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}

func higher(a, b float64) float64 {
	if math.IsNaN(a) || b > a {
		return b
	}
	return a
}

// panel draws one quantity.
func (p *page) panel(name, unit string, x timeAxis, r *draw.Result, of func(draw.Bin) (float64, float64)) {
	across, up := 1, 1
	if p.look.Unicode {
		across, up = dotsWide, dotsHigh
	}
	b, ok := bandOf(r, x, x.cells*across, of)
	if !ok {
		p.para(2, "The log has no "+name+".")
		return
	}
	lowest, highest := extent(b)
	s := newScale(lowest, highest, panelRows*up)
	p.put(fmt.Sprintf("  %s: lowest %s, highest %s", name, figure(&lowest, unit), figure(&highest, unit)))
	var rows []string
	if p.look.Unicode {
		rows = dots(b, s, x.cells)
	} else {
		rows = strokes(b, s)
	}
	for i, row := range rows {
		label := ""
		if i == 0 || i == panelRows/2 || i == panelRows-1 {
			label = s.label(i, unit)
		}
		p.put(fmt.Sprintf("%*s %s%s", axisWidth-2, label, p.axisLine(), row))
	}
}

func (p *page) axisLine() string {
	if p.look.Unicode {
		return "│"
	}
	return "|"
}

func extent(b band) (lowest, highest float64) {
	lowest, highest = math.NaN(), math.NaN()
	for i := range b.low {
		if !math.IsNaN(b.low[i]) {
			lowest, highest = lower(lowest, b.low[i]), higher(highest, b.high[i])
		}
	}
	return lowest, highest
}

// scale maps values to rows, zero always in view.
type scale struct {
	bottom, top float64
	rows        int
}

func newScale(lowest, highest float64, rows int) scale {
	if lowest < 0 && -lowest < noiseShare*highest {
		lowest = 0 // the noise of a meter's zero; the panel's title tells it
	}
	s := scale{bottom: -roundUp(max(0, -lowest)), top: roundUp(max(0, highest)), rows: rows}
	if s.top-s.bottom == 0 {
		s.top = 1
	}
	return s
}

// roundUp gives the next figure with a round name.
func roundUp(v float64) float64 {
	if v <= 0 {
		return 0
	}
	decade := math.Pow(10, math.Floor(math.Log10(v)))
	for _, step := range [...]float64{1, 1.2, 1.5, 2, 2.4, 3, 4, 5, 6, 8, 10} {
		if v <= step*decade*(1+1e-9) {
			return step * decade
		}
	}
	return 10 * decade
}

// at counts rows from the top, with their parts.
func (s scale) at(v float64) float64 { return (s.top - v) / (s.top - s.bottom) * float64(s.rows-1) }

func (s scale) row(v float64) int { return min(max(int(math.Round(s.at(v))), 0), s.rows-1) }

// label is the value at the middle of a panel's row.
func (s scale) label(row int, unit string) string {
	v := s.top - (s.top-s.bottom)*float64(row)/float64(panelRows-1)
	if math.Abs(v) < (s.top-s.bottom)*1e-9 {
		v = 0
	}
	if max(s.top, -s.bottom) < milliFrom { // what is written out is wider than the axis
		v, unit = 1000*v, "m"+unit
	}
	return strconv.FormatFloat(v, 'g', 3, 64) + " " + unit
}

// stretch is the rows that a column covers, the step from the column before it included.
type stretch struct {
	from, to int
	ok       bool
}

// keepsRow is how far from a row's middle what stood in it is still drawn there: half a row
// and a little, so that a value between two rows does not look like a step.
const keepsRow = 0.75

func (b band) spans(s scale) []stretch {
	out := make([]stretch, len(b.low))
	row := math.NaN() // in which the value stands
	for i := range b.low {
		if math.IsNaN(b.low[i]) {
			row = math.NaN()
			continue
		}
		if math.Abs(s.at(b.low[i])-row) <= keepsRow && math.Abs(s.at(b.high[i])-row) <= keepsRow {
			out[i] = stretch{from: int(row), to: int(row), ok: true}
			continue
		}
		low, high := b.low[i], b.high[i]
		if i > 0 && !math.IsNaN(b.low[i-1]) {
			low, high = min(low, b.high[i-1]), max(high, b.low[i-1])
		}
		x := stretch{from: s.row(high), to: s.row(low), ok: true}
		if !math.IsNaN(row) && out[i-1].from == out[i-1].to { // from where it was drawn
			x.from, x.to = min(x.from, int(row)), max(x.to, int(row))
		}
		out[i], row = x, float64(s.row((b.low[i]+b.high[i])/2))
	}
	return out
}

// strokes draws with ASCII: a dash where the value stands within one row, a
// bar where it covers several.
func strokes(b band, s scale) []string {
	grid := canvas(s.rows, len(b.low))
	for i, x := range b.spans(s) {
		for r := x.from; x.ok && r <= x.to; r++ {
			grid[r][i] = '|'
			if x.from == x.to {
				grid[r][i] = '-'
			}
		}
	}
	return lines(grid)
}

// brailleBits are the dots of a cell by row and column: Unicode, block
// Braille Patterns (U+2800).
var brailleBits = [dotsHigh][dotsWide]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// dots draws with braille cells.
func dots(b band, s scale, cells int) []string {
	grid := canvas(s.rows/dotsHigh, cells)
	for i, x := range b.spans(s) {
		for r := x.from; x.ok && r <= x.to; r++ {
			cell := &grid[r/dotsHigh][i/dotsWide]
			if *cell == ' ' {
				*cell = 0x2800
			}
			*cell |= brailleBits[r%dotsHigh][i%dotsWide]
		}
	}
	return lines(grid)
}

func canvas(rows, cells int) [][]rune {
	grid := make([][]rune, rows)
	for i := range grid {
		grid[i] = []rune(strings.Repeat(" ", cells))
	}
	return grid
}

func lines(grid [][]rune) []string {
	out := make([]string, len(grid))
	for i, row := range grid {
		out[i] = string(row)
	}
	return out
}

// timeAxis prints the ticks of the time.
func (p *page) timeAxis(x timeAxis) {
	corner, line, tick := "+", "-", '+'
	if p.look.Unicode {
		corner, line, tick = "└", "─", '┴'
	}
	axis := []rune(strings.Repeat(line, x.cells))
	labels := []rune(strings.Repeat(" ", x.cells+axisWidth))
	step := tickStep((x.endS - x.startS) / 5)
	free := 0
	for k := math.Ceil(x.startS/step - 1e-9); k*step <= x.endS+step*1e-9; k++ {
		if k == 0 {
			k = 0 // a negative zero would print its sign
		}
		at, _ := x.at(k*step, x.cells)
		axis[at] = tick
		label := strconv.FormatFloat(k*step, 'f', decimals(step), 64) + " s"
		start := max(axisWidth+at-len(label)/2, 0)
		if start >= free && start+len(label) <= len(labels) {
			copy(labels[start:], []rune(label))
			free = start + len(label) + 2
		}
	}
	p.put(strings.Repeat(" ", axisWidth-1) + corner + string(axis))
	p.put(string(labels))
}

// tickStep rounds a distance of ticks up to 1, 2 or 5 of a decade.
func tickStep(v float64) float64 {
	decade := math.Pow(10, math.Floor(math.Log10(v)))
	for _, step := range [...]float64{1, 2, 5} {
		if v <= step*decade*(1+1e-9) {
			return step * decade
		}
	}
	return 10 * decade
}

// decimals is how many digits after the point tell two ticks apart.
func decimals(step float64) int {
	s := strconv.FormatFloat(step, 'f', 9, 64)
	_, fraction, _ := strings.Cut(strings.TrimRight(s, "0"), ".")
	return len(fraction)
}

// marks is a few rows in which words stand at their column.
type marks [][]rune

// place puts a word at a column into the first row with room; the word is
// moved left where it would run over the edge.
func (m *marks) place(column int, word string, cells, rows int) bool {
	letters := []rune(word)
	column = max(min(column, cells-len(letters)), 0)
	for r := 0; r < rows && column+len(letters) <= cells; r++ {
		if r == len(*m) {
			*m = append(*m, []rune(strings.Repeat(" ", cells)))
		}
		row := (*m)[r]
		if allBlank(row, column-1, column+len(letters)+1) {
			copy(row[column:], letters)
			return true
		}
	}
	return false
}

func allBlank(row []rune, from, to int) bool {
	for _, r := range row[max(from, 0):min(to, len(row))] {
		if r != ' ' {
			return false
		}
	}
	return true
}

// findingMarks writes the findings' letters above the plot, the gravest
// first, and says which it placed. Outside counts those with no place on it.
func (p *page) findingMarks(d *decode.Diagnosis, letters []string, x timeAxis) (marked []int, outside int) {
	order := make([]int, len(d.Findings))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return weight(d.Findings[b].Severity) - weight(d.Findings[a].Severity) })
	var m marks
	for _, i := range order {
		f := d.Findings[i]
		if f.StartS == nil || !onMeterClock(d, f) {
			outside++
			continue
		}
		column, ok := x.at(*f.StartS, x.cells)
		if !ok || !m.place(column, letters[i], x.cells, markRows) {
			outside++
			continue
		}
		marked = append(marked, i)
	}
	slices.Reverse(m)
	for _, row := range m {
		p.put(strings.Repeat(" ", axisWidth) + string(row))
	}
	return marked, outside
}

// onMeterClock reports whether the times of a finding are the picture's.
func onMeterClock(d *decode.Diagnosis, f rules.Finding) bool {
	return f.FromMeter || f.Input == nil && aligned(d)
}

// aligned reports that every input lies on one clock.
func aligned(d *decode.Diagnosis) bool {
	return !slices.ContainsFunc(d.Clocks, func(c decode.InputClock) bool { return c.OffsetS == nil })
}

// contractMarks writes each contract's voltage where it began.
func (p *page) contractMarks(d *decode.Diagnosis, x timeAxis) {
	if d.Negotiation == nil || len(d.Negotiation.Contracts) == 0 {
		return
	}
	if !aligned(d) {
		p.para(2, "Contracts are not marked: meter and messages share no clock.")
		return
	}
	var m marks
	for _, c := range d.Negotiation.Contracts {
		if c.StartS == nil {
			continue
		}
		if column, ok := x.at(*c.StartS, x.cells); ok {
			word := "^ contract " + orDash(c.VoltageMV, "V")
			if !m.place(column, word, x.cells, 1) {
				m.place(column, "^", x.cells, 1)
			}
		}
	}
	for _, row := range m {
		p.put(strings.Repeat(" ", axisWidth) + string(row))
	}
}

// legend tells the letters apart.
func (p *page) legend(d *decode.Diagnosis, letters []string, marked []int, outside int) {
	for _, i := range marked[:min(len(marked), legendRows)] {
		f := d.Findings[i]
		p.item("  "+pad(letters[i], 2)+" ", "", fmt.Sprintf("%s %s, %s", severity(f.Severity), f.Rule, span(f.StartS, f.EndS)))
	}
	if more := len(marked) - legendRows; more > 0 {
		p.para(2, count(more, "further letter", "further letters")+": see all findings below.")
	}
	if outside > 0 {
		p.para(2, count(outside, "finding has", "findings have")+" no place on the picture: see all findings below.")
	}
}
