// Package probe reads what a technician types in: one measurement of the bench, or one
// word on how a recording was made.
package probe

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/agnivade/levenshtein"
)

// Reading is one bench measurement, or one word about how a recording was
// made. A figure is in ohm, volt, ampere or watt.
type Reading struct {
	Name  string
	Value float64 // NaN for a word; +Inf for open, 0 for short
	Word  string  // open, short, same, customer ...; "" for a figure
	Text  string  // the value as it was given
}

// String is the form that [ParseReading] takes.
func (r Reading) String() string { return r.Name + "=" + r.Text }

// ReadingForm says what a reading is called and which values it takes.
type ReadingForm struct {
	Name  string
	Unit  string   // ohm, V, A, W, or "" where only words are taken
	Words []string // the words it takes; nil with no unit means any text
}

// Accepted names the forms of a value, for messages.
func (f ReadingForm) Accepted() []string {
	switch f.Unit {
	case "":
		if f.Words == nil {
			return []string{"a short text"}
		}
		return f.Words
	case "ohm":
		return append([]string{"0.8ohm", "4.7kohm"}, f.Words...)
	case "V":
		return append([]string{"0.45V", "450mV"}, f.Words...)
	case "A":
		return append([]string{"20mA", "0.4A"}, f.Words...)
	default:
		return append([]string{"65W"}, f.Words...)
	}
}

// Readings lists every reading that is taken, in the order of a bench: cold,
// powered, second trials, how the recording was made, the display.
func Readings() []ReadingForm {
	measured := []string{"open", "short"}
	trial := []string{"same", "different", "none"}
	var out []ReadingForm
	add := func(unit string, words []string, names ...string) {
		for _, n := range names {
			out = append(out, ReadingForm{Name: n, Unit: unit, Words: words})
		}
	}
	add("ohm", measured, "main-rail-ohm", "charger-input-ohm", "always-on-rail-ohm", "controller-supply-ohm", "vbus-ohm", "cc1-ohm", "cc2-ohm")
	add("V", measured, "main-rail-diode-v", "vbus-diode-v", "cc1-diode-v", "cc2-diode-v",
		"main-rail-v", "charger-input-v", "always-on-rail-v", "controller-supply-v", "vbus-v")
	add("", trial, "known-good-charger", "other-cable", "other-port", "plug-flipped", "repeat")
	add("", []string{"connected", "disconnected"}, "battery")
	add("", []string{"customer", "known-good"}, "recorded-charger", "recorded-cable")
	add("", nil, "recorded-port")
	add("W", nil, "charger-label-w")
	add("V", nil, "display-v")
	add("A", nil, "display-a")
	add("", []string{"steady", "pulsing", "climbing", "staircase", "falling"}, "display-pattern")
	return out
}

// ReadingError is what is wrong with a reading, and what is taken instead.
type ReadingError struct {
	Input    string   // as given
	Name     string   // the reading's name; "" where none could be told
	Problem  string   // what is wrong, in words
	Accepted []string // the forms that are taken
	Nearest  string   // the name or word that a typo most likely meant; "" for none
}

// Error says the problem, the nearest word and the accepted forms.
func (e *ReadingError) Error() string {
	text := e.Problem
	if e.Nearest != "" {
		text += fmt.Sprintf("; did you mean %s?", e.Nearest)
	}
	if len(e.Accepted) > 0 {
		text += "; accepted: " + strings.Join(e.Accepted, ", ")
	}
	return text
}

// The largest figures that a bench can mean; beyond them a prefix is wrong.
// EPR ends at 48 V and 240 W; common practice for the rest.
const (
	mostVolts   = 100
	mostAmps    = 100
	mostWatts   = 1000
	mostOhms    = 1e12
	longestText = 100 // characters of a free text
)

// figureForm is a decimal figure with an optional exponent, then its unit.
const figureForm = `^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(.*)$`

// ParseReading reads NAME=VALUE, such as main-rail-ohm=0.8ohm. An error is a
// [*ReadingError].
func ParseReading(s string) (Reading, error) {
	name, value, found := strings.Cut(s, "=")
	name, value = strings.TrimSpace(name), strings.TrimSpace(value)
	if !found {
		return Reading{}, &ReadingError{Input: s, Problem: "a reading is NAME=VALUE", Accepted: []string{"main-rail-ohm=0.8ohm", "other-port=same"}}
	}
	forms := Readings()
	i := slices.IndexFunc(forms, func(f ReadingForm) bool { return f.Name == name })
	if i < 0 {
		return Reading{}, unknownName(s, name, forms)
	}
	return forms[i].parse(s, value)
}

// ParseReadings reads several. A name that is given twice cannot be both:
// the error names both.
func ParseReadings(given []string) ([]Reading, error) {
	var out []Reading
	for _, g := range given {
		r, err := ParseReading(g)
		if err != nil {
			return nil, err
		}
		if old, seen := Find(out, r.Name); seen {
			return nil, &ReadingError{Input: g, Name: r.Name, Problem: fmt.Sprintf("%s and %s are both given", old, r), Accepted: []string{"the one that holds"}}
		}
		out = append(out, r)
	}
	return out, nil
}

