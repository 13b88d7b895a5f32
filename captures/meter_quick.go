package captures

import (
	"bytes"
	"math"

	"portside/captures/delimited"
)

// quick reads a row of plain numbers straight from the line. ok is false where
// the row needs the full reader; its cells are then split already.
func (m *meterSource) quick() (ok bool, err error) {
	line, err := m.rows.lines.next()
	if err != nil {
		return false, err
	}
	m.rows.line = m.rows.lines.line
	if m.quickCells(line) {
		m.index++
		return true, nil
	}
	if passedOver(line, m.rows.delimiter) {
		return false, m.rows.next()
	}
	m.rows.split(line)
	return false, nil
}

// quickCells reads the cells of a line; ok is false where one is no plain
// number or their count is not the header's.
func (m *meterSource) quickCells(line []byte) (ok bool) {
	c := &m.columns
	delimiter := m.rows.delimiter
	at, seen := 0, 0
	for index := range c.count {
		if index == c.time.index || index == c.voltage.index || index == c.current.index {
			n, end, ok := plainNumber(line, at, delimiter, m.comma)
			if !ok || !m.place(index, n) {
				return false
			}
			at = end
			seen++
		} else {
			cell := trimLeft(line[at:], delimiter)
			if len(cell) > 0 && cell[0] == '"' {
				return false
			}
			if i := bytes.IndexByte(line[at:], delimiter); i >= 0 {
				at += i
			} else {
				at = len(line)
			}
		}
		if at == len(line) {
			break
		}
		at++ // the delimiter
	}
	if seen != 3 || at < len(line) {
		return false
	}
	m.sample.CC = [2]float64{math.NaN(), math.NaN()}
	m.sample.Line = m.rows.line
	return true
}

// place puts a plain number into the sample.
func (m *meterSource) place(index int, n delimited.Decimal) (ok bool) {
	c, s := &m.columns, &m.sample
	switch index {
	case c.time.index:
		s.At, ok = n.Duration(c.time.unit.shift, c.time.unit.minutes)
	case c.voltage.index:
		s.Volts, ok = n.ExactFloat(c.voltage.unit.shift)
		ok = ok && math.Abs(s.Volts) <= maxReading
	default:
		s.Amps, ok = n.ExactFloat(c.current.unit.shift)
		ok = ok && math.Abs(s.Amps) <= maxReading
	}
	return ok
}

// plainNumber reads sign, digits and one point up to the delimiter or the end
// of the line; anything else is left to the full reader.
func plainNumber(line []byte, at int, delimiter byte, comma bool) (n delimited.Decimal, end int, ok bool) {
	for at < len(line) && line[at] == ' ' {
		at++
	}
	if at < len(line) && line[at] == '-' {
		n.Negative = true
		at++
	}
	start, point := at, -1
	for ; at < len(line); at++ {
		c := line[at]
		if d := c - '0'; d <= 9 {
			n.Mantissa = n.Mantissa*10 + uint64(d)
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
		n.Exponent = -(at - point - 1)
	}
	return n, at, digits > 0 && digits < delimited.MantissaDigits
}
