// Package delimited reads single cells of a delimited text: numbers, and times in
// whatever form a recorder writes them. NaN, infinities, hexadecimal and grouped
// digits are no numbers.
package delimited

import (
	"math"
	"math/bits"
	"strconv"
	"time"
)

// MaxTime bounds every time in a file and every stated shift, either way. Ninety
// years hold any time since 1970, and a time with two shifts always fits a
// Duration (292 years). A larger number is a damaged cell and not a time.
const MaxTime = 90 * 365 * day

// Decimal is a number as it stood in a cell: mantissa times ten to the
// exponent. Four fields and no more: a larger struct is not kept in registers,
// and reading takes twice the time.
type Decimal struct {
	Mantissa uint64
	Exponent int
	Negative bool
	half     bool // digits beyond the nineteenth were dropped, and the first was 5 or more
}

// MantissaDigits is the most that always fit a mantissa.
const MantissaDigits = 19

// ParseDecimal reads a whole cell: optional sign, digits with at most one
// point, optional exponent. A comma counts as the point where comma is set.
// NaN, infinities, hexadecimal and digit grouping are refused.
func ParseDecimal(cell []byte, comma bool) (d Decimal, ok bool) {
	i := 0
	if i < len(cell) && (cell[i] == '-' || cell[i] == '+') {
		d.Negative = cell[i] == '-'
		i++
	}
	digits, seen, point := 0, false, false
	for ; i < len(cell); i++ {
		c := cell[i]
		switch {
		case c >= '0' && c <= '9':
			seen = true
			if digits >= MantissaDigits {
				d.half = d.half || digits == MantissaDigits && c >= '5'
				digits++
				if !point {
					d.Exponent++
				}
				continue
			}
			d.Mantissa = d.Mantissa*10 + uint64(c-'0')
			if d.Mantissa > 0 {
				digits++
			}
			if point {
				d.Exponent--
			}
		case !point && (c == '.' || comma && c == ','):
			point = true
		case seen && (c == 'e' || c == 'E'):
			return d, d.addExponent(cell[i+1:])
		default:
			return d, false
		}
	}
	return d, seen
}

// maxExponent bounds an exponent as written: far beyond it every number is
// zero or out of range.
const maxExponent = 100_000

// addExponent reads what follows the letter E.
func (d *Decimal) addExponent(cell []byte) bool {
	sign, i := 1, 0
	if i < len(cell) && (cell[i] == '-' || cell[i] == '+') {
		if cell[i] == '-' {
			sign = -1
		}
		i++
	}
	if i == len(cell) {
		return false
	}
	n := 0
	for ; i < len(cell); i++ {
		if cell[i] < '0' || cell[i] > '9' {
			return false
		}
		n = min(n*10+int(cell[i]-'0'), maxExponent)
	}
	d.Exponent += sign * n
	return true
}

// exactPowers are the powers of ten that a float64 holds exactly.
var exactPowers = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// ExactFloat is the correctly rounded value times ten to the shift, where one
// multiplication or division of two exact numbers gives it.
func (d Decimal) ExactFloat(shift int) (v float64, ok bool) {
	e := d.Exponent + shift
	switch {
	case d.Mantissa == 0:
		return 0, true
	case d.Mantissa >= 1<<53: // with digits dropped too
		return 0, false
	case e <= 0 && -e < len(exactPowers):
		v = float64(d.Mantissa) / exactPowers[-e]
	case e > 0 && e < len(exactPowers):
		v = float64(d.Mantissa) * exactPowers[e]
	default:
		return 0, false
	}
	if d.Negative {
		v = -v
	}
	return v, true
}

// ParseFloat reads a whole cell as the float64 nearest to its number times ten
// to the shift. A number that is too large for one is infinite.
func ParseFloat(cell []byte, comma bool, shift int) (v float64, ok bool) {
	d, ok := ParseDecimal(cell, comma)
	if !ok {
		return 0, false
	}
	if v, ok = d.ExactFloat(shift); ok {
		return v, true
	}
	return libraryFloat(cell, shift), true
}

// libraryFloat lets the library round all digits of a Decimal.
func libraryFloat(cell []byte, shift int) float64 {
	text := make([]byte, 0, len(cell)+8)
	for i, c := range cell {
		if c == 'e' || c == 'E' {
			written, _ := strconv.Atoi(string(cell[i+1:])) // beyond an int it gives the nearest
			shift += min(max(written, -maxExponent), maxExponent)
			break
		}
		if c == ',' {
			c = '.'
		}
		text = append(text, c)
	}
	text = strconv.AppendInt(append(text, 'e'), int64(shift), 10)
	v, _ := strconv.ParseFloat(string(text), 64) // an overflow is infinite, and refused by range
	return v
}

// Duration is the value times ten to the shift in seconds, or in minutes,
// rounded to a nanosecond; ok is false beyond MaxTime.
func (d Decimal) Duration(shift int, minutes bool) (at time.Duration, ok bool) {
	times := uint64(1)
	if minutes {
		times = 60
	}
	e := d.Exponent + shift + 9
	ns, ok := scaled(d.Mantissa, times, e)
	if !ok || ns > uint64(MaxTime) {
		return 0, false
	}
	if e == 0 && times == 1 && d.half {
		ns++
	}
	if d.Negative {
		return -time.Duration(ns), true
	}
	return time.Duration(ns), true
}

// tens are the powers of ten that a uint64 holds.
var tens = [...]uint64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9,
	1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19,
}

// scaled is m·times·10^e to the nearest integer, a half rounded up.
func scaled(m, times uint64, e int) (uint64, bool) {
	hi, lo := bits.Mul64(m, times)
	switch {
	case hi == 0 && lo == 0:
		return 0, true
	case e >= 0:
		if hi != 0 || e >= len(tens) {
			return 0, false
		}
		hi, lo = bits.Mul64(lo, tens[e])
		return lo, hi == 0
	case -e < len(tens):
		p := tens[-e]
		if hi >= p {
			return 0, false
		}
		q, r := bits.Div64(hi, lo, p)
		if r >= p-r && q < math.MaxUint64 {
			q++
		}
		return q, true
	}
	// times is at most 60, so the product is below 2^70 and one step leaves a
	// small number; what it drops cannot turn the rounding of the next.
	const top = len(tens) - 1
	q, _ := bits.Div64(hi, lo, tens[top])
	return scaled(q, 1, e+top)
}
