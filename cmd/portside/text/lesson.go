package text

import (
	"io"

	"portside/decode"
)

// Sections prints sections that were made elsewhere.
func Sections(w io.Writer, sections []Section, look Look) error {
	p := newPage(w, look)
	p.sheet(&sheet{sections: sections})
	return p.close()
}

// Paragraphs prints running text under a heading, where there is one.
func Paragraphs(w io.Writer, heading string, paragraphs []string, look Look) error {
	p := newPage(w, look)
	if heading != "" {
		for _, line := range wrap(Safe(heading), p.width) {
			p.put(p.paint(bold, line))
		}
	}
	for _, x := range paragraphs {
		p.para(0, x)
	}
	return p.close()
}

// Picture prints voltage and current over time with the contracts, without
// what the engine found in them.
func Picture(w io.Writer, d *decode.Diagnosis, look Look) error {
	p := newPage(w, look)
	plain := *d
	plain.Findings = nil
	p.picture(&plain, nil)
	return p.close()
}

// Lessons prints the list of lessons, whole.
func Lessons(w io.Writer, list *Grid, look Look) error {
	p := newPage(w, look)
	list.whole = true
	p.table(list)
	p.blank()
	p.para(0, "Begin with: portside teach sound-charging")
	p.para(0, "Then solve cases: portside teach --practice")
	return p.close()
}

// Numbers are what a recording shows, in figures and without a judgement: the
// negotiation and the draw.
func Numbers(w io.Writer, d *decode.Diagnosis, look Look) error {
	s := &sheet{}
	s.negotiation(d.Negotiation)
	s.draw(d.Draw)
	return Sections(w, s.sections, look)
}

// Table prints one table, whole.
func Table(w io.Writer, g *Grid, look Look) error {
	p := newPage(w, look)
	g.whole = true
	p.table(g)
	return p.close()
}
