package text

import (
	"fmt"
	"io"
	"strings"

	"portside/pd"
)

// FrameView is one frame of the line as it is drawn.
type FrameView struct {
	Title    string
	Who      string // who speaks, "" unknown
	Said     string
	Broken   string // why it could not be read to its end, "" for a good one
	Set      string // name of the ordered set
	Bits     []byte
	StartsUS []float64 // of each bit, since the frame's first
	SetAt    int       // first bit of the ordered set, -1 for none
	High     bool      // in the first half of the first bit
	Symbols  []pd.Symbol
	Figures  []FrameFigure
}

// FrameFigure is one measured figure beside its limit.
type FrameFigure struct{ Name, Value, Limit string }

// The parts of a frame (USB PD R3.2 V1.1, table 5.3 and tables 5.5 to 5.12).
const (
	BitsPerSymbol = 5
	SetSymbols    = 4 // of an ordered set
)

const (
	bitColumns = 2  // one for each half
	bitsPerRow = 20 // an ordered set, or two bytes
	frameLabel = 10
)

// Frame draws a frame: the level of the line over the bits, under them the
// symbols and the bytes that they make.
func Frame(w io.Writer, look Look, f FrameView) error {
	p := newPage(w, look)
	p.put(p.paint(bold, f.Title))
	label := pad(f.Who, frameLabel)
	p.item(label, "", f.Said)
	if f.Broken != "" {
		p.item(pad("broken", frameLabel), red, stop(f.Broken))
	}
	p.blank()
	g := newGrid("measured", "value", "the standard")
	for _, x := range f.Figures {
		g.add(x.Name, x.Value, x.Limit)
	}
	p.table(g)
	p.frameRows(&f)
	return p.close()
}

// frameRows draws row by row. The preamble is the same 20 bits over and over:
// only its end is drawn.
func (p *page) frameRows(f *FrameView) {
	first := f.SetAt
	if first < 0 {
		first = len(f.Bits)
	}
	p.blank()
	p.put(fmt.Sprintf("%*s  %s", frameLabel-2, "us", "level, bits, symbols, bytes"))
	from := max(0, first-bitsPerRow)
	if from > 0 {
		p.put(fmt.Sprintf("%*s  %d bits of preamble before these", frameLabel-2, "", from))
	}
	p.frameRow(f, from, first, "preamble")
	for at := first; at < len(f.Bits); at += bitsPerRow {
		note := ""
		if at == first {
			note = f.Set
		}
		p.frameRow(f, at, min(at+bitsPerRow, len(f.Bits)), note)
	}
}

// frameRow draws some bits.
func (p *page) frameRow(f *FrameView, from, to int, note string) {
	if from >= to {
		return
	}
	indent := strings.Repeat(" ", frameLabel)
	p.put(fmt.Sprintf("%*.1f  %s", frameLabel-2, f.StartsUS[from], p.levels(f, from, to)))
	var bits strings.Builder
	for _, b := range f.Bits[from:to] {
		fmt.Fprintf(&bits, "%d ", b)
	}
	p.put(indent + pad(bits.String(), bitColumns*bitsPerRow) + "  " + Safe(note))
	if f.SetAt < 0 || from < f.SetAt {
		return
	}
	var symbols, bytes strings.Builder
	for at := from; at+BitsPerSymbol <= to; at += BitsPerSymbol {
		n := (at - f.SetAt) / BitsPerSymbol
		symbols.WriteString(pad(f.Symbols[n].String(), bitColumns*BitsPerSymbol))
		bytes.WriteString(pad(f.Byte(n), bitColumns*BitsPerSymbol))
	}
	p.put(indent + symbols.String())
	if strings.TrimSpace(bytes.String()) != "" {
		p.put(indent + bytes.String())
	}
}

// Byte is the byte whose low nibble, the first sent, is symbol n; "" where none begins
// there.
func (f *FrameView) Byte(n int) string {
	if n < SetSymbols || n%2 == 1 || n+1 >= len(f.Symbols) {
		return ""
	}
	low, isLow := f.Symbols[n].Nibble()
	high, isHigh := f.Symbols[n+1].Nibble()
	if !isLow || !isHigh {
		return ""
	}
	return fmt.Sprintf("%02X", high<<4|low)
}

// levels draws the line.
func (p *page) levels(f *FrameView, from, to int) string {
	low, high := "_", "-"
	if p.look.Unicode {
		low, high = "\u2581", "\u2594"
	}
	var out strings.Builder
	for _, isHigh := range f.Levels()[bitColumns*from : bitColumns*to] {
		mark := low
		if isHigh {
			mark = high
		}
		out.WriteString(mark)
	}
	return out.String()
}

// Levels says of both halves of every bit whether the line is high: it changes at the
// start of every bit, and in the middle of a 1.
func (f *FrameView) Levels() []bool {
	out := make([]bool, 0, bitColumns*len(f.Bits))
	high := f.High
	for i, b := range f.Bits {
		if i > 0 {
			high = !high
		}
		out = append(out, high)
		if b == 1 {
			high = !high
		}
		out = append(out, high)
	}
	return out
}
