package captures

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"portside/captures/line"
)

// delimiters are what a delimited text may part its cells with.
var delimiters = [...]byte{',', ';', '\t', '|'}

const (
	// lookAhead is how many rows under a header are tried before it is
	// believed: a preamble may speak of time, voltage and current too.
	lookAhead = 20
	// maxPreamble is how much text may stand above the header row.
	maxPreamble = 1 << 20
)

// header is the header row of an input and what it says.
type header struct {
	kind      Kind
	delimiter byte
	line      int            // 1-based
	end       int            // bytes up to and with its line end, or that of the units row
	lines     int            // lines up to there
	cells     []string       // the headings
	columns   meterColumns   // of a meter log
	fields    messageColumns // of a message list
	layout    line.Layout    // of a recording of the CC line
	notes     []string
}

// comma reports whether a decimal comma is allowed.
func (h *header) comma() bool { return h.delimiter != ',' }

// nearMiss is the best reason found so far why a row is no header.
type nearMiss struct {
	line     int
	found    string
	expected string
	hint     string
	weight   int // columns that it names
}

// headerSearch looks for the header row at the start of a text.
type headerSearch struct {
	lines   *lineReader
	options Options
	miss    nearMiss
}

// findHeader finds the header row and leaves the reader behind it, and behind
// a units row under it. Text above the header is never read as data. No more
// is read than it takes to believe the header: the rest may not be written yet.
func findHeader(path string, lines *lineReader, o Options) (header, error) {
	s := headerSearch{lines: lines, options: o}
	h, ok := s.find()
	if !ok {
		return header{}, s.failure(path)
	}
	if h.kind == KindMeter {
		s.turnIntoLine(&h)
	}
	h.layout.Delimiter, h.layout.Comma = h.delimiter, h.comma()
	lines.take(h.end, h.lines)
	return h, nil
}

// find tries every row. Where none is believed, it takes the first that could
// be a header.
func (s *headerSearch) find() (found header, ok bool) {
	for off, line := 0, 1; off < maxPreamble; line++ {
		row, size, err := s.lines.peek(off)
		if err != nil {
			break
		}
		off += size
		h, isHeader := s.headerIn(row, line)
		if !isHeader {
			continue
		}
		h.line, h.lines, h.end = line, line, off
		believed, err := s.believe(&h)
		if err != nil {
			s.missed(h.line, 4, err, "the units row under it")
			continue
		}
		if believed {
			return h, true
		}
		if !ok {
			found, ok = h, true
		}
	}
	return found, ok
}

// missed remembers why a row is no header, where it comes nearest to one.
func (s *headerSearch) missed(line, weight int, why error, found string) {
	if weight > s.miss.weight {
		s.miss = nearMiss{
			line: line, weight: weight, expected: why.Error(), found: found,
			hint: "name them with --columns time=NAME,voltage=NAME,current=NAME",
		}
	}
}

// headerIn tries a row as a header with every delimiter.
func (s *headerSearch) headerIn(row []byte, line int) (header, bool) {
	if passedOver(row, ',') {
		return header{}, false
	}
	for _, delimiter := range delimiters {
		cells, open := splitRow(nil, row, delimiter)
		if open || len(cells) < 2 && !s.options.Columns.given() {
			continue
		}
		names := make([]string, len(cells))
		for i, cell := range cells {
			names[i] = string(cell)
		}
		if s.options.As == KindUnknown || s.options.As == KindMessages {
			if fields, ok := messageHeader(names); ok {
				return header{kind: KindMessages, delimiter: delimiter, cells: names, fields: fields}, true
			}
		}
		if s.options.As == KindUnknown || s.options.As == KindMeter {
			if found, ok := s.meterHeader(names, line); ok {
				found.delimiter = delimiter
				return found, true
			}
		}
		if s.options.As != KindMeter {
			if found, ok := s.lineHeader(names); ok {
				found.delimiter = delimiter
				return found, true
			}
		}
	}
	return header{}, false
}

