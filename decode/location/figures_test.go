package location

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

// A figure says nothing but what was found of its knots, each for its part; one that was not found
// says nothing at all.
func TestFiguresSayWhatWasFound(t *testing.T) {
	e := evidence(t, nil, build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 20, 0.6))
	e.Facts.Draw.Figures = &draw.Figures{UsualA: 0.6, MostA: 9}
	m := newModel()
	m.found = Found{"usual draw: 0.4 A": {Behind: 4}, "usual draw: 0.8 A": {Behind: -2, Healthy: 6}}
	all := m.figures(signs.Look(e))
	require.Len(t, all, 3, "the draw of the middle row, the highest, and no start")
	o := all[0]
	assert.Equal(t, "half of the time no more than 600 mA flow, by recordings whose answer is known", o.text, "no physics says so")
	o.seen = true
	told := m.told(o)
	assert.InDelta(t, 1.259, told[m.index(railShort)], 0.001, "half of 4 decibans and half of -2: 1 deciban is 1.259")
	assert.InDelta(t, 1.995, told[m.index(healthyPart)], 0.001, "half of 6: 3 decibans are 1.995")
	assert.InDelta(t, 1, told[m.index(source)], 1e-9)
	for _, o := range all[1:] {
		o.seen = true
		for _, x := range m.told(o) {
			assert.InDelta(t, 1, x, 1e-9, o.node)
		}
	}
	m.found = Found{"usual draw: 0.8 A": {Healthy: 6}}
	sound := func() float64 {
		return grouped(m.weigh(m.observations(signs.Look(e))), m.share)[3]
	}
	with := sound()
	e.Facts.Draw.Figures = nil
	assert.Greater(t, with, sound())
}
