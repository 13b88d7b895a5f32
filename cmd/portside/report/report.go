// Package report writes a result as one self-contained HTML page that opens
// from disk, prints in grey and is complete without script. It shows what the
// text shows and never judges.
package report

import (
	"bytes"
	"html/template"
	"io"
	"slices"
	"strings"

	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/compare"
	"portside/decode/rules"
)

// File is one input as the report names it: by base name, never by path.
type File struct {
	Name   string
	SHA256 string // of the bytes as they lie on disk, in hexadecimal
	Bytes  int64
	Unread string // why the result does not rest on it; "" where it does
}

// About is what a report says of itself.
type About struct {
	Version  string // of the program
	Standard string // the revision it knows
	Files    []File
}

// Read are the files that the result rests on.
func (a About) Read() []File {
	return slices.DeleteFunc(slices.Clone(a.Files), func(f File) bool { return f.Unread != "" })
}

// Unread are the files that were given and could not be read.
func (a About) Unread() []File {
	return slices.DeleteFunc(slices.Clone(a.Files), func(f File) bool { return f.Unread == "" })
}

// View is all that a page shows of a result.
type View struct {
	Title    string
	Heading  string
	Lead     string
	Sides    []Side
	Plots    []*plot
	Frame    *frame         // of a recording of the line; nil without
	First    []text.Section // facts and the next measurement, above the picture
	Sections []section
	About    About
	Focused  bool   // the heading takes the keyboard's focus when the page opens
	Policy   string // the page's own content policy
	Style    any    // the page's own, ready for the template
	Script   any
}

// section is a section that may list the letters of a picture.
type section struct {
	text.Section

	Of string // the picture's ID; "" where it lists none
}

// Side is one place on the current's way, with its share of the verdict.
type Side struct {
	Location rules.Location
	Name     string
	Share    string
	Was      string // its share before the last reading; "" where there was none
	Percent  int
	Named    bool // the verdict names it
}

// Recorded is a diagnosis with what else its recording shows.
type Recorded struct {
	*decode.Diagnosis

	Talk  *Talk           // nil without messages
	Frame *text.FrameView // of a recording of the line; nil without
}

// Diagnosis writes the report of a diagnosis; see [OfDiagnosis].
func Diagnosis(w io.Writer, r Recorded, command string, about About) error {
	return write(w, OfDiagnosis(r, command, about))
}

// OfDiagnosis is what a page shows of a diagnosis. Command is the command line so far,
// up to where a further --reading goes.
func OfDiagnosis(r Recorded, command string, about About) *View {
	d := r.Diagnosis
	v := &View{
		Heading: text.VerdictLine(&d.Verdict),
		Lead:    text.Sentence(d.Verdict.Summary),
		Sides:   sides(d),
		First:   []text.Section{text.Facts(d)},
		About:   about,
	}
	next := text.Next(d, command)
	if len(next) > 0 { // what comes after it stands behind the picture
		v.First = append(v.First, next[0])
		next = next[1:]
	}
	if p := picture(r, ""); p != nil {
		v.Plots = append(v.Plots, p)
	}
	if r.Frame != nil {
		v.Frame = frameOf(r.Frame)
	}
	v.list(next, "")
	v.list(text.Detail(d), "plot")
	v.Title = title(v.Heading, about.Read())
	return v
}

// list adds sections whose letters belong to the picture of that ID. A picture
// whose letters stand in no section lists them itself.
func (v *View) list(sections []text.Section, id string) {
	for _, s := range sections {
		x := section{Section: s}
		if s.Lettered {
			x.Of = id
			for _, p := range v.Plots {
				p.Listed = p.Listed || p.ID == id
			}
		}
		v.Sections = append(v.Sections, x)
	}
}

// Comparison writes the report of a recording from before a repair beside one
// from after it.
func Comparison(w io.Writer, c *compare.Comparison, before, after Recorded, about About) error {
	return write(w, OfComparison(c, before, after, about))
}

