package captures

import (
	"errors"
	"fmt"
	"math"
	"time"

	"portside/captures/delimited"
)

// maxReading bounds what a meter at a USB-C port can show, in V and in A. A
// larger number is a damaged cell and not a reading.
const maxReading = 1000

// meterSource reads the rows of a meter log.
type meterSource struct {
	rows    rowReader
	columns meterColumns
	clock   delimited.Clock
	comma   bool
	rateHz  float64
	index   int // data rows so far, for a log without times
	last    time.Duration
	begun   bool
	plain   bool // three plain numbers a row: the quick way may be tried
	sample  Sample
}

func newMeterSource(path string, lines *lineReader, h header, o Options) (*meterSource, error) {
	if h.columns.time.index == absent && !(o.RateHz > 0 && o.RateHz <= 1e9) {
		return nil, &UnusableError{File: path, Line: h.line, Offset: -1, Expected: "a rate above 0 and up to 1e9 Hz", Found: fmt.Sprint(o.RateHz)}
	}
	m := &meterSource{
		columns: h.columns,
		comma:   h.comma(),
		rateHz:  o.RateHz,
		clock:   h.columns.time.clock(h.comma()),
	}
	m.rows = rowReader{lines: lines, delimiter: h.delimiter, sound: func(cells [][]byte) bool {
		return m.columns.readable(cells, m.comma)
	}}
	c := &m.columns
	m.plain = c.time.index != absent && !c.time.unit.minutes && c.cc[0].index == absent && c.cc[1].index == absent
	return m, nil
}

// next gives the next usable row.
func (m *meterSource) next(stats *Stats) (Record, error) {
	for {
		ok, err := m.row(stats)
		switch {
		case errors.Is(err, errLineTooLong):
			m.index++
			stats.skip(Problem{Line: m.rows.lines.line}, "a line of more than %d bytes", maxLine)
		case err != nil:
			return Record{}, err
		case ok && m.forward(stats):
			return Record{Sample: &m.sample}, nil
		}
	}
}

// row reads one row, the quick way where it can be gone. A row that cannot be
// used is counted.
func (m *meterSource) row(stats *Stats) (ok bool, err error) {
	if m.plain && m.clock.Form == delimited.Number {
		ok, err = m.quick()
	} else {
		err = m.rows.next()
	}
	if ok || err != nil {
		return ok, err
	}
	return m.cells(stats), nil
}

// forward refuses a row that is earlier than the one before it.
func (m *meterSource) forward(stats *Stats) bool {
	s := &m.sample
	if m.begun && s.At < m.last {
		stats.skip(Problem{Line: s.Line, At: s.At, HasAt: true}, "expected a time of %s or later, found %s: time goes backwards", m.last, s.At)
		return false
	}
	if !m.begun && m.clock.Form == delimited.Local {
		stats.Notes = append(stats.Notes, delimited.LocalNote)
	}
	m.last, m.begun = s.At, true
	return true
}

// cells reads the split cells of a row into the sample.
func (m *meterSource) cells(stats *Stats) bool {
	m.index++
	form := m.clock.Form
	where := Problem{Line: m.rows.line}
	var timeError error
	if where.At, timeError = m.time(); timeError == nil {
		where.HasAt = true
	}
	if err := m.values(where.At, timeError); err != nil {
		m.clock.Form = form // a row that is not used does not settle it
		stats.skip(where, "%v", err)
		return false
	}
	for i, c := range m.columns.cc {
		m.sample.CC[i] = m.optional(stats, c)
	}
	return true
}

// values reads what a row must have.
func (m *meterSource) values(at time.Duration, timeError error) error {
	if m.columns.tooMany(m.rows.cells) {
		return m.wrongCount()
	}
	if timeError != nil {
		return timeError
	}
	volts, err := m.reading(m.columns.voltage, "a voltage")
	if err != nil {
		return err
	}
	amps, err := m.reading(m.columns.current, "a current")
	if err != nil {
		return err
	}
	m.sample = Sample{At: at, Volts: volts, Amps: amps, Line: m.rows.line}
	return nil
}

func (m *meterSource) wrongCount() error {
	return fmt.Errorf("expected %d cells, found %d", m.columns.count, len(m.rows.cells))
}

// time reads the time of a row, or counts it where the log has none.
func (m *meterSource) time() (time.Duration, error) {
	c := m.columns.time
	if c.index == absent {
		seconds := float64(m.index-1) / m.rateHz
		if seconds > MaxTime.Seconds() {
			return 0, fmt.Errorf("expected a time within 90 years, found %g s", seconds)
		}
		return time.Duration(math.Round(seconds * float64(time.Second))), nil
	}
	if c.index >= len(m.rows.cells) {
		return 0, m.wrongCount()
	}
	cell := m.rows.cells[c.index]
	at, ok := m.clock.Read(cell, m.last)
	if !ok {
		return 0, fmt.Errorf("expected %s, found %s", m.clock.Form, shown(cell))
	}
	return at, nil
}

// reading reads a needed cell; an empty one is a gap.
func (m *meterSource) reading(c meterColumn, what string) (float64, error) {
	if c.index >= len(m.rows.cells) {
		return 0, m.wrongCount()
	}
	cell := m.rows.cells[c.index]
	if len(cell) == 0 {
		return math.NaN(), nil
	}
	v, ok := delimited.ParseFloat(cell, m.comma, c.unit.shift)
	switch {
	case !ok:
		return 0, fmt.Errorf("expected %s, found %s", what, shown(cell))
	case !(math.Abs(v) <= maxReading):
		return 0, fmt.Errorf("expected %s of at most %d, found %s", what, maxReading, shown(cell))
	}
	return v, nil
}

// optional reads a cell that the recording can do without. An unreadable one
// is told and left out.
func (m *meterSource) optional(stats *Stats, c meterColumn) float64 {
	if c.index == absent || c.index >= len(m.rows.cells) {
		return math.NaN()
	}
	v, err := m.reading(c, "a CC voltage")
	if err != nil {
		stats.remark(m.rows.line, m.sample.At, "%v; it is left out", err)
		return math.NaN()
	}
	return v
}
