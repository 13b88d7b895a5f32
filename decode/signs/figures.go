package signs

import (
	"fmt"
	"strconv"

	"portside/decode/draw"
)

// Figure is a plain statistic of the draw. What speaks for nothing by itself may yet lie otherwise
// on machines of one kind of fault than on those of another.
type Figure struct {
	Name  string
	Unit  string
	Knots []float64 // values at which what it speaks for is known, in rising order
	words func(x float64) string
	of    func(*draw.Figures) *float64
}

// At names a knot.
func (f Figure) At(knot int) string {
	name := strconv.FormatFloat(f.Knots[knot], 'g', -1, 64)
	if f.Unit != "" {
		name += " " + f.Unit
	}
	return name
}

// Figures are all that are taken. The level of VBUS is none of them, nor how long somebody
// recorded and how fast: those tell of habits.
func Figures() []Figure {
	return []Figure{
		{"usual draw", "A", []float64{0.001, 0.005, 0.02, 0.05, 0.15, 0.4, 0.8, 1.3, 2}, current("half of the time no more than %s flow"), func(g *draw.Figures) *float64 { return &g.UsualA }},
		{"highest draw", "A", []float64{0.01, 0.03, 0.1, 0.25, 0.6, 1, 1.5, 2, 2.5, 3.1, 4}, current("no more than %s flow at any time"), func(g *draw.Figures) *float64 { return &g.MostA }},
		{"usual draw at 5 V", "A", []float64{0.001, 0.003, 0.01, 0.03, 0.08, 0.2, 0.5, 1, 2}, current("half of the time at 5 V no more than %s flow"), func(g *draw.Figures) *float64 { return g.At5A }},
		{"scatter of the draw above 5 V", "A", []float64{0.001, 0.005, 0.02, 0.05, 0.1, 0.2, 0.4, 0.8}, current("above 5 V the draw scatters by %s"), func(g *draw.Figures) *float64 { return g.SpreadA }},
		{"dips of VBUS", "", []float64{0.2, 0.5, 0.75, 0.9, 0.96, 0.98, 0.99, 0.997}, func(x float64) string {
			return fmt.Sprintf("in one row of a hundred VBUS is below %.0f %% of what it usually is", 100*x)
		}, func(g *draw.Figures) *float64 { return g.Dip }},
		{"starts of a draw", "", []float64{0, 1, 2, 4, 8, 16, 32}, func(x float64) string { return fmt.Sprintf("a draw starts %.0f times", x) }, func(g *draw.Figures) *float64 { return new(float64(g.Starts)) }},
		{"since the last start", "s", []float64{0.3, 1, 2, 4, 8, 15, 25, 40}, func(x float64) string { return fmt.Sprintf("the last start of a draw is %.3g s before the end", x) }, func(g *draw.Figures) *float64 { return g.SinceS }},
		{"unevenness of the starts", "", []float64{0.01, 0.03, 0.1, 0.2, 0.4, 0.7, 1.2}, func(x float64) string { return fmt.Sprintf("the time from start to start scatters by %.0f %%", 100*x) }, func(g *draw.Figures) *float64 { return g.Uneven }},
	}
}

// current are words on one.
func current(words string) func(amps float64) string {
	return func(amps float64) string {
		if amps < 1 {
			return fmt.Sprintf(words, fmt.Sprintf("%.3g mA", 1000*max(0, amps)))
		}
		return fmt.Sprintf(words, fmt.Sprintf("%.3g A", amps))
	}
}

// Take is where the recording lies among a figure's knots: between two it is part of either. nil
// where there is none, and where no contract above 5 V was reached: what draws nothing at 5 V, or
// never gets there, is the same to the eye whatever failed.
func (p Picture) Take(f Figure) (Seen, string) {
	d := p.Meter()
	if d == nil || d.Figures == nil || !p.Contract || p.Back != "" {
		return nil, ""
	}
	x := f.of(d.Figures)
	if x == nil {
		return nil, ""
	}
	text, last := f.words(*x), len(f.Knots)-1
	if *x <= f.Knots[0] {
		return Exactly(f.At(0)), text
	}
	for i := range last {
		if low, high := f.Knots[i], f.Knots[i+1]; *x < high {
			part := (*x - low) / (high - low)
			return Seen{f.At(i): 1 - part, f.At(i + 1): part}, text
		}
	}
	return Exactly(f.At(last)), text
}
