package text

import "strings"

// units are what may stand behind a figure.
var units = map[string]bool{
	"V": true, "mV": true, "A": true, "mA": true, "uA": true, "kA": true, "W": true, "mW": true, "Wh": true,
	"s": true, "ms": true, "us": true, "ns": true, "h": true, "min": true, "Hz": true, "kHz": true, "kbit/s": true,
	"ohm": true, "kohm": true, "mohm": true, "C": true, "%": true, "byte": true, "bytes": true,
}

// figures joins each figure with the unit behind it into one word, in place.
func figures(words []string) []string {
	out := words[:0]
	for _, word := range words {
		if n := len(out); n > 0 && isFigure(out[n-1]) && units[strings.TrimRight(word, ".,;:!?)]")] {
			out[n-1] += " " + word
			continue
		}
		out = append(out, word)
	}
	return out
}

// isFigure reports digits, with what may stand before them.
func isFigure(word string) bool {
	digits := strings.TrimLeft(word, "([<>~+-")
	return digits != "" && strings.Trim(digits, "0123456789.") == "" && digits[0] != '.'
}
