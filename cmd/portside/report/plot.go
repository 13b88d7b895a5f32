package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// Sizes of a picture in its own units, which are CSS pixels at full width.
const (
	plotWide  = 960
	left      = 64
	right     = 16
	panelHigh = 150
	limitRoom = 16 // above the line of a limit
	panelGap  = 34
	laneHigh  = 26
	top       = 22
	panelTop  = 22 // of the first panel, below the lanes
	timeTicks = 8
)

// plot is a picture of voltage and current on one time axis, with the contracts
// and the findings of the diagnosis drawn in.
type plot struct {
	ID, Title, Desc string
	Wide, High      int
	Left, Inner     int // the plot area
	Panels          []panel
	Lane            int // y of the lane of contracts
	LaneHigh        int
	Phases          []bar
	Contracts       []bar
	Talk            *lane // nil where nobody spoke on the picture's clock
	Marks           []mark
	Listed          bool // a section lists the letters; else the picture does
	MarksTop        int
	MarksEnd        int
	Times           []tick
	AxisY           int
	Gaps            []bar
	CSV             string
	Thinned         string
	StartS, EndS    float64
	Trace           []point // for the readout
}

// panel is one quantity.
type panel struct {
	Name, Unit string
	Class      string
	Y, High    int
	Path       string
	Ticks      []tick
	Limits     []tick   // drawn across, with their clause
	Windows    []window // what a contract allows, over its time
	at         func(v float64) float64
}

// window is what a contract allows, over its time.
type window struct {
	X, Y, W, High, TextX, TextY float64
	Text                        string
	Note                        string // for who points at it
}

type tick struct {
	At    float64
	Label string
}

type bar struct {
	X, W  float64
	Label string
	Title string // for who points at it
	Late  bool
}

// lane is who spoke when.
type lane struct {
	Y, Middle, High int
	Ticks           []ticks
	Words           string
}

// ticks are the messages of one voice.
type ticks struct{ Class, Path string }

// mark is a finding by its letter.
type mark struct {
	X, W   float64
	TextX  float64 // of the letter, beside those that stand there already
	Letter string
	Grave  string
	Text   string
}

type point struct{ T, LowV, HighV, LowA, HighA float64 }

// titled is the title of a picture: what it shows, after whose it is.
func titled(whose string, samples bool) string {
	what := "Voltage, current and messages over time"
	if !samples {
		what = "Messages over time"
	}
	if whose == "" {
		return what
	}
	return whose + ": " + strings.ToLower(what[:1]) + what[1:]
}

// talkGap is the room between the lane of contracts and that of messages.
const talkGap = 8

// picture draws the plot of a recording; nil where it has neither samples nor messages.
func picture(of Recorded, whose string) *plot {
	d := of.Diagnosis
	r := d.Draw
	p := &plot{ID: "plot", Title: titled(whose, len(r.Trace) > 0), Wide: plotWide, Left: left, Inner: plotWide - left - right, LaneHigh: laneHigh, Lane: top}
	switch {
	case len(r.Trace) > 0:
		p.StartS, p.EndS = r.Trace[0].StartS, r.Trace[len(r.Trace)-1].EndS
	case !of.Talk.empty():
		p.StartS, p.EndS = of.Talk.span()
	default:
		return nil
	}
	if p.EndS <= p.StartS {
		p.EndS = p.StartS + 1
	}
	y := top + laneHigh
	if !of.Talk.empty() && onItsClock(d) {
		p.talk(of.Talk, y+talkGap)
		y += talkGap + talkHigh
	}
	p.MarksTop = y + panelTop
	if len(r.Trace) == 0 {
		p.MarksTop = top
	}
	y += panelTop
	for _, q := range []struct {
		name, unit, class string
		of                func(draw.Bin) (low, high float64)
		limits            []tick
	}{
		{"VBUS", "V", "volts", func(b draw.Bin) (float64, float64) { return b.MinV, b.MaxV }, nil},
		{"current", "A", "amps", func(b draw.Bin) (float64, float64) { return b.MinA, b.MaxA }, currentLimits(d)},
	} {
		pane, ok := p.panel(r, q.name, q.unit, q.class, y, q.of, q.limits)
		if !ok {
			continue
		}
		if q.class == "volts" {
			pane.Windows = p.windows(d, pane.at)
		}
		p.Panels = append(p.Panels, pane)
		y += panelHigh + panelGap
	}
	if len(p.Panels) == 0 {
		y += panelGap - panelTop
	}
	p.MarksEnd = y - panelGap
	p.AxisY = y - panelGap
	p.High = y + 6
	p.times()
	p.contracts(d)
	p.phases(d)
	p.findings(d)
	for _, g := range r.Gaps {
		if x, w, ok := p.stretch(g.StartS, g.EndS); ok {
			p.Gaps = joined(p.Gaps, bar{X: x, W: w, Label: "no samples"})
		}
	}
	if len(r.Trace) > 0 {
		p.numbers(r)
	}
	p.Desc = describe(d, p.Talk)
	return p
}

