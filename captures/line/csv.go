package line

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"
	"time"

	"portside/captures/delimited"
)

// Column is where a quantity stands in a row.
type Column struct {
	Name  string // its heading
	Index int    // from 0
	Shift int    // the power of ten that lifts its number to s, V or A
	Unit  bool   // its heading names a unit: a CC column holds volts
}

// Layout says what the columns of a delimited text hold.
type Layout struct {
	Delimiter byte
	Comma     bool // a comma may stand for the decimal point
	Cells     int  // of the header
	Line      int  // of the header, 1-based
	Time      *Column
	CC        []Column // one, or CC1 and CC2
	VBUS      *Column
	IBUS      *Column
}

// CSV reads rows of levels or voltages of the CC line, and of VBUS beside it.
type CSV struct {
	buffer
	stats   Stats
	layout  Layout
	signals []Signal
	columns []csvColumn // one for each signal
	rateHz  float64
	clock   delimited.Clock
	rows    int // read so far, for a text without times
	line    int
	cells   [][]byte
	now     time.Duration
	begun   bool // now is a row's
	over    bool
	pending []Event
}

// csvColumn reads the cells of one signal.
type csvColumn struct {
	Column
	levels bool // 0 and 1 are logic levels
}

// maxRow is the longest row that is read.
const maxRow = maxToken

// NewCSV reads the rows behind a header. Whether a CC column holds logic
// levels or volts is told from its first cells: only 0 and 1 are levels.
func NewCSV(src io.Reader, l Layout, o Options) (*CSV, error) {
	c := &CSV{buffer: newBuffer(src), layout: l, line: l.Line, rateHz: o.RateHz}
	switch {
	case len(l.CC) == 0:
		return nil, &UnusableError{Line: l.Line, Expected: "a column named cc, cc1 or cc2", Found: "none"}
	case !l.fits():
		return nil, &UnusableError{Line: l.Line, Expected: "columns within the header", Found: "one beyond it"}
	case l.Time == nil && !(o.RateHz > 0 && o.RateHz <= 1e9):
		return nil, &UnusableError{Line: l.Line, Expected: "a time column", Found: "none", Hint: "give the rows a second with --rate HZ"}
	}
	if l.Time != nil {
		c.clock = delimited.Clock{Shift: l.Time.Shift, Comma: l.Comma}
	}
	for _, column := range l.CC {
		c.add(CC, column)
	}
	if l.VBUS != nil {
		c.add(VBUS, *l.VBUS)
	}
	if l.IBUS != nil {
		c.add(IBUS, *l.IBUS)
	}
	c.tellLevels()
	return c, nil
}

// fits reports whether every column lies within the header.
func (l *Layout) fits() bool {
	columns := append([]Column(nil), l.CC...)
	for _, c := range []*Column{l.Time, l.VBUS, l.IBUS} {
		if c != nil {
			columns = append(columns, *c)
		}
	}
	for _, c := range columns {
		if c.Index < 0 || c.Index >= l.Cells {
			return false
		}
	}
	return len(columns) <= MaxSignals
}

func (c *CSV) add(kind Kind, column Column) {
	c.signals = append(c.signals, Signal{Name: column.Name, Kind: kind})
	c.columns = append(c.columns, csvColumn{Column: column, levels: kind == CC && !column.Unit})
}

// Signals are the columns followed.
func (c *CSV) Signals() []Signal { return c.signals }

// Stats says what was read so far.
func (c *CSV) Stats() Stats { return c.stats }

// tellLevels looks at the rows in the buffer without taking them.
func (c *CSV) tellLevels() {
	for more := true; more && c.end < len(c.buf); {
		more = c.fill()
	}
	block := c.buf[c.pos:c.end]
	for len(block) > 0 {
		row, rest, _ := bytes.Cut(block, []byte{'\n'})
		block = rest
		if isRemark(row) {
			continue
		}
		cells, ok := c.split(row)
		if !ok || len(block) == 0 && c.err == nil {
			continue // the last row may be cut by the end of the buffer
		}
		for i := range c.columns {
			column := &c.columns[i]
			cell := cells[column.Index]
			if _, isNumber := delimited.ParseFloat(cell, c.layout.Comma, column.Shift); isNumber && !isLevel(cell) {
				column.levels = false
			}
		}
	}
}

func isLevel(cell []byte) bool { return len(cell) == 1 && (cell[0] == '0' || cell[0] == '1') }

// Read gives the next events.
func (c *CSV) Read(events []Event) (int, error) {
	n := c.give(events)
	for n < len(events) {
		row, err := c.next()
		if err != nil {
			return c.finish(events, n, err)
		}
		c.take(row)
		n += c.give(events[n:])
	}
	return n, nil
}

func (c *CSV) give(events []Event) int {
	n := copy(events, c.pending)
	c.pending = append(c.pending[:0], c.pending[n:]...)
	return n
}

func (c *CSV) finish(events []Event, n int, err error) (int, error) {
	if !c.over {
		c.over = true
		events[n] = Event{At: c.now, Signal: NoSignal}
		return n + 1, nil
	}
	if n > 0 {
		return n, nil
	}
	return 0, err
}

// errRowTooLong is given once for a row over maxRow, which is passed over.
var errRowTooLong = errors.New("row too long")

