package captures

import (
	"errors"
	"fmt"
	"strings"

	"portside/captures/delimited"
)

const absent = -1

// meterColumn is where one quantity stands and how to read it.
type meterColumn struct {
	index int // absent where the log has none
	unit  unit
	named bool // the heading or --columns names the unit
	also  int  // a further column that would do, or absent
}

// clock reads the cells of a time column.
func (c meterColumn) clock(comma bool) delimited.Clock {
	return delimited.Clock{Shift: c.unit.shift, Minutes: c.unit.minutes, Comma: comma}
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
	c := meterColumns{count: len(names)}
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
	found := meterColumn{index: absent, also: absent}
	var problem error
	for i, name := range names {
		h := parseHeading(name)
		if given.Name != "" {
			if !strings.EqualFold(strings.TrimSpace(name), given.Name) {
				continue
			}
			if given.Unit != "" {
				h.unit = given.Unit
			}
		} else if h.quantity != want {
			continue
		}
		column, err := columnOf(i, h, want)
		switch {
		case err != nil && problem == nil:
			problem = err
		case err == nil && found.index == absent:
			found = column
		case err == nil && found.also == absent:
			found.also = i
		}
	}
	if found.index != absent {
		return found, nil
	}
	if problem == nil && given.Name != "" {
		problem = fmt.Errorf("a column named %q", given.Name)
	}
	return found, problem
}

func columnOf(index int, h heading, want quantity) (meterColumn, error) {
	plain := want
	if want.isCC() {
		plain = voltageQuantity
	}
	c := meterColumn{index: index, unit: unit{quantity: plain}, also: absent}
	if h.unit == "" {
		return c, nil
	}
	u, known := units[h.unit]
	switch {
	case known && u.quantity == plain:
		c.unit, c.named = u, true
	case plain == timeQuantity && !isUnit(h.unit):
		// A heading such as "time (UTC)" or "time (hh:mm:ss)" names no unit.
	default:
		return c, fmt.Errorf("a %s in a known unit (%s)", quantityNames[want], acceptedUnits(plain))
	}
	return c, nil
}

// notes tell which columns were taken, so that a wrong guess is seen.
func (c meterColumns) notes(names []string) []string {
	time := "the rate"
	if c.time.index != absent {
		time = fmt.Sprintf("%q", names[c.time.index])
	}
	out := []string{fmt.Sprintf("columns taken: time from %s, voltage from %q, current from %q", time, names[c.voltage.index], names[c.current.index])}
	for _, column := range []meterColumn{c.time, c.voltage, c.current} {
		if column.index != absent && column.also != absent {
			out = append(out, fmt.Sprintf("the %s is from %q and not from %q; name it with --columns if that is wrong", quantityNames[column.unit.quantity], names[column.index], names[column.also]))
		}
	}
	return out
}

// takeUnits takes the first row under a header where it holds units in place
// of values. A unit that is named in the heading or by the user stays. An
// error says that a value would stand in a unit that is not read.
func (c *meterColumns) takeUnits(cells [][]byte, comma bool) (taken bool, err error) {
	out, known := *c, 0
	var foreign error
	for _, column := range []*meterColumn{&out.time, &out.voltage, &out.current, &out.cc[0], &out.cc[1]} {
		if column.index == absent || column.index >= len(cells) || len(cells[column.index]) == 0 {
			continue
		}
		word := strings.ToLower(strings.Trim(string(cells[column.index]), "()[] "))
		u, read := units[word]
		switch {
		case read && u.quantity == column.unit.quantity:
			known++
			if !column.named {
				column.unit, column.named = u, true
			}
		case column.named:
		case column.unit.quantity == timeQuantity && !isUnit(word):
			clock := delimited.Clock{Comma: comma}
			if _, ok := clock.Read(cells[column.index], 0); ok {
				return false, nil // a value, and no units row
			}
		default:
			foreign = fmt.Errorf("a %s in a known unit (%s)", quantityNames[column.unit.quantity], acceptedUnits(column.unit.quantity))
			if _, ok := delimited.ParseDecimal(cells[column.index], comma); ok {
				return false, nil
			}
		}
	}
	if known == 0 {
		return false, nil
	}
	if foreign != nil {
		return false, foreign
	}
	*c = out
	return true, nil
}

// readable reports whether a row can be read as data.
func (c *meterColumns) readable(cells [][]byte, comma bool) bool {
	if c.tooMany(cells) {
		return false
	}
	if c.time.index != absent {
		clock := c.time.clock(comma)
		if c.time.index >= len(cells) {
			return false
		}
		if _, ok := clock.Read(cells[c.time.index], 0); !ok {
			return false
		}
	}
	for _, column := range []meterColumn{c.voltage, c.current} {
		if column.index >= len(cells) {
			return false
		}
		if cell := cells[column.index]; len(cell) > 0 {
			if _, ok := delimited.ParseDecimal(cell, comma); !ok {
				return false
			}
		}
	}
	return true
}

// tooMany reports a row with more cells than the header, such as one whose
// decimal commas were read as delimiters. An empty cell behind the last is a
// delimiter at the end of the row.
func (c *meterColumns) tooMany(cells [][]byte) bool {
	return len(cells) > c.count+1 || len(cells) == c.count+1 && len(cells[c.count]) > 0
}