// onItsClock reports that the times of messages lie on the picture's clock: on the
// meter's, or on their own where there is no meter.
func onItsClock(d *decode.Diagnosis) bool { return len(d.Draw.Trace) == 0 || d.Clock.OffsetS != nil }

// talk draws who spoke when.
func (p *plot) talk(t *Talk, y int) {
	p.Talk = &lane{Y: y, Middle: y + talkHigh/2, High: talkHigh, Words: t.words()}
	for v, path := range t.paths(p, y) {
		if path != "" {
			p.Talk.Ticks = append(p.Talk.Ticks, ticks{Class: [voices]string{"source", "sink", "cable", "reset"}[v], Path: path})
		}
	}
}

// phases are bars beside the contracts', which they lead to.
func (p *plot) phases(d *decode.Diagnosis) {
	if !onItsClock(d) {
		return
	}
	for _, f := range d.Negotiation.Phases {
		if f.StartS == nil || f.Phase == "contract" {
			continue
		}
		end := *f.StartS
		if f.EndS != nil {
			end = *f.EndS
		}
		x, w, ok := p.stretch(*f.StartS, end)
		if !ok {
			continue
		}
		b := bar{X: x, W: w, Title: fmt.Sprintf("%s, %s to %s s", f.Phase, tickLabel(*f.StartS, 7), tickLabel(end, 7)), Late: f.Late}
		if f.Late {
			b.Title += ", late"
		}
		if w >= letterRoom*float64(len(f.Phase)) {
			b.Label = f.Phase
		}
		if last := len(p.Phases) - 1; w <= thinnest && last >= 0 && p.Phases[last].Late == b.Late && x-p.Phases[last].X < thinnest {
			continue // it stands there already
		}
		p.Phases = append(p.Phases, b)
	}
}

// letterRoom is the room of a letter in a bar.
const letterRoom = 7

// currentLimits are the currents of the contracts: more must not flow.
func currentLimits(d *decode.Diagnosis) []tick {
	most := 0
	for _, c := range d.Negotiation.Contracts {
		if c.CurrentMA != nil {
			most = max(most, *c.CurrentMA)
		}
	}
	if most == 0 {
		return nil
	}
	a := float64(most) / 1000
	return []tick{{At: a, Label: fmt.Sprintf("contract %.3g A", a)}}
}

const (
	narrowest   = 4   // a window narrower than this is not drawn
	mostWindows = 100 // of a picture; more are a pattern and no limits
)

// windows are the voltages that the source holds at its own end while a contract
// stands, once it has settled.
func (p *plot) windows(d *decode.Diagnosis, at func(float64) float64) []window {
	if !onItsClock(d) {
		return nil
	}
	var out []window
	for _, c := range d.Negotiation.Contracts {
		limits, name, ok := windowOf(&c)
		if !ok || c.StartS == nil || len(out) == mostWindows {
			continue
		}
		end := p.EndS
		if c.EndS != nil {
			end = *c.EndS
		}
		x, w, ok := p.stretch(*c.StartS, end)
		if !ok || w < narrowest {
			continue
		}
		upper, lower := at(limits.Max), at(limits.Min)
		out = append(out, window{
			X: x, Y: upper, W: w, High: max(thinnest, round(lower-upper)), TextX: round(x + 6), TextY: round(lower + 14),
			Text: fmt.Sprintf("%s: %.4g to %.4g V", name, limits.Min, limits.Max),
		})
	}
	return labelled(out)
}

