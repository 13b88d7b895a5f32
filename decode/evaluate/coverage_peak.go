package evaluate

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"portside/decode/draw"
)

// Bounded is how honest and how close the bounds of a quantity are, of which no
// row shows the value.
type Bounded struct {
	Quantity    string
	Cases       int
	Given       int     // of these with a bound
	Above       int     // of these bounded from above too
	Inside      float64 // share of the given whose bounds hold the truth
	Least, Most float64 // medians of each bound over the truth
}

// CoverPeaks simulates inrushes and says how often their largest current lies
// within its bounds.
func CoverPeaks(cases int, seed uint64) Bounded {
	chance := rand.New(rand.NewPCG(seed, uint64(len(quantities))))
	b := Bounded{Quantity: "inrush peak", Cases: cases}
	inside := 0
	var least, most []float64
	for range cases {
		p, truth := drawPeak(chance)
		if p == nil {
			continue
		}
		b.Given++
		holds := p.LeastA <= truth
		least = append(least, p.LeastA/truth)
		if p.MostA != nil {
			holds = holds && truth <= *p.MostA
			most = append(most, *p.MostA/truth)
		}
		if holds {
			inside++
		}
	}
	b.Above = len(most)
	b.Inside, b.Least, b.Most = float64(inside)/float64(b.Given), median(least), median(most)
	return b
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	slices.Sort(x)
	return x[len(x)/2]
}

// steepest is how fast VBUS may rise in V/s: at a contract vSrcSlewPos, USB PD R3.2
// V1.1 table 7.23, and what a switch does at attach (common practice).
const (
	steepest       = 30e3
	steepestAttach = 300e3
)

// drawPeak is a capacitor behind a resistance, filled by a source that rises in a
// straight line, on a log whose loads then change now and again.
func drawPeak(chance *rand.Rand) (p *draw.Peak, truth float64) {
	m := drawMeter(chance, 0.001, 0.002, 0.01, 0.02, 0.05, 0.1)
	m.fineFrom, m.fineTo = 0.9, 1.2
	from, to, slope := 0.0, 5.0, logBetween(chance, 1e3, steepestAttach)
	if chance.IntN(2) == 0 {
		from, to, slope = 5, pick(chance, contractVolts[:]...), logBetween(chance, 1e3, steepest)
	}
	const at, loadsFrom, lastsS = 1.0, 3.0, 0.9
	farad, ohm := logBetween(chance, 20e-6, 2000e-6), logBetween(chance, 0.03, 0.3)
	rise, tau := (to-from)/slope, farad*ohm
	full := farad * slope * (1 - math.Exp(-rise/tau))
	rest := between(chance, 0, 0.1)
	var levels []float64
	for range 8 {
		levels = append(levels, between(chance, 0.2, 2))
	}
	r := m.reads(func(t float64) (float64, float64) {
		amps := 0.0
		if from > 0 || t >= at {
			amps = rest
		}
		open := from + min(max(t-at, 0), rise)*slope
		switch {
		case t >= loadsFrom:
			amps = stepped(levels, lastsS, t-loadsFrom)
		case t >= at+rise:
			amps += full * math.Exp(-(t-at-rise)/tau)
		case t >= at:
			amps += farad * slope * (1 - math.Exp(-(t-at)/tau))
		}
		return open - ohm*amps, amps
	}, 0, loadsFrom+lastsS*float64(len(levels)))
	return r.Peak, rest + full
}

// PrintBounded writes the bounds in one sentence.
func PrintBounded(w io.Writer, b Bounded) error {
	_, err := fmt.Fprintf(w, "%s: bounded in %d of %d cases, in %d from above too; the truth is inside in %.1f %%.\nThe bounds are at %.2g and %.2g times the truth (median).\n",
		b.Quantity, b.Given, b.Cases, b.Above, 100*b.Inside, b.Least, b.Most)
	return err
}
