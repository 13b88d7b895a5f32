package text

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

const (
	tableIndent = "  "
	columnGap   = 2
	minColumn   = 6
	maxWord     = 40 // longer words may be broken to make room
	// maxRows bounds a table on paper; the JSON document has the rest.
	maxRows = 20
)

// Grid is a table: headings and rows of unsafe text.
type Grid struct {
	Head    []string
	Rows    [][]string
	Figures map[int]bool // columns that hold figures, by place
	narrow  map[int]int  // bounds of columns that may wrap early
	whole   bool         // every row is shown, however many
}

func newGrid(head ...string) *Grid {
	return &Grid{Head: head, Figures: map[int]bool{}, narrow: map[int]int{}}
}

func (g *Grid) figures(columns ...int) *Grid {
	for _, c := range columns {
		g.Figures[c] = true
	}
	return g
}

func (g *Grid) add(cells ...string) { g.Rows = append(g.Rows, cells) }

// table prints a grid; nothing where it has no rows. Cells wrap, and no cell
// is cut.
func (p *page) table(g *Grid) {
	if len(g.Rows) == 0 {
		return
	}
	rest := max(len(g.Rows)-maxRows, 0)
	if g.whole {
		rest = 0
	}
	rows := g.Rows[:len(g.Rows)-rest]
	cells := make([][]string, 0, len(rows)+1)
	for _, row := range append([][]string{g.Head}, rows...) {
		safe := make([]string, len(g.Head))
		for i, cell := range row {
			safe[i] = Safe(cell)
		}
		cells = append(cells, safe)
	}
	widths := fit(cells, g.narrow, p.width-len(tableIndent))
	for _, row := range cells {
		for i := range row {
			row[i] = strings.Join(wrap(row[i], widths[i]), "\n")
		}
	}
	for _, line := range strings.Split(strings.TrimRight(p.render(g, cells), "\n"), "\n") {
		p.put(tableIndent + line)
	}
	if rest > 0 {
		p.para(len(tableIndent), fmt.Sprintf("%s more: --json lists them.", count(rest, "row", "rows")))
	}
}

// fit gives each column its natural width, and takes from the widest until
// all fit the room. Words are broken only where nothing else is left to take.
func fit(cells [][]string, narrow map[int]int, room int) []int {
	widths, words := make([]int, len(cells[0])), make([]int, len(cells[0]))
	for _, row := range cells {
		for i, cell := range row {
			widths[i] = max(widths[i], columns(cell))
			for _, word := range strings.Fields(cell) {
				words[i] = max(words[i], min(columns(word), maxWord))
			}
		}
	}
	for i, most := range narrow {
		widths[i] = max(min(widths[i], most), words[i])
	}
	room -= columnGap * (len(widths) - 1)
	shrink(widths, words, room)
	shrink(widths, make([]int, len(widths)), room)
	return widths
}

// shrink takes from the widest column that is above its floor until the sum
// fits the room or every column stands at its floor.
func shrink(widths, floors []int, room int) {
	for {
		total, widest := 0, -1
		for i, w := range widths {
			total += w
			if w > max(floors[i], minColumn) && (widest < 0 || w > widths[widest]) {
				widest = i
			}
		}
		if total <= room || widest < 0 {
			return
		}
		widths[widest]--
	}
}

// render lays the wrapped cells out: no frame, one rule under the headings.
func (p *page) render(g *Grid, cells [][]string) string {
	rule := "-"
	if p.look.Unicode {
		rule = "─"
	}
	symbols := tw.NewSymbolCustom("plain").WithRow(rule).WithColumn(strings.Repeat(" ", columnGap)).WithCenter(strings.Repeat(rule, columnGap))
	align := make([]tw.Align, len(g.Head))
	for i := range align {
		align[i] = tw.AlignLeft
		if g.Figures[i] {
			align[i] = tw.AlignRight
		}
	}
	var out bytes.Buffer
	t := tablewriter.NewTable(&out,
		tablewriter.WithRenderer(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone,
			Symbols: symbols,
			Settings: tw.Settings{
				Lines:      tw.Lines{ShowTop: tw.Off, ShowBottom: tw.Off, ShowHeaderLine: tw.On, ShowFooterLine: tw.Off},
				Separators: tw.Separators{ShowHeader: tw.On, ShowFooter: tw.Off, BetweenRows: tw.Off, BetweenColumns: tw.On},
			},
		})),
		tablewriter.WithConfig(tablewriter.Config{
			Header: tw.CellConfig{
				Formatting: tw.CellFormatting{AutoFormat: tw.Off, AutoWrap: tw.WrapNone},
				Padding:    tw.CellPadding{Global: tw.PaddingNone},
				Alignment:  tw.CellAlignment{PerColumn: align},
			},
			Row: tw.CellConfig{
				Formatting: tw.CellFormatting{AutoFormat: tw.Off, AutoWrap: tw.WrapNone},
				Padding:    tw.CellPadding{Global: tw.PaddingNone},
				Alignment:  tw.CellAlignment{PerColumn: align},
			},
		}),
		tablewriter.WithEastAsian(tw.Off),
	)
	t.Header(cells[0])
	for _, row := range cells[1:] {
		if err := t.Append(row); err != nil {
			p.err = err
		}
	}
	if err := t.Render(); err != nil {
		p.err = err
	}
	return out.String()
}
