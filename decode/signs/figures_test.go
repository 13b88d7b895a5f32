package signs

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
	"portside/decode/signs/build"
)

// Knots rise, and each figure's have names of their own.
func TestFiguresAreWhole(t *testing.T) {
	names := map[string]bool{}
	for _, f := range Figures() {
		assert.False(t, names[f.Name], f.Name)
		names[f.Name] = true
		assert.True(t, slices.IsSorted(f.Knots), f.Name)
		assert.Len(t, slices.Compact(slices.Clone(f.Knots)), len(f.Knots), f.Name)
	}
}

func figure(name string) Figure {
	all := Figures()
	return all[slices.IndexFunc(all, func(f Figure) bool { return f.Name == name })]
}

func TestTakeFigure(t *testing.T) {
	at20V := []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 20, 0.6)}
	usual := func(x float64) *draw.Figures { return &draw.Figures{UsualA: x} }
	for _, c := range []struct {
		name  string
		facts []build.Build
		of    string
		given *draw.Figures
		want  Seen
	}{
		{"in the middle of two knots", at20V, "usual draw", usual(0.6), Seen{"0.4 A": 0.5, "0.8 A": 0.5}},
		{"a quarter of the way", at20V, "usual draw", usual(0.5), Seen{"0.4 A": 0.75, "0.8 A": 0.25}},
		{"on a knot", at20V, "usual draw", usual(0.4), Seen{"0.4 A": 1, "0.8 A": 0}},
		{"below all", at20V, "usual draw", usual(0), Seen{"0.001 A": 1}},
		{"above all", at20V, "usual draw", usual(3), Seen{"2 A": 1}},
		{"a count", at20V, "starts of a draw", &draw.Figures{Starts: 3}, Seen{"2": 0.5, "4": 0.5}},
		{"of another kind", at20V, "usual draw at 5 V", &draw.Figures{At5A: build.Ref(0.02), SpreadA: build.Ref(0.5)}, Seen{"0.01 A": 0.5, "0.03 A": 0.5}},
		{"scatter", at20V, "scatter of the draw above 5 V", &draw.Figures{At5A: build.Ref(0.02), SpreadA: build.Ref(0.3)}, Seen{"0.2 A": 0.5, "0.4 A": 0.5}},
		{"since the last start", at20V, "since the last start", &draw.Figures{SinceS: build.Ref(20.0)}, Seen{"15 s": 0.5, "25 s": 0.5}},
		{"none of that kind", at20V, "dips of VBUS", usual(1), nil},
		{"no row has both quantities", at20V, "usual draw", nil, nil},
		{"at 5 V alone", []build.Build{build.Meter(50, 40), build.Level(0, 40, 5.1, 0.02)}, "usual draw", usual(0.02), nil},
		{"no meter", nil, "usual draw", nil, nil},
	} {
		p := seeing(c.facts...)
		if c.facts != nil {
			p.Facts.Draw.Figures = c.given
		}
		s, text := p.Take(figure(c.of))
		assert.Len(t, s, len(c.want), c.name)
		for outcome, x := range c.want {
			assert.InDelta(t, x, s[outcome], 1e-9, c.name)
		}
		assert.Equal(t, c.want == nil, text == "", c.name)
	}
	p := seeing(at20V...)
	p.Facts.Draw.Figures = usual(0.614)
	for name, want := range map[string]string{
		"usual draw": "half of the time no more than 614 mA flow", "highest draw": "no more than 2.45 A flow at any time",
		"dips of VBUS": "in one row of a hundred VBUS is below 93 % of what it usually is", "unevenness of the starts": "the time from start to start scatters by 20 %",
	} {
		p.Facts.Draw.Figures = &draw.Figures{UsualA: 0.614, MostA: 2.45, Dip: build.Ref(0.93), Uneven: build.Ref(0.2)}
		_, text := p.Take(figure(name))
		assert.Equal(t, want, text)
	}
	p.Back = "feeds back"
	s, _ := p.Take(figure("usual draw"))
	assert.Nil(t, s, "VBUS is the machine's own")
}