// labelled leaves a window its words where they have room, and only where they say
// something new; who points at it reads them all the same.
func labelled(windows []window) []window {
	said := ""
	for i := range windows {
		w := &windows[i]
		w.Note = w.Text
		if w.Text == said || w.W < letterRoom*float64(len(w.Text)) {
			w.Text = ""
			continue
		}
		said = w.Text
	}
	return windows
}

// windowOf is the standard's window of a contract, with the standard's name of it.
func windowOf(c *negotiation.Contract) (w pd.Window, name string, ok bool) {
	if c.VoltageMV == nil {
		return w, "", false
	}
	v := pd.Millivolts(*c.VoltageMV)
	switch c.Kind {
	case "fixed":
		w, _ = pd.FixedWindow(v)
		return w, pd.VSrcNew.String(), true
	case "pps":
		w, _ = pd.PPSWindow(v)
		return w, pd.VPpsNew.String(), true
	case "spr-avs", "epr-avs":
		w, _ = pd.AVSWindow(v)
		return w, pd.VAvsNew.String(), true
	default:
		return w, "", false
	}
}

// x is where a time lies.
func (p *plot) x(s float64) float64 {
	return round(float64(p.Left) + float64(p.Inner)*(s-p.StartS)/(p.EndS-p.StartS))
}

// thinnest is how thin a bar may be: a thinner one fades from the screen.
const thinnest = 1.5

// stretch is where a stretch of time lies, as far as it is in the picture.
func (p *plot) stretch(from, to float64) (x, w float64, ok bool) {
	if to < p.StartS || from > p.EndS {
		return 0, 0, false
	}
	a, b := p.x(max(from, p.StartS)), p.x(min(to, p.EndS))
	return a, max(thinnest, round(b-a)), true
}

// joined adds a bar behind those that are there, as one with the last where both touch:
// a log may have more gaps than the picture has pixels.
func joined(bars []bar, b bar) []bar {
	if last := len(bars) - 1; last >= 0 && bars[last].Label == b.Label && b.X <= bars[last].X+bars[last].W {
		bars[last].W = round(max(bars[last].X+bars[last].W, b.X+b.W) - bars[last].X)
		return bars
	}
	return append(bars, b)
}

func round(v float64) float64 { return math.Round(v*10) / 10 }

func (p *plot) panel(r *draw.Result, name, unit, class string, y int, of func(draw.Bin) (float64, float64), limits []tick) (panel, bool) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, b := range r.Trace {
		if lo, hi := of(b); lo == lo {
			low, high = min(low, lo), max(high, hi)
		}
	}
	if high < low {
		return panel{}, false
	}
	for _, l := range limits {
		if l.At < 3*high { // a limit far above the curve would flatten it
			high = max(high, l.At)
		}
	}
	step := niceStep((max(high, 0) - min(low, 0)) / 5)
	bottom, upper := step*math.Floor(min(low, 0)/step+1e-9), step*math.Ceil(max(high, 0)/step-1e-9)
	if low > -step/10 {
		bottom = 0 // the noise of a meter's zero
	}
	if upper <= bottom {
		upper = bottom + step
	}
	for _, l := range limits { // its words stand above it, and below the panel's name
		if l.At <= upper && panelHigh*(upper-l.At)/(upper-bottom) < limitRoom {
			upper += step
		}
	}
	pane := panel{Name: name, Unit: unit, Class: class, Y: y, High: panelHigh}
	at := func(v float64) float64 {
		v = min(max(v, bottom), upper)
		return round(float64(y) + panelHigh*(upper-v)/(upper-bottom))
	}
	for k := 0; bottom+float64(k)*step <= upper+step/2; k++ {
		v := bottom + float64(k)*step
		pane.Ticks = append(pane.Ticks, tick{At: at(v), Label: tickLabel(v, 4)})
	}
	for _, l := range limits {
		if l.At <= upper {
			pane.Limits = append(pane.Limits, tick{At: at(l.At), Label: l.Label})
		}
	}
	pane.Path, pane.at = p.path(r, of, at), at
	return pane, true
}

