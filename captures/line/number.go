package line

import (
	"math"
	"strconv"
	"time"
)

// powers are those of ten that a float64 holds exactly.
var powers = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// decimal is a number as it stood in a cell: mantissa times ten to the exponent.
type decimal struct {
	mantissa int64
	exponent int
}

const mantissaDigits = 18 // the most that always fit an int64

// plain reads sign, digits and one point; false for anything else, such as an
// exponent, and for more digits than a mantissa holds.
func plain(cell []byte, comma bool) (d decimal, ok bool) {
	i, negative := 0, false
	if len(cell) > 0 && (cell[0] == '-' || cell[0] == '+') {
		negative = cell[0] == '-'
		i = 1
	}
	digits, point := 0, -1
	for ; i < len(cell); i++ {
		c := cell[i]
		switch {
		case c-'0' <= 9:
			d.mantissa = d.mantissa*10 + int64(c-'0')
			digits++
		case point < 0 && (c == '.' || comma && c == ','):
			point = i
		default:
			return d, false
		}
		if digits > mantissaDigits {
			return d, false
		}
	}
	if point >= 0 {
		d.exponent = point + 1 - len(cell)
	}
	if negative {
		d.mantissa = -d.mantissa
	}
	return d, digits > 0
}

// parseValue reads a number, lifted by ten to the power shift.
func parseValue(cell []byte, comma bool, shift int) (float64, bool) {
	d, ok := plain(cell, comma)
	e := -(d.exponent + shift)
	if ok && d.mantissa < 1<<53 && d.mantissa > -1<<53 && e >= 0 && e < len(powers) {
		return float64(d.mantissa) / powers[e], true
	}
	v, ok := parseRare(cell, comma)
	return v * math.Pow10(shift), ok
}

// parseTime reads a time in units of ten to the power shift seconds.
func parseTime(cell []byte, comma bool, shift int) (time.Duration, bool) {
	d, ok := plain(cell, comma)
	if ok {
		if at, ok := d.duration(d.exponent + shift + 9); ok {
			return at, true
		}
	}
	v, ok := parseRare(cell, comma)
	v *= math.Pow10(shift + 9)
	if !ok || !(math.Abs(v) < math.MaxInt64) {
		return 0, false
	}
	return time.Duration(math.Round(v)), true
}

// duration is the mantissa times ten to the power e in nanoseconds, rounded.
func (d decimal) duration(e int) (time.Duration, bool) {
	m := d.mantissa
	for ; e > 0; e-- {
		if m > math.MaxInt64/10 || m < math.MinInt64/10 {
			return 0, false
		}
		m *= 10
	}
	if e < -mantissaDigits {
		return 0, true
	}
	divisor := int64(1)
	for ; e < 0; e++ {
		divisor *= 10
	}
	half := divisor / 2
	if m < 0 {
		half = -half
	}
	return time.Duration((m + half) / divisor), true
}

// parseRare reads what plain does not: exponents and very many digits. NaN,
// infinities, hexadecimal and grouped digits are refused.
func parseRare(cell []byte, comma bool) (float64, bool) {
	const longest = 64
	if len(cell) == 0 || len(cell) > longest {
		return 0, false
	}
	var room [longest]byte
	text := append(room[:0], cell...)
	for i, c := range text {
		switch {
		case c-'0' <= 9 || c == '.' || c == '-' || c == '+' || c == 'e' || c == 'E':
		case comma && c == ',':
			text[i] = '.'
		default:
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(string(text), 64)
	return v, err == nil
}
