package captures

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"portside/captures/delimited"
	"portside/captures/line"
)

// fastestMeter is the shortest interval of a log whose CC columns are slow
// levels beside a meter: at one million samples a second and more they show
// the line itself.
const fastestMeter = time.Microsecond

// lineHeader takes a row as the header of a recording of the CC line: a time
// column, or a rate, and one of cc, cc1 and cc2, or the column that is named.
func (s *headerSearch) lineHeader(names []string) (header, bool) {
	layout, err := findLineColumns(names, s.options)
	if err != nil {
		return header{}, false
	}
	return header{kind: KindLine, cells: names, layout: layout}, true
}

// findLineColumns finds the columns by their headings.
func findLineColumns(names []string, o Options) (line.Layout, error) {
	l := line.Layout{Cells: len(names)}
	var problem error
	column := func(want quantity, given Column) *line.Column {
		found, err := findColumn(names, want, given)
		if err != nil && problem == nil {
			problem = err
		}
		if found.index == absent {
			return nil
		}
		if found.unit.minutes && problem == nil {
			problem = errors.New("a time in s, ms, us or ns")
		}
		return &line.Column{Name: strings.TrimSpace(names[found.index]), Index: found.index, Shift: found.unit.shift, Unit: found.named}
	}
	l.Time = column(timeQuantity, o.Columns.Time)
	l.VBUS = column(voltageQuantity, o.Columns.Voltage)
	l.IBUS = column(currentQuantity, o.Columns.Current)
	wanted := []quantity{ccQuantity, cc1Quantity, cc2Quantity}
	var named Column
	if o.Signal != "" {
		wanted, named = wanted[:1], Column{Name: o.Signal}
	}
	for _, q := range wanted {
		if found := column(q, named); found != nil {
			l.CC = append(l.CC, *found)
		}
	}
	switch {
	case problem != nil:
		return l, problem
	case l.Time == nil && o.RateHz <= 0:
		return l, errors.New("a time column (or --rate HZ)")
	case len(l.CC) == 0:
		return l, fmt.Errorf("a column named cc, cc1 or cc2")
	}
	return l, nil
}

// turnIntoLine looks at a meter log with CC columns: where its rows follow
// fast enough, it is a line with a meter beside it.
func (s *headerSearch) turnIntoLine(h *header) {
	cc := h.columns.cc[0].index != absent || h.columns.cc[1].index != absent
	if s.options.As == KindMeter || !cc || !s.fast(h) {
		return
	}
	if line, ok := s.lineHeader(h.cells); ok {
		h.kind, h.layout = KindLine, line.layout
	}
}

// fast reports whether the first rows follow within fastestMeter.
func (s *headerSearch) fast(h *header) bool {
	if h.columns.time.index == absent {
		return s.options.RateHz*fastestMeter.Seconds() >= 1
	}
	clock := h.columns.time.clock(h.comma())
	var first, last time.Duration
	rows := 0
	for off := h.end; rows < lookAhead; {
		row, size, err := s.lines.peek(off)
		if err != nil {
			break
		}
		off += size
		if passedOver(row, h.delimiter) {
			continue
		}
		cells, _ := splitRow(nil, row, h.delimiter)
		if h.columns.time.index >= len(cells) {
			continue
		}
		at, ok := clock.Read(cells[h.columns.time.index], 0)
		if !ok {
			continue
		}
		if rows++; rows == 1 {
			first = at
		}
		last = at
	}
	return rows > 1 && (last-first)/time.Duration(rows-1) <= fastestMeter && last > first
}

// takeLineUnits takes the first row under a header where it holds units in
// place of values.
func takeLineUnits(l *line.Layout, cells [][]byte) bool {
	known := 0
	take := func(c *line.Column, want quantity) bool {
		if c == nil || c.Index >= len(cells) || len(cells[c.Index]) == 0 {
			return true
		}
		u, read := units[strings.ToLower(strings.Trim(string(cells[c.Index]), "()[] "))]
		if !read || u.quantity != want || u.minutes {
			return false
		}
		known++
		c.Shift, c.Unit = u.shift, true
		return true
	}
	out := *l
	out.CC = append([]line.Column(nil), l.CC...)
	ok := true
	for i := range out.CC {
		ok = take(&out.CC[i], voltageQuantity) && ok
	}
	for _, c := range []struct {
		column **line.Column
		want   quantity
	}{{&out.Time, timeQuantity}, {&out.VBUS, voltageQuantity}, {&out.IBUS, currentQuantity}} {
		if *c.column == nil {
			continue
		}
		own := **c.column
		ok = take(&own, c.want) && ok
		*c.column = &own
	}
	if !ok || known == 0 {
		return false
	}
	*l = out
	return true
}

// lineReadable reports whether a row can be read as data.
func lineReadable(l *line.Layout, cells [][]byte, comma bool) bool {
	if len(cells) < l.Cells {
		return false
	}
	if l.Time != nil {
		clock := delimited.Clock{Shift: l.Time.Shift, Comma: comma}
		if _, ok := clock.Read(cells[l.Time.Index], 0); !ok {
			return false
		}
	}
	for _, c := range l.CC {
		if cell := cells[c.Index]; len(cell) > 0 {
			if _, ok := delimited.ParseDecimal(cell, comma); !ok {
				return false
			}
		}
	}
	return true
}
