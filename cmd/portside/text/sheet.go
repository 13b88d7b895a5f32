package text

import (
	"strings"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/rules"
)

// Section is a part of a result with its heading, as every surface shows it.
type Section struct {
	Title    string
	Lettered bool // its rows begin with the letters of the findings
	Blocks   []Block
}

// Block is one piece of a section: a table, or text that may stand behind a
// label.
type Block struct {
	Indent int
	Label  string
	Grave  string // the severity or caution word that the label is coloured by; "" for none
	Text   string
	Blank  bool // an empty line, for print
	Table  *Grid
}

// sheet collects the sections of a result.
type sheet struct{ sections []Section }

func (s *sheet) heading(title string) { s.sections = append(s.sections, Section{Title: title}) }

func (s *sheet) block(b Block) {
	last := &s.sections[len(s.sections)-1]
	last.Blocks = append(last.Blocks, b)
}

func (s *sheet) blank() { s.block(Block{Blank: true}) }

func (s *sheet) para(indent int, text string) { s.block(Block{Indent: indent, Text: text}) }

func (s *sheet) item(label, style, text string) {
	grave := ""
	switch style {
	case red:
		grave = "fault"
	case yellow:
		grave = "warning"
	}
	indent := len(label) - len(strings.TrimLeft(label, " "))
	s.block(Block{Indent: indent, Label: label[indent:], Grave: grave, Text: text})
}

func (s *sheet) table(g *Grid) {
	if len(g.Rows) > 0 {
		s.block(Block{Table: g})
	}
}

// sheet prints collected sections.
func (p *page) sheet(s *sheet) {
	for _, section := range s.sections {
		p.heading(section.Title)
		for _, b := range section.Blocks {
			switch {
			case b.Blank:
				p.blank()
			case b.Table != nil:
				p.table(b.Table)
			case b.Label != "":
				p.item(strings.Repeat(" ", b.Indent)+b.Label, map[string]string{"fault": red, "warning": yellow}[b.Grave], b.Text)
			default:
				p.para(b.Indent, b.Text)
			}
		}
	}
}

// Facts are the three things that carry the verdict, under their heading.
func Facts(d *decode.Diagnosis) Section {
	s := &sheet{}
	s.facts(d, letter(d.Findings))
	return s.sections[0]
}

// Next is what to measure next. Command is the command line so far, up to
// where a further --reading goes.
func Next(d *decode.Diagnosis, command string) []Section {
	s := &sheet{}
	s.next(d, command)
	return s.sections
}

// Detail is everything below the first screen.
func Detail(d *decode.Diagnosis) []Section {
	s := &sheet{}
	s.detail(d, letter(d.Findings))
	return s.sections
}

// Letters name the findings in their order, as the facts and tables do.
func Letters(d *decode.Diagnosis) []string { return letter(d.Findings) }

// VerdictLine is the verdict in one line: the side, and how sure that is.
func VerdictLine(v *location.Verdict) string { return verdictLine(v) }

// Side names a location as it is said at the bench.
func Side(l rules.Location) string { return side(l) }

// Percent prints a probability; what is not certain never reads 0 or 100.
func Percent(p float64) string { return percent(p) }

// Sentence is s with a capital letter and one full stop.
func Sentence(s string) string { return capital(stop(s)) }
