package report

import (
	"fmt"
	"strings"

	"portside/cmd/portside/text"
)

// Sizes of the picture of a frame. A row holds the ordered set and the header, or a
// data object: every row begins with a byte.
const (
	frameLeft  = 96
	bitWide    = 20
	bitsPerRow = 8 * text.BitsPerSymbol
	frameRight = 90 // room for the words where a frame breaks
	frameTop   = 10
	waveHigh   = 22
	bitBase    = waveHigh + 16 // of the digits, below the row's top
	symbolTop  = waveHigh + 22
	boxHigh    = 20
	byteTop    = symbolTop + boxHigh + 2
	rowHigh    = byteTop + boxHigh + 18
	bareHigh   = waveHigh + 34 // of a row without symbols
)

// frame is one frame of the line: its level over the bits, and below them the symbols
// and the bytes that they make.
type frame struct {
	Title, Who, Said, Broken, Desc string
	Wide, High                     int
	Left, Top                      int
	BitWide                        int
	LeftOut                        int // bits of preamble before the first row
	Rows                           []frameRow
	BreakX, BreakY                 int // where it broke; 0 for a good one
	Figures, Parts                 table
}

type frameRow struct {
	Y       int
	Label   string
	Wave    string
	Digits  []digit
	Symbols []box
	Bytes   []box
}

type digit struct {
	X, Y int
	Bit  byte
}

type box struct {
	X, Y, W, High, TextX, TextY int
	Text                        string
}

// frameOf lays a frame out.
func frameOf(v *text.FrameView) *frame {
	f := &frame{
		Title: v.Title, Who: v.Who, Said: v.Said, Broken: v.Broken,
		Wide: frameLeft + bitsPerRow*bitWide + frameRight, Left: frameLeft, Top: frameTop, BitWide: bitWide,
	}
	first := v.SetAt
	if first < 0 {
		first = len(v.Bits)
	}
	levels := v.Levels()
	f.LeftOut = max(0, first-bitsPerRow)
	y := frameTop
	if first > 0 {
		f.Rows = append(f.Rows, f.row(v, levels, f.LeftOut, first, y))
		y += bareHigh
	}
	for at := first; at < len(v.Bits); at += bitsPerRow {
		f.Rows = append(f.Rows, f.row(v, levels, at, min(at+bitsPerRow, len(v.Bits)), y))
		y += rowHigh
	}
	f.High = y
	if n := len(f.Rows); v.Broken != "" && n > 0 {
		last := f.Rows[n-1]
		f.BreakX, f.BreakY = frameLeft+len(last.Digits)*bitWide, last.Y
	}
	f.Figures = figuresOf(v)
	f.Parts = partsOf(v)
	f.Desc = f.words(v)
	return f
}

// row lays out some bits.
func (f *frame) row(v *text.FrameView, levels []bool, from, to, y int) frameRow {
	r := frameRow{Y: y, Label: fmt.Sprintf("%.1f us", v.StartsUS[from])}
	r.Wave = wave(levels, from, to, y)
	for i, b := range v.Bits[from:to] {
		r.Digits = append(r.Digits, digit{X: frameLeft + i*bitWide + bitWide/2, Y: y + bitBase, Bit: b})
	}
	if v.SetAt < 0 || from < v.SetAt {
		return r
	}
	for at := from; at+text.BitsPerSymbol <= to; at += text.BitsPerSymbol {
		n := (at - v.SetAt) / text.BitsPerSymbol
		x := frameLeft + (at-from)*bitWide
		r.Symbols = append(r.Symbols, boxAt(x, y+symbolTop, 1, v.Symbols[n].String()))
		if n == 0 {
			r.Bytes = append(r.Bytes, boxAt(x, y+byteTop, text.SetSymbols, v.Set))
		}
		if s := v.Byte(n); s != "" {
			r.Bytes = append(r.Bytes, boxAt(x, y+byteTop, 2, s))
		}
	}
	return r
}

// boxAt is a box over so many symbols.
func boxAt(x, y, symbols int, s string) box {
	w := symbols * text.BitsPerSymbol * bitWide
	return box{X: x + 1, Y: y, W: w - 2, High: boxHigh, TextX: x + w/2, TextY: y + 14, Text: s}
}

// wave is the path of the level over some bits. It begins with the edge that begins its
// first bit, where there is one.
func wave(levels []bool, from, to, y int) string {
	at := func(high bool) int {
		if high {
			return y
		}
		return y + waveHigh
	}
	var b strings.Builder
	fmt.Fprintf(&b, "M%d %d", frameLeft, at(levels[2*max(from-1, 0)+min(from, 1)]))
	for i := 2 * from; i < 2*to; i++ {
		fmt.Fprintf(&b, "V%dH%g", at(levels[i]), float64(frameLeft)+float64(i-2*from+1)*bitWide/2)
	}
	return b.String()
}

// figuresOf are the measured figures of a frame beside their limits.
func figuresOf(v *text.FrameView) table {
	g := &text.Grid{Head: []string{"measured", "value", "the standard"}, Figures: map[int]bool{1: true}}
	for _, x := range v.Figures {
		g.Rows = append(g.Rows, []string{x.Name, x.Value, x.Limit})
	}
	return named(v.Title, g)
}

// partsOf is the picture as a table: what begins when, its bits, symbols and byte.
func partsOf(v *text.FrameView) table {
	g := &text.Grid{Head: []string{"begins after, us", "bits", "symbols", "byte"}, Figures: map[int]bool{0: true}}
	add := func(from, to int, symbols, what string) {
		if from < to {
			g.Rows = append(g.Rows, []string{fmt.Sprintf("%.1f", v.StartsUS[from]), digits(v.Bits[from:to]), symbols, what})
		}
	}
	if v.SetAt < 0 {
		add(0, len(v.Bits), "", "no ordered set was found")
		return named(v.Title, g)
	}
	add(0, v.SetAt, "", "preamble")
	end := v.SetAt
	for n := 0; n < len(v.Symbols); {
		count, what := 1, ""
		if n == 0 {
			count, what = min(text.SetSymbols, len(v.Symbols)), v.Set
		} else if what = v.Byte(n); what != "" {
			count = 2
		}
		var names []string
		for _, s := range v.Symbols[n : n+count] {
			names = append(names, s.String())
		}
		from := v.SetAt + n*text.BitsPerSymbol
		end = from + count*text.BitsPerSymbol
		add(from, end, strings.Join(names, " "), what)
		n += count
	}
	add(end, len(v.Bits), "", "less than a symbol")
	return named(v.Title, g)
}

// digits are bits in groups of a symbol.
func digits(bits []byte) string {
	var b strings.Builder
	for i, x := range bits {
		if i > 0 && i%text.BitsPerSymbol == 0 {
			b.WriteByte(' ')
		}
		b.WriteByte('0' + x)
	}
	return b.String()
}

// words say what the picture shows.
func (f *frame) words(v *text.FrameView) string {
	words := []string{text.Sentence(v.Title)}
	if v.Who+v.Said != "" {
		words = append(words, text.Sentence(strings.TrimSpace(v.Who+" "+v.Said)))
	}
	if v.Broken != "" {
		words = append(words, text.Sentence("broken: "+v.Broken))
	}
	var bytes []string
	for n := range v.Symbols {
		if s := v.Byte(n); s != "" {
			bytes = append(bytes, s)
		}
	}
	if len(bytes) > 0 {
		words = append(words, "Bytes in the order sent: "+strings.Join(bytes, " ")+".")
	}
	return strings.Join(words, " ")
}