// tickLabel is the number beside a tick. Steps that add up to nearly nothing are 0
// and not -0 or 1e-17.
func tickLabel(v float64, digits int) string {
	return strconv.FormatFloat(math.Round(v*1e10)/1e10+0, 'g', digits, 64)
}

// niceStep is a step of 1, 2 or 5 that is at least v.
func niceStep(v float64) float64 {
	if v <= 0 {
		return 1
	}
	decade := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if v <= m*decade*(1+1e-9) {
			return m * decade
		}
	}
	return 10 * decade
}

// path draws the extent of each bin, so that no spike is lost, and breaks at
// gaps.
func (p *plot) path(r *draw.Result, of func(draw.Bin) (float64, float64), at func(float64) float64) string {
	var b strings.Builder
	move, last := true, 0.0
	for _, bin := range r.Trace {
		low, high := of(bin)
		if low != low {
			move = true
			continue
		}
		if !move && gapBetween(r.Gaps, last, bin.StartS) {
			move = true
		}
		last = bin.EndS
		x0, x1, y0, y1 := p.x(bin.StartS), p.x(bin.EndS), at(high), at(low)
		word := "L"
		if move {
			word = "M"
		}
		move = false
		fmt.Fprintf(&b, "%s%g %g", word, x0, y0)
		if y1 != y0 {
			fmt.Fprintf(&b, "V%g", y1)
		}
		if x1 != x0 {
			fmt.Fprintf(&b, "H%g", x1)
		}
	}
	return b.String()
}

func gapBetween(gaps []draw.Gap, from, to float64) bool {
	for _, g := range gaps {
		if g.StartS < to && g.EndS > from {
			return true
		}
	}
	return false
}

func (p *plot) times() {
	step := niceStep((p.EndS - p.StartS) / timeTicks)
	for k := math.Ceil(p.StartS/step - 1e-9); k*step <= p.EndS+step*1e-9; k++ {
		p.Times = append(p.Times, tick{At: p.x(k * step), Label: tickLabel(k*step, 8)})
	}
}

// contracts are bars in a lane of their own. Where the clocks are not known to
// one another they cannot be placed.
func (p *plot) contracts(d *decode.Diagnosis) {
	if !onItsClock(d) {
		return
	}
	for _, c := range d.Negotiation.Contracts {
		if c.StartS == nil {
			continue
		}
		end := p.EndS
		if c.EndS != nil {
			end = *c.EndS
		}
		if x, w, ok := p.stretch(*c.StartS, end); ok {
			label, short := "contract", ""
			if c.VoltageMV != nil {
				short = fmt.Sprintf("%.3g V", float64(*c.VoltageMV)/1000)
				label += " " + short
			}
			if w < letterRoom*float64(len(label)) {
				label = short
			}
			if w < letterRoom*float64(len(label)) {
				label = ""
			}
			if w <= thinnest {
				p.Contracts = joined(p.Contracts, bar{X: x, W: w})
			} else {
				p.Contracts = append(p.Contracts, bar{X: x, W: w, Label: label})
			}
		}
	}
}

// findings are marked where their times lie on the picture's clock.
func (p *plot) findings(d *decode.Diagnosis) {
	letters := text.Letters(d)
	for i, f := range d.Findings {
		if f.StartS == nil || (f.Input != nil && !f.FromMeter && len(d.Draw.Trace) > 0) {
			continue
		}
		end := *f.StartS
		if f.EndS != nil {
			end = *f.EndS
		}
		if x, w, ok := p.stretch(*f.StartS, end); ok {
			p.Marks = append(p.Marks, mark{X: x, W: w, Letter: letters[i], Grave: string(f.Severity), Text: f.Text})
		}
	}
	p.spread()
}

