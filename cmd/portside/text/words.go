package text

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"portside/decode/rules"
)

// side names a location as it is said at the bench.
func side(l rules.Location) string {
	switch l {
	case rules.BeforePort:
		return "before the port"
	case rules.AtPort:
		return "at the port"
	case rules.BehindPort:
		return "behind the port"
	case rules.Healthy:
		return "healthy"
	case rules.Undetermined:
		return "not settled"
	default:
		return string(l)
	}
}

// sides is the order in which locations are listed: along the current.
var sides = [...]rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy}

// sure puts a probability into words.
func sure(p float64) string {
	switch {
	case p >= 0.95:
		return "all but certain"
	case p >= 0.85:
		return "very likely"
	default:
		return "likely"
	}
}

// percent prints a probability; what is not certain never reads 0 or 100.
func percent(p float64) string {
	whole := math.Round(100 * p)
	switch {
	case p > 0 && whole == 0:
		return "<1 %"
	case p < 1 && whole == 100:
		return ">99 %"
	default:
		return strconv.Itoa(int(whole)) + " %"
	}
}

// severity is the word a reader looks for.
func severity(s rules.Severity) string { return strings.ToUpper(string(s)) }

func severityStyle(s rules.Severity) string {
	switch s {
	case rules.Fault:
		return red
	case rules.Warning:
		return yellow
	default:
		return ""
	}
}

// weight orders severities, gravest highest.
func weight(s rules.Severity) int {
	switch s {
	case rules.Fault:
		return 2
	case rules.Warning:
		return 1
	default:
		return 0
	}
}

const unknown = "?"

// secs prints a time to the millisecond; nil is unknown.
func secs(s *float64) string {
	if s == nil {
		return unknown
	}
	return strconv.FormatFloat(*s, 'f', 3, 64) + " s"
}

// span prints a stretch of time.
func span(start, end *float64) string {
	if start != nil && end != nil && math.Abs(*end-*start) < 0.0005 {
		return secs(start)
	}
	if start == nil && end == nil {
		return unknown
	}
	if end == nil {
		return "from " + secs(start)
	}
	if start == nil {
		return "until " + secs(end)
	}
	return strconv.FormatFloat(*start, 'f', 3, 64) + " to " + secs(end)
}

// figure prints a value with three significant digits and its unit, with the
// prefix a bench meter would choose; nil is unknown.
func figure(x *float64, unit string) string {
	if x == nil || math.IsNaN(*x) {
		return unknown
	}
	v := *x
	switch a := math.Abs(v); {
	case unit == "" || a == 0:
		return short(v) + blankUnit(unit)
	case a < 1e-3 && a >= 1e-7:
		return short(v*1e6) + " u" + unit
	case a < 0.1:
		return short(v*1e3) + " m" + unit
	case a >= 1e6:
		return short(v/1e6) + " M" + unit
	case a >= 1e4:
		return short(v/1e3) + " k" + unit
	default:
		return short(v) + " " + unit
	}
}

func blankUnit(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

// short prints three significant digits without an exponent where it can.
func short(v float64) string {
	a := math.Abs(v)
	switch {
	case a >= 100 && a < 1e6:
		return strconv.FormatFloat(v, 'f', 0, 64)
	case a >= 10 && a < 100:
		return strconv.FormatFloat(v, 'f', 1, 64)
	case a >= 1 && a < 10:
		return strconv.FormatFloat(v, 'f', 2, 64)
	default:
		return strconv.FormatFloat(v, 'g', 3, 64)
	}
}

// milli prints a wire value in its base unit; nil is unknown.
func milli(v *int, unit string) string {
	if v == nil {
		return unknown
	}
	return strconv.FormatFloat(float64(*v)/1000, 'f', -1, 64) + " " + unit
}

// count prints a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// places joins locations into one word each: the sides of the port.
func places(list []rules.Location) string {
	words := make([]string, len(list))
	for i, l := range list {
		words[i] = strings.TrimSuffix(string(l), "-port")
	}
	return strings.Join(words, ", ")
}

// capital starts a sentence.
func capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[size:]
}

// stop ends a sentence with one full stop.
func stop(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "?") || strings.HasSuffix(s, "!") {
		return s
	}
	return s + "."
}
