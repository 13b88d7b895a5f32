package evaluate

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/olekukonko/tablewriter"
)

// Estimate is one simulated case of a quantity: what is true, and what was
// said of it.
type Estimate struct {
	Truth              float64
	Value, Uncertainty float64 // standard uncertainty
	Given              bool    // false where no number was given
}

// Coverage is how honest the uncertainty of one quantity is.
type Coverage struct {
	Quantity string
	Cases    int
	Given    int     // of these with a number
	Within   float64 // share of the given whose value ± 2 uncertainties holds the truth
	Ratio    float64 // median of |error| / uncertainty
	Error    float64 // median of |error| / |truth|, for a clock of |error| in seconds
	Gross    int     // off by more than 5 uncertainties
}

// What an honest uncertainty does: of 100 truths 90 to 99 lie within two of
// them, more only where errors are typically no smaller than 0.4 of one.
const (
	coverageLeast = 0.90
	coverageMost  = 0.99
	ratioLeast    = 0.4
	grossRatio    = 5.0
)

// Honest reports a coverage that neither claims too much nor too little.
func (c Coverage) Honest() bool {
	return c.Given > 0 && c.Within >= coverageLeast && (c.Within <= coverageMost || c.Ratio >= ratioLeast)
}

// quantities draw one case each from the generator.
var quantities = [...]struct {
	name     string
	absolute bool // the error is told in the quantity's own unit
	draw     func(*rand.Rand) Estimate
}{
	{"series resistance", false, drawResistance},
	{"leak resistance", false, drawLeak},
	{"load exponent", true, drawExponent},
	{"inrush charge", false, drawCharge},
	{"taper time constant", false, drawTau},
	{"retry period", false, drawPeriod},
	{"clock offset", true, drawOffset},
	{"clock rate", true, drawRate},
}

// Cover simulates so many cases of every quantity, from a generator that
// shares nothing with the estimators, and says how often the truth lies within
// what they state.
func Cover(cases int, seed uint64) []Coverage {
	var out []Coverage
	for i, q := range quantities {
		chance := rand.New(rand.NewPCG(seed, uint64(i)))
		all := make([]Estimate, cases)
		for k := range all {
			all[k] = q.draw(chance)
		}
		out = append(out, cover(q.name, q.absolute, all))
	}
	return out
}

func cover(name string, absolute bool, all []Estimate) Coverage {
	c := Coverage{Quantity: name, Cases: len(all)}
	var ratios, errors []float64
	within := 0
	for _, e := range all {
		if !e.Given {
			continue
		}
		off := math.Abs(e.Value - e.Truth)
		if off <= 2*e.Uncertainty {
			within++
		}
		if off > grossRatio*e.Uncertainty {
			c.Gross++
		}
		ratios = append(ratios, off/e.Uncertainty)
		if !absolute {
			off /= math.Abs(e.Truth)
		}
		errors = append(errors, off)
	}
	c.Given = len(ratios)
	if c.Given == 0 {
		c.Within, c.Ratio, c.Error = math.NaN(), math.NaN(), math.NaN()
		return c
	}
	slices.Sort(ratios)
	slices.Sort(errors)
	c.Within = float64(within) / float64(c.Given)
	c.Ratio, c.Error = ratios[c.Given/2], errors[c.Given/2]
	return c
}

// PrintCoverage writes the table: how many cases gave a value, how many hold the
// truth within twice the uncertainty u, the median error e over u and by itself
// (in percent, or in the quantity's unit), and how many are off by over 5 u.
func PrintCoverage(w io.Writer, all []Coverage) error {
	t := tablewriter.NewTable(w)
	t.Header("quantity", "cases", "given", "in 2 u", "e/u", "e", "over 5 u")
	for i, c := range all {
		size := fmt.Sprintf("%.2g %%", 100*c.Error)
		if quantities[i].absolute {
			size = fmt.Sprintf("%.2g", c.Error)
		}
		if err := t.Append(c.Quantity, c.Cases, c.Given, fmt.Sprintf("%.1f %%", 100*c.Within), fmt.Sprintf("%.2f", c.Ratio), size, c.Gross); err != nil {
			return err
		}
	}
	return t.Render()
}
