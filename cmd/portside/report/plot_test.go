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