// next gives the next row that is no comment, good until the next call.
func (c *CSV) next() ([]byte, error) {
	for {
		row, err := c.row()
		if errors.Is(err, errRowTooLong) {
			c.stats.skip(c.line, "a row of more than %d bytes", maxRow)
			continue
		}
		if err != nil || !isRemark(row) {
			return row, err
		}
	}
}

func (c *CSV) row() ([]byte, error) {
	searched := 0
	for {
		if i := bytes.IndexByte(c.buf[c.pos+searched:c.end], '\n'); i >= 0 {
			row := c.buf[c.pos : c.pos+searched+i]
			c.pos += searched + i + 1
			c.line++
			if len(row) > maxRow {
				return nil, errRowTooLong
			}
			return row, nil
		}
		searched = c.end - c.pos
		if searched > maxRow {
			c.line++
			return nil, c.passOver()
		}
		if !c.fill() {
			if searched == 0 {
				return nil, c.err
			}
			c.line++
			c.pos = c.end
			return c.buf[c.end-searched : c.end], nil
		}
	}
}

func (c *CSV) passOver() error {
	for {
		if i := bytes.IndexByte(c.buf[c.pos:c.end], '\n'); i >= 0 {
			c.pos += i + 1
			return errRowTooLong
		}
		c.pos = c.end
		if !c.fill() {
			return errRowTooLong
		}
	}
}

// isRemark reports a row that is passed over anywhere.
func isRemark(row []byte) bool {
	row = bytes.TrimSpace(row)
	return len(row) == 0 || row[0] == '#'
}

// split cuts a row into its cells, blanks and quotes around a number removed;
// false where there are too few or too many.
func (c *CSV) split(row []byte) ([][]byte, bool) {
	c.cells = c.cells[:0]
	for {
		i := bytes.IndexByte(row, c.layout.Delimiter)
		if i < 0 {
			break
		}
		c.cells = append(c.cells, bareCell(row[:i]))
		row = row[i+1:]
		if len(c.cells) > c.layout.Cells {
			return nil, false
		}
	}
	if last := bareCell(row); len(last) > 0 || len(c.cells) < c.layout.Cells {
		c.cells = append(c.cells, last)
	}
	return c.cells, len(c.cells) == c.layout.Cells
}

func bareCell(cell []byte) []byte {
	for len(cell) > 0 && cell[0] <= ' ' {
		cell = cell[1:]
	}
	for len(cell) > 0 && cell[len(cell)-1] <= ' ' {
		cell = cell[:len(cell)-1]
	}
	if n := len(cell); n >= 2 && cell[0] == '"' && cell[n-1] == '"' {
		return bareCell(cell[1 : n-1])
	}
	return cell
}

// take reads one row. One cell that cannot be read makes it no record.
func (c *CSV) take(row []byte) {
	c.rows++
	cells, ok := c.split(row)
	if !ok {
		c.stats.skip(c.line, "expected %d cells, found %s", c.layout.Cells, shown(bytes.TrimSpace(row)))
		return
	}
	form := c.clock.Form
	at, ok := c.at(cells)
	if !ok {
		c.clock.Form = form // a row that is not used does not settle it
		return
	}
	for i := range c.columns {
		event, ok := c.event(i, cells[c.columns[i].Index])
		if !ok {
			c.clock.Form = form
			c.pending = c.pending[:0]
			return
		}
		event.At = at
		c.pending = append(c.pending, event)
	}
	if !c.begun && c.clock.Form == delimited.Local {
		c.stats.Notes = append(c.stats.Notes, delimited.LocalNote)
	}
	c.now, c.begun = at, true
	c.stats.Records++
}

// at is the time of the row. An earlier one than the row's before is skipped.
func (c *CSV) at(cells [][]byte) (time.Duration, bool) {
	if c.layout.Time == nil {
		return time.Duration(math.Round(float64(c.rows-1) / c.rateHz * 1e9)), true
	}
	cell := cells[c.layout.Time.Index]
	at, ok := c.clock.Read(cell, c.now)
	switch {
	case !ok:
		c.stats.skip(c.line, "expected %s, found %s", c.clock.Form, shown(cell))
	case c.begun && at < c.now:
		c.stats.skip(c.line, "expected a time of %s or later, found %s: time goes backwards", c.now, at)
		return 0, false
	}
	return at, ok
}

func (c *CSV) event(i int, cell []byte) (Event, bool) {
	column := &c.columns[i]
	event := Event{Signal: uint8(i), Level: Unknown}
	if len(cell) == 0 {
		if c.signals[i].Kind != CC {
			event.Level, event.Value = Voltage, math.NaN()
		}
		return event, true
	}
	if column.levels && isLevel(cell) {
		event.Level = Low + Level(cell[0]-'0')
		return event, true
	}
	value, ok := delimited.ParseFloat(cell, c.layout.Comma, column.Shift)
	if !ok || !(math.Abs(value) <= maxReading) {
		c.stats.skip(c.line, "expected a number, found %s", shown(cell))
		return event, false
	}
	if column.levels {
		column.levels = false
		c.stats.Notes = append(c.stats.Notes, "the column "+strconv.Quote(column.Name)+" holds volts from line "+strconv.Itoa(c.line)+" on, only 0 and 1 before")
	}
	event.Level, event.Value = Voltage, value
	return event, true
}
