package captures

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
)

// delimiters are what a delimited text may part its cells with.
var delimiters = [...]byte{',', ';', '\t', '|'}

// lookAhead is how many rows under a header are tried before it is believed:
// a preamble may speak of time, voltage and current too.
const lookAhead = 20

// header is the header row of an input and what it says.
type header struct {
	kind      Kind
	delimiter byte
	line      int // 1-based
	end       int // bytes of the block up to and with its line end
	cells     []string
	columns   meterColumns   // of a meter log
	fields    messageColumns // of a message list
	notes     []string
}

// nearMiss is the best reason found so far why a row is no header.
type nearMiss struct {
	line     int
	found    string
	expected string
	hint     string
	weight   int
}

// findHeader looks for the header row at the start of the text and leaves the
// reader behind it. Text above the header is never read as data.
func findHeader(path string, lines *lineReader, o Options) (header, error) {
	block := lines.prime()
	if !bytes.ContainsRune(block, '\n') && len(block) >= bufferSize {
		return header{}, &UnusableError{File: path, Line: 1, Offset: 0, Expected: "lines of text", Found: fmt.Sprintf("no line end in the first %d KiB", len(block)>>10)}
	}
	var fallback *header
	var miss nearMiss
	line := 0
	for at := 0; at < len(block); {
		row, end := lineAt(block, at)
		line++
		if len(trimCell(row)) > 0 && !isComment(row) {
			found, ok := headerIn(row, o, line, &miss)
			if ok {
				found.line, found.end = line, end
				if believed(found, block[end:], o) {
					lines.consume(found.end, found.line)
					return found, nil
				}
				if fallback == nil {
					fallback = &found
				}
			}
		}
		at = end
	}
	if fallback != nil {
		lines.consume(fallback.end, fallback.line)
		return *fallback, nil
	}
	return header{}, noHeader(path, block, lines.err, miss, o)
}

// noHeader says what stood where a header was expected.
func noHeader(path string, block []byte, cause error, miss nearMiss, o Options) error {
	e := &UnusableError{File: path, Line: miss.line, Offset: -1, Expected: miss.expected, Found: miss.found, Hint: miss.hint}
	if cause != nil && !errors.Is(cause, io.EOF) {
		e.Err = cause
		e.Expected, e.Found = "a recording", causeWords(cause)
		return e
	}
	if miss.weight == 0 {
		e.Expected = "a header row that names time, voltage and current, or time_s, sop and bytes"
		if o.As == KindMeter {
			e.Expected = "a header row that names time, voltage and current"
		}
		if o.As == KindMessages {
			e.Expected = "a header row that names time_s, sop and bytes"
		}
		first, _ := lineAt(block, 0)
		e.Line, e.Found = 1, shown(trimCell(first))
		if len(trimCell(first)) == 0 {
			e.Found = "no such row"
		}
	}
	return e
}

func lineAt(block []byte, at int) (row []byte, end int) {
	if i := bytes.IndexByte(block[at:], '\n'); i >= 0 {
		return trimCR(block[at : at+i]), at + i + 1
	}
	return trimCR(block[at:]), len(block)
}

// headerIn tries a row as a header with every delimiter.
func headerIn(row []byte, o Options, line int, miss *nearMiss) (header, bool) {
	for _, delimiter := range delimiters {
		cells, open := splitRow(nil, row, delimiter)
		if open || len(cells) < 2 && !o.Columns.given() {
			continue
		}
		names := make([]string, len(cells))
		for i, cell := range cells {
			names[i] = string(cell)
		}
		if o.As != KindMeter {
			if fields, ok := messageHeader(names); ok {
				return header{kind: KindMessages, delimiter: delimiter, cells: names, fields: fields}, true
			}
		}
		if o.As != KindMessages {
			if found, ok := meterHeader(names, o, line, miss); ok {
				found.delimiter = delimiter
				return found, true
			}
		}
	}
	return header{}, false
}

// meterHeader takes a row as the header of a meter log.
func meterHeader(names []string, o Options, line int, miss *nearMiss) (header, bool) {
	columns, err := findMeterColumns(names, o)
	if err == nil {
		h := header{kind: KindMeter, cells: names, columns: columns}
		h.notes = append(h.notes, columns.note(names))
		return h, true
	}
	if weight := columns.found(); weight >= 2 && weight > miss.weight {
		*miss = nearMiss{
			line: line, weight: weight, expected: err.Error(),
			found: "the columns " + strings.Join(quoted(names), ", "),
			hint:  "name them with --columns time=NAME,voltage=NAME,current=NAME",
		}
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

// believed reports whether the rows under a header look like its data: one of
// the next rows can be read, or there is none at all.
func believed(h header, rest []byte, o Options) bool {
	if h.kind == KindMessages {
		return true // its three names stand in no preamble by chance
	}
	rows := 0
	for at := 0; at < len(rest) && rows < lookAhead; {
		row, end := lineAt(rest, at)
		at = end
		if len(trimCell(row)) == 0 || isComment(row) {
			continue
		}
		rows++
		cells, open := splitRow(nil, row, h.delimiter)
		if open {
			continue
		}
		if _, isUnits := h.columns.unitsRow(cells); rows == 1 && isUnits {
			return true
		}
		if h.columns.readable(cells, h.delimiter != ',', o) {
			return true
		}
	}
	return rows == 0
}

// prime fills the buffer and gives all of it without taking it.
func (l *lineReader) prime() []byte {
	for l.end < bufferSize && l.err == nil {
		n, err := l.src.Read(l.buf[l.end:])
		l.end += n
		l.err = err
	}
	return l.buf[:l.end]
}

// consume takes what prime showed, up to the end of the given line.
func (l *lineReader) consume(end, line int) { l.start, l.line = end, line }
