package captures

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// maxReading bounds what a meter at a USB-C port can show, in V and in A. A
// larger number is a damaged cell and not a reading.
const maxReading = 1000

const absent = -1

// meterColumn is where one quantity stands and how to read it.
type meterColumn struct {
	index int // absent where the log has none
	unit  unit
	named bool // the heading or --columns names the unit
}

// meterColumns are the columns of a meter log.
type meterColumns struct {
	time, voltage, current meterColumn
	cc                     [2]meterColumn
	count                  int // cells of the header
}

func (c meterColumns) found() int {
	n := 0
	for _, column := range []meterColumn{c.time, c.voltage, c.current} {
		if column.index != absent {
			n++
		}
	}
	return n
}

// findMeterColumns finds the columns by the quantity and unit in their
// heading, or by the names given.
func findMeterColumns(names []string, o Options) (meterColumns, error) {
	none := meterColumn{index: absent}
	c := meterColumns{time: none, voltage: none, current: none, cc: [2]meterColumn{none, none}, count: len(names)}
	slots := []struct {
		column *meterColumn
		want   quantity
		given  Column
	}{
		{&c.time, timeQuantity, o.Columns.Time},
		{&c.voltage, voltageQuantity, o.Columns.Voltage},
		{&c.current, currentQuantity, o.Columns.Current},
		{&c.cc[0], cc1Quantity, Column{}},
		{&c.cc[1], cc2Quantity, Column{}},
	}
	var problem error
	for _, slot := range slots {
		column, err := findColumn(names, slot.want, slot.given)
		if err != nil && problem == nil {
			problem = err
		}
		*slot.column = column
	}
	switch {
	case problem != nil:
		return c, problem
	case c.time.index == absent && o.RateHz <= 0:
		return c, errors.New("a time column (or --rate HZ)")
	case c.voltage.index == absent:
		return c, errors.New("a voltage column")
	case c.current.index == absent:
		return c, errors.New("a current column")
	}
	return c, nil
}

// findColumn finds the first heading of a quantity, or the one that is named.
func findColumn(names []string, want quantity, given Column) (meterColumn, error) {
	for i, name := range names {
		h := parseHeading(name)
		if given.Name != "" {
			if !strings.EqualFold(strings.TrimSpace(name), strings.TrimSpace(given.Name)) {
				continue
			}
			if given.Unit != "" {
				h.unit = given.Unit
			}
		} else if h.quantity != want {
			continue
		}
		return columnOf(i, h, want)
	}
	if given.Name != "" {
		return meterColumn{index: absent}, fmt.Errorf("a column named %q", given.Name)
	}
	return meterColumn{index: absent}, nil
}

func columnOf(index int, h heading, want quantity) (meterColumn, error) {
	plain := want
	if want == cc1Quantity || want == cc2Quantity {
		plain = voltageQuantity
	}
	c := meterColumn{index: index, unit: unit{quantity: plain}}
	if h.unit == "" {
		return c, nil
	}
	u, known := units[h.unit]
	switch {
	case known && u.quantity == plain:
		c.unit, c.named = u, true
	case plain == timeQuantity:
		// A heading such as "time (UTC)" or "time (hh:mm:ss)" names no unit.
	default:
		return c, fmt.Errorf("a %s in a known unit (%s)", quantityNames[want], acceptedUnits(plain))
	}
	return c, nil
}

// note tells which columns were taken, so that a wrong guess is seen.
func (c meterColumns) note(names []string) string {
	time := "the rate"
	if c.time.index != absent {
		time = fmt.Sprintf("%q", names[c.time.index])
	}
	return fmt.Sprintf("columns taken: time from %s, voltage from %q, current from %q", time, names[c.voltage.index], names[c.current.index])
}

// unitsRow takes a row that holds only units, under a header that names none.
func (c meterColumns) unitsRow(cells [][]byte) (meterColumns, bool) {
	taken := 0
	for _, column := range []*meterColumn{&c.time, &c.voltage, &c.current, &c.cc[0], &c.cc[1]} {
		if column.index == absent || column.index >= len(cells) {
			continue
		}
		name := strings.ToLower(strings.Trim(string(cells[column.index]), "()[] "))
		u, known := units[name]
		if !known || u.quantity != column.unit.quantity {
			return c, false
		}
		column.unit, column.named = u, true
		taken++
	}
	return c, taken > 0
}

// readable reports whether a row can be read as data.
func (c meterColumns) readable(cells [][]byte, comma bool, _ Options) bool {
	if c.time.index != absent {
		clock := timeReader{unit: c.time.unit, comma: comma}
		if c.time.index >= len(cells) {
			return false
		}
		if _, ok := clock.read(cells[c.time.index]); !ok {
			return false
		}
	}
	for _, column := range []meterColumn{c.voltage, c.current} {
		if column.index >= len(cells) {
			return false
		}
		if cell := cells[column.index]; len(cell) > 0 {
			if _, ok := parseDecimal(cell, comma); !ok {
				return false
			}
		}
	}
	return true
}

