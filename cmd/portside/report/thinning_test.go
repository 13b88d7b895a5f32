package report_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/captures"
	"portside/decode"
)

var long = flag.Bool("long", false, "draw many and longer series at random")

// series is a log made at random: a steady draw with noise, steps, and single samples
// that stand out of it.
type series struct {
	at         []time.Duration
	volts      []float64
	amps       []float64
	standsOut  int
	sampleRate float64
}

func randomSeries(r *rand.Rand, n int) *series {
	s := &series{sampleRate: math.Pow(10, r.Float64()*3)}
	v, a := 5.0, 0.5
	now := time.Duration(0)
	step := time.Duration(float64(time.Second) / s.sampleRate)
	for i := range n {
		if r.IntN(n/6) == 0 {
			v, a = 3+17*r.Float64(), 4*r.Float64()
		}
		if r.IntN(n/2) == 0 {
			now += time.Duration(r.IntN(1+n/20)) * step // the log pauses
		}
		x, y := v+0.02*r.Float64(), a+0.01*r.Float64()
		if r.IntN(n/20) == 0 || i == 0 || i == n-1 {
			s.standsOut++
			switch r.IntN(4) {
			case 0:
				x *= 1 + r.Float64()
			case 1:
				x *= r.Float64()
			case 2:
				y = 5 * r.Float64()
			default:
				y *= r.Float64()
			}
		}
		s.at, s.volts, s.amps = append(s.at, now), append(s.volts, x), append(s.amps, y)
		now += step
	}
	return s
}

// curve is what a panel draws: the least and the largest value in each pixel's column.
type curve struct {
	low, high []float64
	perPixel  float64 // what a tenth of a pixel means, to which the picture rounds
}

const columns = 961

// drawn reads a panel's path back into values, by the labels of its ticks.
func drawn(t *testing.T, panel *html.Node) curve {
	t.Helper()
	var ys, vs []float64
	path := ""
	each(panel, func(n *html.Node) {
		switch {
		case n.Data == "text" && attr(n, "class") == "tick":
			v, err := strconv.ParseFloat(words(n), 64)
			require.NoError(t, err)
			vs = append(vs, v)
		case n.Data == "line" && attr(n, "class") == "grid":
			y, err := strconv.ParseFloat(attr(n, "y1"), 64)
			require.NoError(t, err)
			ys = append(ys, y)
		case n.Data == "path":
			path = attr(n, "d")
		}
	})
	require.Len(t, vs, len(ys))
	last := len(vs) - 1
	scale := (vs[last] - vs[0]) / (ys[last] - ys[0])
	c := curve{low: make([]float64, columns), high: make([]float64, columns), perPixel: math.Abs(scale) / 10}
	for i := range c.low {
		c.low[i], c.high[i] = math.Inf(1), math.Inf(-1)
	}
	x, y := 0.0, 0.0
	point := func() {
		v := vs[0] + (y-ys[0])*scale
		i := int(x)
		c.low[i], c.high[i] = min(c.low[i], v), max(c.high[i], v)
	}
	for _, word := range strings.FieldsFunc(strings.NewReplacer("M", "|M", "L", "|L", "H", "|H", "V", "|V").Replace(path), func(r rune) bool { return r == '|' }) {
		var err error
		switch word[0] {
		case 'H':
			from := x
			x, err = strconv.ParseFloat(word[1:], 64)
			for to := x; from < to; from++ { // a level reaches over every column on its way
				x = from
				point()
				x = to
			}
		case 'V':
			y, err = strconv.ParseFloat(word[1:], 64)
		default:
			_, err = fmt.Sscanf(word[1:], "%g %g", &x, &y)
		}
		require.NoError(t, err, word)
		point()
	}
	return c
}

// near is how many columns an extreme may lie off its own: a column of the picture and
// one of the thinned trace, which has at least half as many, do not begin together.
const near = 2

// extent is the least and the largest of the samples in a stretch of columns.
type extent struct{ low, high []float64 }

func (e extent) around(i int) (low, high float64) {
	from, to := max(0, i-near), min(columns, i+near+1)
	return slices.Min(e.low[from:to]), slices.Max(e.high[from:to])
}

// reaches holds that the curve has, near every column, the extremes of the samples in
// it, and nowhere more than the samples near it: nothing at all where there are none.
func (c curve) reaches(t *testing.T, what string, at, of []float64) {
	t.Helper()
	measured := extent{make([]float64, columns), make([]float64, columns)}
	for i := range measured.low {
		measured.low[i], measured.high[i] = math.Inf(1), math.Inf(-1)
	}
	for k, x := range at {
		i := int(x)
		measured.low[i], measured.high[i] = min(measured.low[i], of[k]), max(measured.high[i], of[k])
	}
	for i := range columns {
		low, high := extent{c.low, c.high}.around(i)
		require.GreaterOrEqual(t, high, measured.high[i]-c.perPixel, "%s: the largest at %d", what, i)
		require.LessOrEqual(t, low, measured.low[i]+c.perPixel, "%s: the least at %d", what, i)
		low, high = measured.around(i)
		require.LessOrEqual(t, c.high[i], high+c.perPixel, "%s: more than was measured at %d", what, i)
		require.GreaterOrEqual(t, c.low[i], low-c.perPixel, "%s: less than was measured at %d", what, i)
	}
}

// Whatever stands out of a long log stands in its picture, where it was, and nothing
// that was not measured does.
func TestExtremesSurviveInThePicture(t *testing.T) {
	runs, most := 12, 60_000
	if *long {
		runs, most = 400, 2_000_000
	}
	for seed := range uint64(runs) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 8))
			n := 2000 + r.IntN(most)
			s := randomSeries(r, n)
			e := decode.NewEngine(decode.Options{})
			for i := range s.at {
				e.Sample(&captures.Sample{At: s.at[i], Volts: s.volts[i], Amps: s.amps[i], CC: [2]float64{math.NaN(), math.NaN()}})
			}
			raw, root := page(t, e.Diagnose([]captures.Stats{{Path: "log.csv", Kind: captures.KindMeter, Samples: true, Records: n}}, nil))
			assert.Less(t, len(raw), 2<<20)
			curves := map[string]curve{}
			var start, end float64
			each(root, func(n *html.Node) {
				if class := attr(n, "class"); strings.HasPrefix(class, "panel ") {
					curves[strings.TrimPrefix(class, "panel ")] = drawn(t, n)
				}
				if attr(n, "class") == "plot" {
					start, _ = strconv.ParseFloat(attr(n, "data-start"), 64)
					end, _ = strconv.ParseFloat(attr(n, "data-end"), 64)
				}
			})
			require.Len(t, curves, 2)
			require.Greater(t, s.standsOut, 2)
			at := make([]float64, n)
			for i := range at {
				at[i] = 64 + 880*(s.at[i].Seconds()-start)/(end-start) // where the picture's axes lie
			}
			curves["volts"].reaches(t, "voltage", at, s.volts)
			curves["amps"].reaches(t, "current", at, s.amps)
		})
	}
}
