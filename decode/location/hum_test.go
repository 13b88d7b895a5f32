package location

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
	"portside/decode/rules"
)

// nodes are the topics that a recording speaks to.
func nodes(t *testing.T, builds ...build) []string {
	t.Helper()
	m := newModel()
	var out []string
	for _, o := range m.recorded(look(evidence(t, nil, builds...))) {
		out = append(out, o.node)
	}
	return out
}

// VBUS that swings with the mains rests nowhere and is known all the same. Common practice.
func TestHumIsKnown(t *testing.T) {
	bench := []build{meter(1000, 40), level(0, 1, 0.02, 0)}
	for at := 1.0; at < 39; at += 0.1 {
		bench = append(bench, level(at, at+0.05, 20, 0.9), level(at+0.05, at+0.1, 17, 0.9))
	}
	hum := append(slices.Clone(bench), func(f *rules.Facts) {
		f.Draw.Hum = &draw.Hum{StartS: 1, EndS: 39, Hz: 100, AmpV: 1.2, AtA: 0.9, Windows: 180}
	})
	strange := func(b []build) float64 { w, _ := look(evidence(t, nil, b...)).strange(); return w }
	assert.Greater(t, strange(bench), 0.5)
	assert.Zero(t, strange(hum))
	r := Locate(evidence(t, nil, hum...))
	assert.Equal(t, rules.BeforePort, r.Verdict.Location)
}

// A resistor's draw comes and stays, and says nothing of the machine behind it.
func TestResistorAlone(t *testing.T) {
	resistor := []build{meter(100, 60), level(0, 2, 9.07, 0.002), level(2, 20, 9.06, 0.453), level(20, 22, 15.1, 0.002), level(22, 60, 15, 0.75)}
	machine := append(slices.Clone(resistor[:4]), level(22, 60, 15, 1.1))
	assert.NotContains(t, nodes(t, resistor...), "draw")
	assert.Contains(t, nodes(t, resistor...), "resistance of the draw")
	assert.Contains(t, nodes(t, machine...), "draw")
	assert.NotContains(t, nodes(t, machine...), "resistance of the draw")
}
