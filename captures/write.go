package captures

import (
	"bufio"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// Writer writes the records of a recording to one file format.
type Writer interface {
	// Write takes one record of the input that gave it, in the order of time.
	Write(r Record, from *Input) error
	// Close writes what is held back. It does not close the destination.
	Close() error
	// Written is what was written and what the format had no place for.
	Written() Written
}

// Written counts what a [Writer] did with the records.
type Written struct {
	Messages, Samples int
	Dropped           []Dropped // in the order first met
}

// Dropped is something that a format has no place for.
type Dropped struct {
	What  string // as its column or marker is called
	Count int
}

// drop counts one piece that has no place.
func (w *Written) drop(what string) {
	for i := range w.Dropped {
		if w.Dropped[i].What == what {
			w.Dropped[i].Count++
			return
		}
	}
	w.Dropped = append(w.Dropped, Dropped{What: what, Count: 1})
}

// UnreadColumns names the columns of a text that no record holds, such as a
// temperature.
func (in *Input) UnreadColumns() []string { return in.unread }

// unread names the columns that are not taken.
func (h header) unread() []string {
	taken := map[int]bool{}
	if h.kind == KindMessages {
		f := h.fields
		for _, index := range []int{f.time, f.sop, f.bytes, f.end, f.crc, f.status, f.author} {
			taken[index] = true
		}
	} else {
		c := h.columns
		for _, column := range []meterColumn{c.time, c.voltage, c.current, c.cc[0], c.cc[1]} {
			taken[column.index] = true
		}
	}
	var names []string
	for i, cell := range h.cells {
		if name := strings.TrimSpace(cell); !taken[i] && name != "" {
			names = append(names, name)
		}
	}
	return names
}

// rowWriter writes a delimited text from one buffer that it reuses. No cell
// that it is given needs quoting.
type rowWriter struct {
	dst *bufio.Writer
	row []byte
}

func newRowWriter(dst io.Writer) rowWriter {
	return rowWriter{dst: bufio.NewWriterSize(dst, bufferSize)}
}

// end closes the row.
func (w *rowWriter) end() error {
	w.row[len(w.row)-1] = '\n' // in place of the last comma
	_, err := w.dst.Write(w.row)
	w.row = w.row[:0]
	return err
}

func (w *rowWriter) text(s string) {
	w.row = append(w.row, s...)
	w.row = append(w.row, ',')
}

// time writes seconds: microseconds always, nanoseconds where there are some.
func (w *rowWriter) time(at time.Duration) {
	if at < 0 {
		w.row = append(w.row, '-')
	}
	// The magnitude as uint64 also holds that of the smallest int64.
	ns := uint64(at)
	if at < 0 {
		ns = -ns
	}
	w.row = strconv.AppendUint(w.row, ns/1e9, 10)
	digits, fraction := 9, ns%1e9
	if fraction%1000 == 0 {
		digits, fraction = 6, fraction/1000
	}
	w.row = append(w.row, '.')
	from := len(w.row)
	for range digits {
		w.row = append(w.row, '0')
	}
	for i := len(w.row) - 1; i >= from; i-- {
		w.row[i] += byte(fraction % 10)
		fraction /= 10
	}
	w.row = append(w.row, ',')
}

// reading writes the shortest number that reads back the same; a gap is empty.
func (w *rowWriter) reading(v float64) {
	if !math.IsNaN(v) {
		w.row = strconv.AppendFloat(w.row, v, 'f', -1, 64)
	}
	w.row = append(w.row, ',')
}

// hex writes bytes in the order of the wire.
func (w *rowWriter) hex(b []byte) {
	const digits = "0123456789abcdef"
	for _, c := range b {
		w.row = append(w.row, digits[c>>4], digits[c&15])
	}
	w.row = append(w.row, ',')
}