// meterSource reads the rows of a meter log.
type meterSource struct {
	rows    rowReader
	columns meterColumns
	clock   timeReader
	comma   bool
	rateHz  float64
	index   int // data rows so far, for a log without times
	last    time.Duration
	begun   bool
	plain   bool // three plain numbers a row: the quick way may be tried
	sample  Sample
}

func newMeterSource(path string, lines *lineReader, h header, o Options) (*meterSource, error) {
	m := &meterSource{
		rows:    rowReader{lines: lines, delimiter: h.delimiter},
		columns: h.columns,
		comma:   h.delimiter != ',',
		rateHz:  o.RateHz,
	}
	m.takeUnitsRow()
	m.clock = timeReader{unit: m.columns.time.unit, comma: m.comma}
	if m.columns.time.index == absent && !(o.RateHz > 0 && o.RateHz <= 1e9) {
		return nil, &UnusableError{File: path, Line: h.line, Offset: -1, Expected: "a rate above 0 and up to 1e9 Hz", Found: fmt.Sprint(o.RateHz)}
	}
	m.plain = m.columns.time.index != absent && m.columns.cc[0].index == absent && m.columns.cc[1].index == absent
	return m, nil
}

// takeUnitsRow passes over a units row right under the header.
func (m *meterSource) takeUnitsRow() {
	l := m.rows.lines
	at := l.start
	line := l.line
	for at < l.end {
		row, end := lineAt(l.buf[:l.end], at)
		line++
		at = end
		if len(trimCell(row)) == 0 || isComment(row) {
			continue
		}
		cells, open := splitRow(nil, row, m.rows.delimiter)
		if open {
			return
		}
		if columns, ok := m.columns.unitsRow(cells); ok {
			m.columns = columns
			l.consume(end, line)
		}
		return
	}
}

// next gives the next usable row.
func (m *meterSource) next(stats *Stats) (Record, error) {
	for {
		if m.plain && m.clock.form == formNumber {
			if ok, err := m.quick(); err != nil {
				if !errors.Is(err, errLineTooLong) {
					return Record{}, err
				}
				m.damaged(stats, "a line of more than %d bytes", maxLine)
				continue
			} else if ok {
				if m.forward(stats) {
					return Record{Sample: &m.sample}, nil
				}
				continue
			}
		} else if err := m.slowRow(); err != nil {
			if errors.Is(err, errLineTooLong) {
				m.damaged(stats, "a line of more than %d bytes", maxLine)
				continue
			}
			return Record{}, err
		}
		clock := m.clock
		if m.cells(stats) && m.forward(stats) {
			return Record{Sample: &m.sample}, nil
		}
		m.clock = clock // a row that is not used must not pass midnight either
	}
}

func (m *meterSource) slowRow() error {
	_, err := m.rows.next()
	return err
}

func (m *meterSource) damaged(stats *Stats, format string, args ...any) {
	m.index++
	stats.skip(m.rows.lines.line, format, args...)
}

// forward refuses a row that is earlier than the one before it.
func (m *meterSource) forward(stats *Stats) bool {
	if m.begun && m.sample.At < m.last {
		stats.skip(m.sample.Line, "expected a time of %s or later, found %s: time goes backwards", m.last, m.sample.At)
		return false
	}
	m.last, m.begun = m.sample.At, true
	return true
}

// quick reads a row of plain numbers straight from the line. ok is false
// where the row needs the full reader; its cells are then split already.
func (m *meterSource) quick() (ok bool, err error) {
	var line []byte
	for {
		if line, err = m.rows.lines.next(); err != nil {
			return false, err
		}
		if len(line) > 0 && line[0] != '#' {
			break
		}
	}
	m.rows.line = m.rows.lines.line
	if m.quickCells(line) {
		m.index++
		return true, nil
	}
	if len(trimCell(line)) == 0 && m.rows.delimiter != '\t' || isComment(line) {
		_, err = m.rows.next()
		return false, err
	}
	_, err = m.rows.split(line)
	return false, err
}

func (m *meterSource) quickCells(line []byte) bool {
	c := &m.columns
	delimiter := m.rows.delimiter
	at, seen := 0, 0
	for index := 0; ; index++ {
		if index == c.time.index || index == c.voltage.index || index == c.current.index {
			n, end, ok := plainNumber(line, at, delimiter, m.comma)
			if !ok || !m.place(index, n) {
				return false
			}
			at = end
			seen++
		} else {
			if at < len(line) && line[at] == '"' {
				return false
			}
			if i := bytes.IndexByte(line[at:], delimiter); i >= 0 {
				at += i
			} else {
				at = len(line)
			}
		}
		if at >= len(line) {
			break
		}
		at++ // the delimiter
		if index >= c.count {
			return false // more cells than the header has: the full reader says so
		}
	}
	if seen != 3 {
		return false
	}
	m.sample.CC = [2]float64{math.NaN(), math.NaN()}
	m.sample.Line = m.rows.line
	return true
}

