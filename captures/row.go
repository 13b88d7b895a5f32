package captures

import "bytes"

// splitRow cuts a line into its cells, outer blanks removed. A quote counts
// only at the start of a cell (RFC 4180); open reports a quoted cell that has
// not ended, so that the caller can add the next line. The cells point into
// line, except quoted ones with doubled quotes.
func splitRow(cells [][]byte, line []byte, delimiter byte) (out [][]byte, open bool) {
	for {
		line = trimLeft(line, delimiter)
		if len(line) > 0 && line[0] == '"' {
			cell, rest, closed := quotedCell(line[1:], delimiter)
			if !closed {
				return cells, true
			}
			cells = append(cells, cell)
			if rest == nil {
				return cells, false
			}
			line = rest
			continue
		}
		i := bytes.IndexByte(line, delimiter)
		if i < 0 {
			return append(cells, trimCell(line)), false
		}
		cells = append(cells, trimCell(line[:i]))
		line = line[i+1:]
	}
}

// quotedCell reads behind the opening quote. rest is nil at the end of the row.
func quotedCell(line []byte, delimiter byte) (cell, rest []byte, closed bool) {
	doubled := false
	for i := 0; i < len(line); i++ {
		if line[i] != '"' {
			continue
		}
		if i+1 < len(line) && line[i+1] == '"' {
			doubled = true
			i++
			continue
		}
		cell = line[:i]
		if doubled {
			cell = bytes.ReplaceAll(cell, []byte(`""`), []byte(`"`))
		}
		after := trimLeft(line[i+1:], delimiter)
		switch {
		case len(after) == 0:
			return trimCell(cell), nil, true
		case after[0] == delimiter:
			return trimCell(cell), after[1:], true
		}
		// Text right behind a quote: this one opened another row's cell.
	}
	return nil, nil, false
}

func trimCell(cell []byte) []byte {
	for len(cell) > 0 && isBlank(cell[0]) {
		cell = cell[1:]
	}
	for len(cell) > 0 && isBlank(cell[len(cell)-1]) {
		cell = cell[:len(cell)-1]
	}
	return cell
}

func trimLeft(line []byte, delimiter byte) []byte {
	for len(line) > 0 && isBlank(line[0]) && line[0] != delimiter {
		line = line[1:]
	}
	return line
}

func isBlank(c byte) bool { return c == ' ' || c == '\t' || c == '\r' }

// isComment reports a line that is passed over anywhere.
func isComment(line []byte) bool {
	line = trimCell(line)
	return len(line) > 0 && line[0] == '#'
}

// rowReader gives the data rows of a delimited text, comments and blank lines
// passed over, cells split.
type rowReader struct {
	lines     *lineReader
	delimiter byte
	cells     [][]byte
	joined    []byte // a row whose quoted cell runs over lines
	line      int    // where the row given last began
}

// next gives the cells of the next row, good until the next call.
func (r *rowReader) next() ([][]byte, error) {
	for {
		line, err := r.lines.next()
		r.line = r.lines.line
		if err != nil {
			return nil, err
		}
		if len(trimCell(line)) == 0 && r.delimiter != '\t' || len(line) == 0 || isComment(line) {
			continue
		}
		return r.split(line)
	}
}

// split takes further lines as long as a quoted cell is open. A quote that
// does not close soon is one damaged row: it becomes a single cell that
// nothing can read, and the lines behind it are read on their own.
func (r *rowReader) split(line []byte) ([][]byte, error) {
	var open bool
	r.cells, open = splitRow(r.cells[:0], line, r.delimiter)
	if !open {
		return r.cells, nil
	}
	r.joined = append(r.joined[:0], line...)
	var taken [][]byte
	for open && len(taken) < maxQuoted {
		more, err := r.lines.next()
		if err != nil {
			break // the reader tells it again when it is asked next
		}
		taken = append(taken, bytes.Clone(more))
		r.joined = append(append(r.joined, '\n'), more...)
		if bytes.IndexByte(more, '"') >= 0 {
			r.cells, open = splitRow(r.cells[:0], r.joined, r.delimiter)
		}
	}
	if open {
		r.lines.giveBack(taken)
		r.cells = append(r.cells[:0], []byte("a quote that never closes"))
	}
	return r.cells, nil
}