func unknownName(input, name string, forms []ReadingForm) error {
	var names []string
	for _, f := range forms {
		names = append(names, f.Name)
	}
	e := &ReadingError{Input: input, Problem: fmt.Sprintf("no reading is called %q", name), Nearest: nearest(name, names)}
	if e.Nearest == "" {
		e.Accepted = names
	}
	return e
}

func (f ReadingForm) parse(input, value string) (Reading, error) {
	refuse := func(format string, a ...any) (Reading, error) {
		return Reading{}, &ReadingError{Input: input, Name: f.Name, Problem: f.Name + ": " + fmt.Sprintf(format, a...), Accepted: f.Accepted(), Nearest: nearest(value, f.Words)}
	}
	r := Reading{Name: f.Name, Text: value, Value: math.NaN()}
	switch {
	case value == "":
		return refuse("no value is given")
	case f.Unit == "" && f.Words == nil:
		if len(value) > longestText || strings.ContainsFunc(value, func(c rune) bool { return !unicode.IsPrint(c) }) {
			return refuse("the text is too long or cannot be printed")
		}
		r.Word = value
		return r, nil
	case slices.Contains(f.Words, value):
		r.Word = value
		switch value {
		case "open":
			r.Value = math.Inf(1)
		case "short":
			r.Value = 0
		}
		return r, nil
	case f.Unit == "":
		return refuse("%q is none of its words", value)
	}
	parts := regexp.MustCompile(figureForm).FindStringSubmatch(value)
	if parts == nil {
		return refuse("%q is no figure with a unit", value)
	}
	scale, unit, known := splitUnit(parts[2])
	switch {
	case parts[2] == "":
		return refuse("%q has no unit", value)
	case !known:
		return refuse("%q is no unit that is known", parts[2])
	case unit != f.Unit:
		return refuse("%q is in %s, and this reading is in %s", value, unit, f.Unit)
	}
	figure, err := strconv.ParseFloat(parts[1], 64)
	if err != nil || !f.possible(figure*scale) {
		return refuse("%q is not possible", value)
	}
	r.Value = figure * scale
	return r, nil
}

// splitUnit tells prefix from unit. Case matters in the prefix only: m is
// milli and M is mega.
func splitUnit(s string) (scale float64, unit string, known bool) {
	if unit, known := unitOf(s); known {
		return 1, unit, true
	}
	switch {
	case strings.HasPrefix(s, "m"):
		scale = 1e-3
	case strings.HasPrefix(s, "k"):
		scale = 1e3
	case strings.HasPrefix(s, "M"):
		scale = 1e6
	default:
		return 0, "", false
	}
	unit, known = unitOf(s[1:])
	return scale, unit, known
}

func unitOf(s string) (unit string, known bool) {
	switch strings.ToLower(s) {
	case "ohm", "ohms", "\u03c9": // the ohm sign and omega, both in lower case
		return "ohm", true
	case "v":
		return "V", true
	case "a":
		return "A", true
	case "w":
		return "W", true
	}
	return "", false
}

// possible reports a figure that a meter can show for the reading.
func (f ReadingForm) possible(x float64) bool {
	switch f.Unit {
	case "ohm":
		return x >= 0 && x <= mostOhms
	case "V":
		least := float64(-mostVolts)
		if strings.HasSuffix(f.Name, "-diode-v") {
			least = 0
		}
		return x >= least && x <= mostVolts
	case "A":
		return math.Abs(x) <= mostAmps
	default:
		return x > 0 && x <= mostWatts
	}
}

// Find gives the reading of a name; of several the last holds.
func Find(readings []Reading, name string) (Reading, bool) {
	for _, r := range slices.Backward(readings) {
		if r.Name == name {
			return r, true
		}
	}
	return Reading{}, false
}

// Figure gives the value of a reading, where it is one.
func Figure(readings []Reading, name string) (x float64, ok bool) {
	r, seen := Find(readings, name)
	return r.Value, seen && !math.IsNaN(r.Value)
}

// Word gives the word of a reading, or "".
func Word(readings []Reading, name string) string {
	r, _ := Find(readings, name)
	return r.Word
}

// tooFar is how many letters a typo may be off.
const tooFar = 4

// nearest returns the name that a typo most likely meant, or "".
func nearest(word string, names []string) string {
	best, least := "", tooFar
	if len(word) > longestText {
		return ""
	}
	for _, name := range names {
		if len(word) >= 4 && strings.HasPrefix(name, word) {
			return name // cut short
		}
		if d := levenshtein.ComputeDistance(word, name); d < least && 2*d <= len(name) {
			best, least = name, d
		}
	}
	return best
}
