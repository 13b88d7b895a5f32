package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/negotiation"
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

// The windows are those of the standard: ±5 % of a fixed, programmable or adjustable
// voltage, and 4.75 to 5.5 V at 5 V (USB PD R3.2 V1.1, tables 7.23 and 7.25).
func TestWindowsOfContracts(t *testing.T) {
	at := func(s float64) *float64 { return &s }
	mv := func(v int) *int { return &v }
	contracts := []negotiation.Contract{
		{StartS: at(1), EndS: at(4), Kind: "fixed", VoltageMV: mv(20000)},
		{StartS: at(4), EndS: at(6), Kind: "fixed", VoltageMV: mv(5000)},
		{StartS: at(6), EndS: at(8), Kind: "pps", VoltageMV: mv(9000)},
		{StartS: at(8), EndS: at(8.01), Kind: "fixed", VoltageMV: mv(20000)}, // too short to be seen
		{StartS: at(8.5), Kind: "epr-avs", VoltageMV: mv(28000)},
		{StartS: at(9), Kind: "battery"},
	}
	d := &decode.Diagnosis{
		Draw:        &draw.Result{Trace: []draw.Bin{{EndS: 10, N: 2, MaxV: 30}}},
		Negotiation: &negotiation.Result{Contracts: contracts},
	}
	p := &plot{Left: left, Inner: 880, EndS: 10}
	assert.Empty(t, p.windows(d, func(v float64) float64 { return 100 - v }), "unaligned clocks")
	d.Clock.OffsetS = at(0)
	var notes []string
	for _, w := range p.windows(d, func(v float64) float64 { return 100 - v }) {
		notes = append(notes, w.Note)
	}
	assert.Equal(t, []string{"vSrcNew: 19 to 21 V", "vSrcNew: 4.75 to 5.5 V", "vPpsNew: 8.55 to 9.45 V", "vAvsNew: 26.6 to 29.4 V"}, notes)
	first := p.windows(d, func(v float64) float64 { return 100 - v })[0]
	assert.InDelta(t, 79, first.Y, 0.01)
	assert.InDelta(t, 2, first.High, 0.01)
	assert.InDelta(t, 64+88, first.X, 0.01)
	assert.InDelta(t, 3*88, first.W, 0.01)
}