// OfComparison is what a page shows of a comparison.
func OfComparison(c *compare.Comparison, before, after Recorded, about About) *View {
	v := &View{
		Heading: text.ComparisonLine(c),
		Lead:    text.Sentence(c.Summary),
		First:   text.Changes(c, before.Diagnosis, after.Diagnosis),
		About:   about,
	}
	for _, side := range []struct {
		name string
		of   Recorded
	}{{"Before", before}, {"After", after}} {
		if p := picture(side.of, side.name); p != nil {
			p.ID = strings.ToLower(side.name)
			v.Plots = append(v.Plots, p)
		}
	}
	v.list([]text.Section{{
		Title:  "After, by itself",
		Blocks: []text.Block{{Text: "The rest of this page is of the recording from after. For the same of the other, run diagnose on it."}},
	}}, "")
	v.list(text.Detail(after.Diagnosis), "after")
	v.Title = title(v.Heading, about.Read())
	return v
}

// Since sets the shares of an earlier verdict beside those of the view.
func (v *View) Since(earlier map[rules.Location]float64) {
	for i := range v.Sides {
		if p, ok := earlier[v.Sides[i].Location]; ok {
			v.Sides[i].Was = text.Percent(p)
		}
	}
}

func title(heading string, files []File) string {
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
	}
	return strings.Join(append([]string{strings.TrimSuffix(heading, ".")}, names...), " - ")
}

// sides lie along the current: before, at and behind the port; then healthy.
func sides(d *decode.Diagnosis) []Side {
	var out []Side
	for _, l := range []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy} {
		p := d.Verdict.Locations[l]
		out = append(out, Side{
			Location: l, Name: text.Side(l), Share: text.Percent(p), Percent: int(100*p + 0.5),
			Named: d.Verdict.Location == l,
		})
	}
	return out
}

// write renders the page whole before any byte of it goes out.
func write(w io.Writer, v *View) error {
	a, err := load()
	if err != nil {
		return err
	}
	v.Style, v.Script, v.Policy = a.style, a.script, a.policy
	page, err := Templates()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := page.ExecuteTemplate(&b, "page.html", v); err != nil {
		return err
	}
	_, err = w.Write(Plain(b.Bytes()))
	return err
}

// Plain shows what could steer a reader as text: control characters and marks that
// turn the direction of writing. The templates see to markup; these they let through.
func Plain(page []byte) []byte {
	lines := bytes.Split(page, []byte("\n"))
	for i, line := range lines {
		lines[i] = []byte(text.Safe(string(line)))
	}
	return bytes.Join(lines, []byte("\n"))
}

// Templates are the parts of a page by name, each for a [View]: "verdict" is the
// heading and the shares, "first" what the hands do next, "rest" the picture,
// the tables and the files.
func Templates() (*template.Template, error) {
	return template.New("page.html").Funcs(template.FuncMap{
		"figures": figures, "grave": grave, "named": named, "cellOf": cellOf,
		"plus":    func(a, b float64) float64 { return round(a + b) },
		"plusInt": func(a, b int) int { return a + b },
		"minus":   func(a, b int) int { return a - b },
	}).ParseFS(files, "page.html")
}

// tableCell is one cell of a table.
type tableCell struct{ Text, Class string }

// cellOf marks what holds figures and what names a severity.
func cellOf(t table, column int, s string) tableCell {
	if figures(t, column) {
		return tableCell{s, "figures"}
	}
	return tableCell{s, grave(s)}
}

// figures reports a column that holds figures.
func figures(t table, column int) bool { return t.Figures[column] }

// table is a table with a name that no other on the page has.
type table struct {
	*text.Grid

	Name string
	Head []string
	Rows [][]string
	Late [][]string // the rows behind those that are left out
	Left int        // how many are left out
}

// longestTable is how many rows of a table a page shows: more than anybody reads, and
// a tenth of what the picture takes.
const longestTable = 200

// named names a table by its section and its headings.
func named(section string, g *text.Grid) table {
	headings := slices.DeleteFunc(slices.Clone(g.Head), func(h string) bool { return h == "" })
	t := table{Grid: g, Name: section + ": " + strings.Join(headings, ", "), Head: g.Head, Rows: g.Rows}
	if left := len(g.Rows) - longestTable; left > 0 {
		t.Left, t.Rows, t.Late = left, g.Rows[:longestTable/2], g.Rows[len(g.Rows)-longestTable/2:]
	}
	return t
}

// grave is the severity that a cell or label names, "" for none.
func grave(s string) string {
	if s == "FAIL" {
		return "fault"
	}
	for _, word := range []string{"FAULT", "WARNING", "NOTE"} {
		if strings.HasSuffix(strings.TrimSpace(s), word) {
			return strings.ToLower(word)
		}
	}
	return ""
}