// place puts a plain number into the sample.
func (m *meterSource) place(index int, n decimal) bool {
	c := &m.columns
	switch index {
	case c.time.index:
		at, ok := n.duration(c.time.unit.shift)
		if !ok || c.time.unit.minutes {
			return false
		}
		m.sample.At = at
		return true
	case c.voltage.index:
		n.exponent += c.voltage.unit.shift
		m.sample.Volts = n.float()
		return math.Abs(m.sample.Volts) <= maxReading
	default:
		n.exponent += c.current.unit.shift
		m.sample.Amps = n.float()
		return math.Abs(m.sample.Amps) <= maxReading
	}
}

// plainNumber reads sign, digits and one point up to the delimiter or the end
// of the line; anything else is left to the full reader.
func plainNumber(line []byte, at int, delimiter byte, comma bool) (n decimal, end int, ok bool) {
	for at < len(line) && line[at] == ' ' {
		at++
	}
	if at < len(line) && line[at] == '-' {
		n.negative = true
		at++
	}
	start, point := at, -1
	mantissa := uint64(0)
	for ; at < len(line); at++ {
		c := line[at]
		if d := c - '0'; d <= 9 {
			mantissa = mantissa*10 + uint64(d)
			continue
		}
		if c == delimiter {
			break
		}
		if point < 0 && (c == '.' || comma && c == ',') {
			point = at
			continue
		}
		return n, at, false
	}
	digits := at - start
	if point >= 0 {
		digits--
		n.exponent = -(at - point - 1)
	}
	n.mantissa = mantissa
	return n, at, digits > 0 && digits < mantissaDigits
}

// cells reads the split cells of a row; a row that cannot be used is counted.
func (m *meterSource) cells(stats *Stats) bool {
	cells, c := m.rows.cells, &m.columns
	m.index++
	line := m.rows.line
	if len(cells) > c.count+1 || len(cells) == c.count+1 && len(cells[c.count]) > 0 {
		stats.skip(line, "expected %d cells, found %d", c.count, len(cells))
		return false
	}
	if c.time.index == absent {
		m.sample.At = time.Duration(math.Round(float64(m.index-1) / m.rateHz * float64(time.Second)))
	} else {
		if c.time.index >= len(cells) {
			stats.skip(line, "expected %d cells, found %d", c.count, len(cells))
			return false
		}
		at, ok := m.clock.read(cells[c.time.index])
		if !ok {
			stats.skip(line, "expected a time, found %s", shown(cells[c.time.index]))
			return false
		}
		m.sample.At = at
	}
	var ok bool
	if m.sample.Volts, ok = m.reading(stats, cells, c.voltage, "a voltage"); !ok {
		return false
	}
	if m.sample.Amps, ok = m.reading(stats, cells, c.current, "a current"); !ok {
		return false
	}
	for i := range m.sample.CC {
		m.sample.CC[i] = m.optional(stats, cells, c.cc[i])
	}
	m.sample.Line = line
	return true
}

// reading reads a needed cell; an empty one is a gap.
func (m *meterSource) reading(stats *Stats, cells [][]byte, c meterColumn, what string) (float64, bool) {
	if c.index >= len(cells) {
		stats.skip(m.rows.line, "expected %d cells, found %d", m.columns.count, len(cells))
		return 0, false
	}
	cell := cells[c.index]
	if len(cell) == 0 {
		return math.NaN(), true
	}
	n, ok := parseDecimal(cell, m.comma)
	if !ok {
		stats.skip(m.rows.line, "expected %s, found %s", what, shown(cell))
		return 0, false
	}
	n.exponent += c.unit.shift
	v := n.float()
	if !(math.Abs(v) <= maxReading) {
		stats.skip(m.rows.line, "expected %s of at most %d, found %s", what, maxReading, shown(cell))
		return 0, false
	}
	return v, true
}

// optional reads a cell that the recording can do without.
// An unreadable one is told and left out.
func (m *meterSource) optional(stats *Stats, cells [][]byte, c meterColumn) float64 {
	if c.index == absent || c.index >= len(cells) {
		return math.NaN()
	}
	cell := cells[c.index]
	if len(cell) == 0 {
		return math.NaN()
	}
	n, ok := parseDecimal(cell, m.comma)
	if !ok {
		stats.remark(m.rows.line, m.sample.At, "expected a CC voltage, found %s; it is left out", shown(cell))
		return math.NaN()
	}
	n.exponent += c.unit.shift
	return n.float()
}
