package captures

import (
	"math"
	"strconv"
	"time"
)

// decimal is a number as it stood in a cell: mantissa times ten to the
// exponent. Digits beyond the nineteenth are dropped and told by cut.
type decimal struct {
	mantissa uint64
	exponent int
	negative bool
	cut      bool
}

const mantissaDigits = 19 // the most that always fit a uint64

// parseDecimal reads a whole cell: optional sign, digits with at most one
// point, optional exponent. A comma counts as the point where comma is set.
// NaN, infinities, hexadecimal and digit grouping are refused.
func parseDecimal(cell []byte, comma bool) (d decimal, ok bool) {
	i := 0
	if i < len(cell) && (cell[i] == '-' || cell[i] == '+') {
		d.negative = cell[i] == '-'
		i++
	}
	digits, seen, point := 0, false, false
	for ; i < len(cell); i++ {
		c := cell[i]
		switch {
		case c >= '0' && c <= '9':
			seen = true
			if digits < mantissaDigits {
				d.mantissa = d.mantissa*10 + uint64(c-'0')
				if d.mantissa > 0 {
					digits++
				}
				if point {
					d.exponent--
				}
				continue
			}
			d.cut = d.cut || c != '0'
			if !point {
				d.exponent++
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

// addExponent reads what follows the letter E.
func (d *decimal) addExponent(cell []byte) bool {
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
		if n < 100_000 { // far beyond any range; the value is refused later
			n = n*10 + int(cell[i]-'0')
		}
	}
	d.exponent += sign * n
	return true
}

// exactPowers are the powers of ten that a float64 holds exactly.
var exactPowers = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// float is the correctly rounded value. One multiplication or division of
// two exact numbers is; the rest goes the library's way.
func (d decimal) float() float64 {
	if d.mantissa == 0 {
		return 0
	}
	var v float64
	exact := d.mantissa < 1<<53 && !d.cut
	switch {
	case exact && d.exponent <= 0 && -d.exponent < len(exactPowers):
		v = float64(d.mantissa) / exactPowers[-d.exponent]
	case exact && d.exponent > 0 && d.exponent < len(exactPowers):
		v = float64(d.mantissa) * exactPowers[d.exponent]
	default:
		text := strconv.AppendUint(make([]byte, 0, 32), d.mantissa, 10)
		text = append(text, 'e')
		text = strconv.AppendInt(text, int64(d.exponent), 10)
		v, _ = strconv.ParseFloat(string(text), 64) // an overflow is infinite, and refused by range
	}
	if d.negative {
		return -v
	}
	return v
}

// duration is the value in units of ten to the power shift seconds, rounded
// to a nanosecond; ok is false where it does not fit.
func (d decimal) duration(shift int) (time.Duration, bool) {
	if d.mantissa == 0 {
		return 0, true
	}
	m, e := d.mantissa, d.exponent+shift+9
	for ; e > 0; e-- {
		if m > math.MaxInt64/10 {
			return 0, false
		}
		m *= 10
	}
	if e < 0 {
		m = divideByPower(m, -e)
	}
	if m > math.MaxInt64 {
		return 0, false
	}
	if d.negative {
		return -time.Duration(m), true
	}
	return time.Duration(m), true
}

// divideByPower divides by ten to the power n, rounding half up.
func divideByPower(m uint64, n int) uint64 {
	if n > mantissaDigits {
		return 0
	}
	p := uint64(1)
	for range n {
		p *= 10
	}
	q, r := m/p, m%p
	if r >= p-r {
		q++
	}
	return q
}
