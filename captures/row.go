package captures

import "bytes"

const (
	// A quoted cell may run over lines (RFC 4180). A quote that does not close
	// within these bounds is damage.
	maxQuotedLines = 64
	maxQuotedBytes = 64 << 10
)

// splitRow cuts a line into its cells, outer blanks removed. A quote counts
// only at the start of a cell (RFC 4180). open reports that the last cell is
// quoted and has not ended, so that further lines may belong to it. A quoted
// cell that is not sound is kept with its quotes, so that nothing reads it as
// a number. The cells point into line, except those with doubled quotes.
func splitRow(cells [][]byte, line []byte, delimiter byte) (out [][]byte, open bool) {
	for {
		line = trimLeft(line, delimiter)
		cell, size := line, 0
		if len(line) > 0 && line[0] == '"' {
			if cell, size, open = quotedCell(line, delimiter); open {
				return append(cells, line), true
			}
		}
		rest := line[size:]
		i := bytes.IndexByte(rest, delimiter)
		if size == 0 {
			cell = rest
			if i >= 0 {
				cell = rest[:i]
			}
		}
		cells = append(cells, trimCell(cell))
		if i < 0 {
			return cells, false
		}
		line = rest[i+1:]
	}
}

// quotedCell reads a cell that begins with a quote. size is what it takes of
// the line; 0 where text stands behind the closing quote, so that this is no
// quoted cell.
func quotedCell(line []byte, delimiter byte) (cell []byte, size int, open bool) {
	end := closingQuote(line[1:])
	if end < 0 {
		return nil, 0, true
	}
	end++ // on the closing quote in line
	if behind := trimLeft(line[end+1:], delimiter); len(behind) > 0 && behind[0] != delimiter {
		return nil, 0, false
	}
	cell = line[1:end]
	if bytes.IndexByte(cell, '"') >= 0 {
		cell = bytes.ReplaceAll(cell, []byte(`""`), []byte(`"`))
	}
	return cell, end + 1, false
}

// closingQuote is the index of the first quote that is not doubled, or -1.
func closingQuote(text []byte) int {
	for i := 0; i < len(text); i++ {
		if text[i] != '"' {
			continue
		}
		if i+1 == len(text) || text[i+1] != '"' {
			return i
		}
		i++
	}
	return -1
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

// passedOver reports a line that is no row: blank, or a comment.
func passedOver(line []byte, delimiter byte) bool {
	text := trimCell(line)
	if len(text) == 0 {
		// A row of tabs is a row of empty cells.
		return delimiter != '\t' || bytes.IndexByte(line, '\t') < 0
	}
	return text[0] == '#'
}

// rowReader gives the data rows of a delimited text, comments and blank lines
// passed over, cells split.
type rowReader struct {
	lines     *lineReader
	delimiter byte
	sound     func(cells [][]byte) bool // reports cells that are a whole data row
	cells     [][]byte
	joined    []byte   // a row whose quoted cell runs over lines
	ahead     [][]byte // cells of a line looked at on its own
	line      int      // where the row given last began
}

// next reads the next row into cells, good until the next call.
func (r *rowReader) next() error {
	for {
		line, err := r.lines.next()
		r.line = r.lines.line
		if err != nil {
			return err
		}
		if !passedOver(line, r.delimiter) {
			r.split(line)
			return nil
		}
	}
}

// split takes further lines where a quoted cell runs over them. A quote that
// does not close soon is damage of its own row and of no other.
func (r *rowReader) split(line []byte) {
	var open bool
	r.cells, open = splitRow(r.cells[:0], line, r.delimiter)
	if !open {
		return
	}
	r.joined = append(r.joined[:0], line...) // looking ahead may move line
	if size, lines := r.quotedLines(); lines > 0 {
		r.joined = append(append(r.joined, '\n'), r.lines.buf[r.lines.start:r.lines.start+size]...)
		r.joined = trimCR(bytes.TrimSuffix(r.joined, []byte{'\n'}))
		r.lines.take(size, lines)
	}
	r.cells, _ = splitRow(r.cells[:0], r.joined, r.delimiter)
}

// quotedLines finds how many lines more a row takes whose last cell is quoted
// and open; none where the quote does not close. A line that is a whole data
// row by itself tells a stray quote: were it taken for text, a log would lose
// rows without a word, and a live log would wait for them.
func (r *rowReader) quotedLines() (size, lines int) {
	for lines = 1; lines <= maxQuotedLines && size <= maxQuotedBytes; lines++ {
		line, n, err := r.lines.peek(size)
		if err != nil {
			return 0, 0
		}
		if r.ahead, _ = splitRow(r.ahead[:0], line, r.delimiter); r.sound(r.ahead) {
			return 0, 0
		}
		size += n
		switch open, sound := r.follow(line); {
		case !sound:
			return 0, 0
		case !open:
			return size, lines
		}
	}
	return 0, 0
}

// follow walks through a line that begins inside a quoted cell, and reports
// whether its end lies inside one too. It is not sound where text stands
// behind a closing quote, as the next stray quote would have it.
func (r *rowReader) follow(line []byte) (open, sound bool) {
	for {
		end := closingQuote(line)
		if end < 0 {
			return true, true
		}
		line = trimLeft(line[end+1:], r.delimiter)
		if len(line) > 0 && line[0] != r.delimiter {
			return false, false
		}
		for len(line) > 0 && line[0] != '"' { // to the next quoted cell
			i := bytes.IndexByte(line, r.delimiter)
			if i < 0 {
				return false, true
			}
			line = trimLeft(line[i+1:], r.delimiter)
		}
		if len(line) == 0 {
			return false, true
		}
		line = line[1:]
	}
}