// meterHeader takes a row as the header of a meter log.
func (s *headerSearch) meterHeader(names []string, line int) (header, bool) {
	columns, err := findMeterColumns(names, s.options)
	if err == nil {
		return header{kind: KindMeter, cells: names, columns: columns, notes: columns.notes(names)}, true
	}
	if weight := columns.found(); weight >= 2 {
		s.missed(line, weight, err, "the columns "+strings.Join(quoted(names), ", "))
	}
	return header{}, false
}

func quoted(names []string) []string {
	out := make([]string, 0, len(names))
	for i, name := range names {
		if i == 12 {
			return append(out, "...")
		}
		out = append(out, shown([]byte(name)))
	}
	return out
}

// believe reports whether the rows under a header look like its data: one of
// the next rows can be read before another header, or there is none at all. A
// units row is taken with the header.
func (s *headerSearch) believe(h *header) (bool, error) {
	if h.kind == KindMessages {
		return true, nil // its three names stand in no preamble by chance
	}
	rows := 0
	for off, line := h.end, h.line+1; rows < lookAhead; line++ {
		row, size, err := s.lines.peek(off)
		if err != nil {
			break
		}
		off += size
		if passedOver(row, h.delimiter) {
			continue
		}
		rows++
		cells, _ := splitRow(nil, row, h.delimiter)
		if h.kind == KindLine {
			if rows == 1 && takeLineUnits(&h.layout, cells) {
				h.end, h.lines = off, line
				return true, nil
			}
			if lineReadable(&h.layout, cells, h.comma()) {
				return true, nil
			}
			continue
		}
		if rows == 1 {
			taken, err := h.columns.takeUnits(cells, h.comma())
			if err != nil {
				return false, err
			}
			if taken {
				h.end, h.lines = off, line
				return true, nil
			}
		}
		if h.columns.readable(cells, h.comma()) {
			return true, nil
		}
		if _, another := s.headerIn(row, line); another {
			return false, nil
		}
	}
	return rows == 0, nil
}

// failure says what stood where a header was expected.
func (s *headerSearch) failure(path string) error {
	_, _, err := s.lines.peek(0)
	cause := s.lines.err
	head := s.lines.buf[s.lines.start:s.lines.end]
	head = head[:min(len(head), headBytes)]
	e := &UnusableError{File: path, Offset: -1}
	switch at := binaryAt(head); {
	case cause != nil && !errors.Is(cause, io.EOF):
		e.Expected, e.Found, e.Err = "a recording", causeWords(cause), cause
	case len(head) == 0:
		e.Offset, e.Expected, e.Found = 0, "a recording", "nothing in it"
	case at >= 0:
		e.Offset, e.Expected = int64(at), "a text log or a message list"
		e.Found = fmt.Sprintf("binary data (byte 0x%02x at offset %d)", head[at], at)
	case errors.Is(err, errLineTooLong):
		e.Line, e.Offset, e.Expected = 1, 0, "lines of text"
		e.Found = fmt.Sprintf("no line end in the first %d KiB", maxLine>>10)
	case s.miss.weight > 0:
		e.Line, e.Expected, e.Found, e.Hint = s.miss.line, s.miss.expected, s.miss.found, s.miss.hint
	default:
		e.Line, e.Expected, e.Found = 1, s.expected(), firstRow(head)
	}
	return e
}

func (s *headerSearch) expected() string {
	switch s.options.As {
	case KindMeter:
		return "a header row that names time, voltage and current"
	case KindMessages:
		return "a header row that names time_s, sop and bytes"
	case KindLine:
		return "a Value Change Dump, or a header row that names time and cc, or cc1 and cc2"
	default:
		return "a header row that names time, voltage and current, or time_s, sop and bytes"
	}
}

// firstRow shows the first line of a text.
func firstRow(head []byte) string {
	if i := slices.Index(head, '\n'); i >= 0 {
		head = head[:i]
	}
	if head = trimCell(head); len(head) > 0 {
		return shown(bytes.Clone(head))
	}
	return "no such row"
}
