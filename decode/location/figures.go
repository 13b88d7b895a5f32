package location

import (
	"slices"

	"portside/decode/signs"
)

// figures are what plain statistics of the draw say, by what was found alone: no table is made for
// them, and none needs to be. Each is a weak hint.
func (m model) figures(p signs.Picture) []observation {
	var out []observation
	for _, f := range signs.Figures() {
		s, text := p.Take(f)
		if s == nil {
			continue
		}
		o := observation{text: text + ", by recordings whose answer is known", node: f.Name, cap: weakCap, like: slices.Repeat([]float64{1}, len(m.classes))}
		for i := range f.Knots {
			if x := s[f.At(i)]; x > 0 {
				o.shows = append(o.shows, portion{f.Name + ": " + f.At(i), x})
			}
		}
		out = append(out, o)
	}
	return out
}