// letterWide is the room of one letter of a mark, letterGap that between two.
const letterWide, letterGap = 11.0, 3.0

// spread sets letters of one moment side by side, as far as the picture has
// room for all of them.
func (p *plot) spread() {
	order := make([]*mark, len(p.Marks))
	total := 0.0
	for i := range p.Marks {
		m := &p.Marks[i]
		order[i], m.TextX = m, m.X
		total += letterWide*float64(len(m.Letter)) + letterGap
	}
	if total > float64(p.Inner) {
		return
	}
	slices.SortStableFunc(order, func(a, b *mark) int { return cmp.Compare(a.X, b.X) })
	free := 0.0
	for _, m := range order {
		m.TextX = max(m.X, free)
		free = m.TextX + letterWide*float64(len(m.Letter)) + letterGap
	}
	free = float64(p.Wide)
	for _, m := range slices.Backward(order) {
		m.TextX = round(min(m.TextX, free-letterWide*float64(len(m.Letter))))
		free = m.TextX - letterGap
	}
}

// mostRows is how many rows the numbers of a picture have at most.
const mostRows = 256

// numbers gives what the picture shows as a table of numbers.
func (p *plot) numbers(r *draw.Result) {
	per := (len(r.Trace) + mostRows - 1) / mostRows
	var b strings.Builder
	b.WriteString("start_s,end_s,min_v,max_v,min_a,max_a,samples\n")
	rows := 0
	for i := 0; i < len(r.Trace); i += per {
		bin := r.Trace[i]
		for _, x := range r.Trace[i+1 : min(i+per, len(r.Trace))] {
			bin.EndS = x.EndS
			bin.N += x.N
			bin.MinV, bin.MaxV = lower(bin.MinV, x.MinV), -lower(-bin.MaxV, -x.MaxV)
			bin.MinA, bin.MaxA = lower(bin.MinA, x.MinA), -lower(-bin.MaxA, -x.MaxA)
		}
		rows++
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%d\n", cell(bin.StartS), cell(bin.EndS), cell(bin.MinV), cell(bin.MaxV), cell(bin.MinA), cell(bin.MaxA), bin.N)
	}
	for _, bin := range r.Trace {
		p.Trace = append(p.Trace, point{T: bin.StartS, LowV: bin.MinV, HighV: bin.MaxV, LowA: bin.MinA, HighA: bin.MaxA})
	}
	p.CSV = b.String()
	p.Thinned = fmt.Sprintf("%d samples in %d rows, each with the least and the largest value of its stretch of time.", r.Sampling.N, rows)
}

// lower is the lesser one, or the one that is a number.
func lower(a, b float64) float64 {
	if a < b || b != b {
		return a
	}
	return b
}

func cell(v float64) string {
	if v != v {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 9, 64)
}

// Readout is the trace for the script: time, then voltage and current; null is
// a gap.
func (p *plot) Readout() [][5]*float64 {
	out := make([][5]*float64, len(p.Trace))
	for i, x := range p.Trace {
		for k, v := range [5]float64{x.T, x.LowV, x.HighV, x.LowA, x.HighA} {
			if v == v {
				short, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 7, 64), 64)
				out[i][k] = &short
			}
		}
	}
	return out
}

// describe says in words what the picture shows.
func describe(d *decode.Diagnosis, said *lane) string {
	var b strings.Builder
	if len(d.Draw.Trace) > 0 {
		b.WriteString("VBUS and current of the recording. ")
	}
	if said != nil {
		b.WriteString(said.Words + " ")
	}
	b.WriteString(text.Sentence(d.Verdict.Summary) + " ")
	letters := text.Letters(d)
	for i, f := range d.Findings {
		fmt.Fprintf(&b, "%s: %s ", letters[i], text.Sentence(f.Text))
	}
	return strings.TrimSpace(b.String())
}
