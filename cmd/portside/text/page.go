// Package text prints results for people: short lines, the side of the port
// first, at most as wide as the page. It formats and never judges. Whatever
// comes from a recording passes through [Safe] on its way out.
package text

import (
	"bufio"
	"io"
	"strings"

	"github.com/clipperhouse/displaywidth"
)

// Widths of a page in columns.
const (
	DefaultWidth = 80  // where nothing is known
	minWidth     = 40  // narrower screens wrap by themselves
	maxWidth     = 110 // longer lines are hard to follow with one hand on a probe
)

// Look says what the reader's screen can show. The zero value is a pipe: plain
// ASCII layout, no colour, [DefaultWidth] columns. The facts are the same in
// every look.
type Look struct {
	Width   int  // columns; 0 means DefaultWidth
	Unicode bool // the screen draws braille and line characters
	Colour  bool
}

// page is a sheet of lines. It remembers the first error of its writer.
type page struct {
	w     *bufio.Writer
	look  Look
	width int
	err   error
}

func newPage(w io.Writer, look Look) *page {
	width := look.Width
	if width == 0 {
		width = DefaultWidth
	}
	return &page{w: bufio.NewWriter(w), look: look, width: min(max(width, minWidth), maxWidth)}
}

// close flushes the page and returns the first error.
func (p *page) close() error {
	if err := p.w.Flush(); p.err == nil {
		p.err = err
	}
	return p.err
}

// put writes one finished line, blanks at its end taken off.
func (p *page) put(line string) {
	if p.err == nil {
		_, p.err = p.w.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// blank writes an empty line.
func (p *page) blank() { p.put("") }

// heading opens a section.
func (p *page) heading(title string) {
	p.blank()
	for _, line := range wrap(Safe(title), p.width) {
		p.put(p.paint(bold, line))
	}
}

// para writes running text after an indent.
func (p *page) para(indent int, s string) {
	p.item(strings.Repeat(" ", indent), "", s)
}

// item writes text behind a label; further lines stand under the first.
func (p *page) item(label, style, s string) {
	room := max(p.width-columns(label), 20)
	rest := strings.Repeat(" ", columns(label))
	for i, line := range wrap(Safe(s), room) {
		if i > 0 {
			p.put(rest + line)
			continue
		}
		p.put(p.paint(style, label) + line)
	}
}

// Styles of a terminal that shows colour; the word always stands beside them.
const (
	bold   = "1"
	red    = "1;31"
	yellow = "33"
)

// paint colours finished text where the page has colour.
func (p *page) paint(style, s string) string {
	if !p.look.Colour || style == "" || strings.TrimSpace(s) == "" {
		return s
	}
	return "\x1b[" + style + "m" + s + "\x1b[0m"
}

// columns is the width of s on a terminal, whatever the locale.
func columns(s string) int { return displaywidth.String(s) }

// wrap breaks s at blanks into lines of at most width columns; a longer word
// is broken where the line ends. A figure and its unit stay together. There is
// always at least one line.
func wrap(s string, width int) []string {
	var lines []string
	line := ""
	for _, word := range figures(strings.Fields(s)) {
		for {
			switch {
			case line == "" && columns(word) <= width:
				line, word = word, ""
			case line != "" && columns(line)+1+columns(word) <= width:
				line, word = line+" "+word, ""
			case line != "":
				lines, line = append(lines, line), ""
				continue
			default:
				head := cut(word, width)
				lines, word = append(lines, head), word[len(head):]
				continue
			}
			break
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// cut returns the longest head of s that fits, at least one character.
func cut(s string, width int) string {
	end := 0
	g := displaywidth.StringGraphemes(s)
	for used := 0; g.Next(); {
		used += g.Width()
		if used > width && end > 0 {
			break
		}
		end += len(g.Value())
	}
	return s[:end]
}

// pad fills s with blanks to width columns.
func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(width-columns(s), 0))
}
