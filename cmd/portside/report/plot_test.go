package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestTickLabel(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{
		{math.Copysign(0, -1), "0"},
		{-1e-17, "0"},
		{0.1 + 0.2, "0.3"},
		{-0.5, "-0.5"},
		{20, "20"},
	} {
		assert.Equal(t, c.want, tickLabel(c.v, 4), "%g", c.v)
	}
}

func TestLettersDoNotCover(t *testing.T) {
	for name, at := range map[string][]float64{
		"one moment":     {200, 200, 200},
		"out of order":   {204, 300, 200},
		"the right edge": {955, 958, 958, 958},
		"many":           make([]float64, 50),
	} {
		t.Run(name, func(t *testing.T) {
			p := &plot{Wide: plotWide, Inner: plotWide - left - right}
			for _, x := range at {
				p.Marks = append(p.Marks, mark{X: x, Letter: "a"})
			}
			p.spread()
			for i, a := range p.Marks {
				assert.GreaterOrEqual(t, a.TextX, 0.0)
				assert.LessOrEqual(t, a.TextX, plotWide-10.0, "in the picture")
				for _, b := range p.Marks[:i] {
					assert.GreaterOrEqual(t, math.Abs(a.TextX-b.TextX), 10.0, "room for a bold letter of 14 px")
				}
			}
		})
	}
}

// Gaps that touch in the picture are one: a log may have thousands.
func TestGapsThatTouchAreOne(t *testing.T) {
	var bars []bar
	for _, b := range []bar{{X: 1, W: 2}, {X: 2, W: 0.5}, {X: 3, W: 1.5}, {X: 5, W: 1}, {X: 5.5, W: 3}} {
		bars = joined(bars, b)
	}
	assert.Equal(t, []bar{{X: 1, W: 3.5}, {X: 5, W: 3.5}}, bars)
}
