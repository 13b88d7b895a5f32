package location

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"portside/decode/rules"
)

// Reading is one bench measurement.
type Reading struct {
	Name  string
	Value float64 // in ohm, V, A or W; +Inf is open
	Word  string  // of a reading that takes words
	Text  string  // as given
}

// Definition is one reading that may be given.
type Definition struct {
	Name  string
	unit  string   // ohm, V, A, W; "" for words
	words []string // nil with a unit: any text

	// Of a measurement that moves the verdict.
	test     string
	minutes  float64 // common practice of a senior's bench
	opens    bool    // the case must be open
	powers   bool    // the unit is powered
	caution  string
	outcomes []outcome
}

// outcome is one band of a reading and how likely each class makes it.
type outcome struct {
	label string // what the instrument shows
	below float64
	word  string
	base  float64
	by    weights
}

const (
	coldCaution    = "Mains charger out and battery disconnected first; wait until the rail is below 0.5 V."
	poweredCaution = "This powers the unit: eyes protected, hands off, unplug at once if anything heats; local codes and licensed practice come first."
)

var trialWords = []string{"same", "different", "none"}

// cold is a resistance that is read with nothing powered. Bands: below 5 ohm
// a short, to 50 ohm a leak, above 1 kohm plausible; common practice, and the
// sources disagree by 20 times on what is normal.
func cold(name, node string, opens bool, minutes float64, short, leak weights, clean weights) Definition {
	return Definition{Name: name, unit: "ohm", test: "measure " + node + " to ground in ohms, cold", minutes: minutes, opens: opens, caution: coldCaution,
		outcomes: []outcome{
			{label: "below 5 ohm", below: 5, base: 0.01, by: short},
			{label: "5 to 50 ohm", below: 50, base: 0.02, by: leak},
			{label: "50 ohm to 1 kohm", below: 1000, base: 0.15, by: halved(leak)},
			{label: "above 1 kohm or open", below: math.Inf(1), base: 0.82, by: clean},
		}}
}

func halved(w weights) weights {
	out := weights{}
	for part, p := range w {
		out[part] = max(0.15, p/2)
	}
	return out
}

func diode(name, node string, opens bool, short, leak weights, clean weights) Definition {
	return Definition{Name: name, unit: "V", test: "measure " + node + " in diode mode, red on ground, cold", minutes: 2, opens: opens, caution: coldCaution,
		outcomes: []outcome{
			{label: "below 0.05 V", below: 0.05, base: 0.01, by: short},
			{label: "0.05 to 0.25 V", below: 0.25, base: 0.04, by: leak},
			{label: "0.25 V or more, or open", below: math.Inf(1), base: 0.95, by: clean},
		}}
}

func trial(name, test string, minutes float64, base float64, different weights) Definition {
	same := weights{}
	for part, p := range different {
		same[part] = 1 - p
	}
	return Definition{Name: name, words: trialWords, test: test, minutes: minutes, powers: true, caution: poweredCaution,
		outcomes: []outcome{
			{label: "different", word: "different", base: base, by: different},
			{label: "same", word: "same", base: 1 - base, by: same},
		}}
}

func powered(name, node string, minutes, below float64, base float64, low weights) Definition {
	high := weights{}
	for part, p := range low {
		high[part] = 1 - p
	}
	return Definition{Name: name, unit: "V", test: "measure " + node + " in volts, customer's charger in, battery disconnected", minutes: minutes, opens: true, powers: true, caution: poweredCaution,
		outcomes: []outcome{
			{label: fmt.Sprintf("below %g V", below), below: below, base: base, by: low},
			{label: fmt.Sprintf("%g V or more", below), below: math.Inf(1), base: 1 - base, by: high},
		}}
}

// Readings lists every reading that may be given. Minutes and bands: common
// practice.
func Readings() []Definition {
	mainShort := weights{"main-rail-short": 0.9, "downstream-rail": 0.05}
	mainLeak := weights{"main-rail-leak": 0.7, "downstream-rail": 0.25, "main-rail-short": 0.08}
	mainClean := weights{"main-rail-short": 0.01, "main-rail-leak": 0.05, "downstream-rail": 0.5}
	cc := weights{"cc-contact": 0.5, "port-controller": 0.3}
	ccClean := weights{"cc-contact": 0.5, "port-controller": 0.7}
	return []Definition{
		cold("vbus-ohm", "VBUS at the receptacle", false, 2, weights{"vbus-short": 0.9, "charger-input-short": 0.02}, weights{"vbus-leak": 0.6, "vbus-short": 0.08}, weights{"vbus-short": 0.01, "vbus-leak": 0.1}),
		cold("main-rail-ohm", "the main rail", true, 3, mainShort, mainLeak, mainClean),
		diode("main-rail-diode-v", "the main rail", true, mainShort, mainLeak, mainClean),
		diode("vbus-diode-v", "VBUS", false, weights{"vbus-short": 0.9}, weights{"vbus-leak": 0.5}, weights{"vbus-short": 0.02, "vbus-leak": 0.5}),
		cold("charger-input-ohm", "the node between input switches and charger circuit", true, 3, weights{"charger-input-short": 0.9}, weights{"charger-input-short": 0.08, "charger-circuit": 0.1}, weights{"charger-input-short": 0.01}),
		cold("always-on-rail-ohm", "the always-on rail", true, 3, weights{"downstream-rail": 0.5, "port-controller-supply": 0.1}, weights{"downstream-rail": 0.2}, weights{"downstream-rail": 0.3}),
		cold("controller-supply-ohm", "the port controller's supply", true, 3, weights{"port-controller-supply": 0.5, "port-controller": 0.2}, weights{"port-controller-supply": 0.2}, weights{"port-controller-supply": 0.3, "port-controller": 0.7}),
		cold("cc1-ohm", "CC1", false, 1.5, cc, weights{"port-controller": 0.1}, ccClean),
		cold("cc2-ohm", "CC2", false, 1.5, cc, weights{"port-controller": 0.1}, ccClean),
		diode("cc1-diode-v", "CC1", false, cc, weights{"port-controller": 0.1}, ccClean),
		diode("cc2-diode-v", "CC2", false, cc, weights{"port-controller": 0.1}, ccClean),
		trial("other-port", "try another port of the machine", 1, 0.05, weights{"port-controller": 0.75, "cc-contact": 0.85, "input-switch": 0.7, "power-contact": 0.8, "port-controller-supply": 0.5, "vbus-short": 0.6, "vbus-leak": 0.6}),
		trial("plug-flipped", "turn the plug over", 1, 0.04, weights{"cc-contact": 0.8, "power-contact": 0.4, "cable": 0.1}),
		trial("known-good-charger", "try a known-good charger with its cable", 2, 0.05, weights{"source": 0.93, "cable": 0.6, "mains": 0.3}),
		trial("other-cable", "try another cable", 2, 0.04, weights{"cable": 0.93}),
		trial("repeat", "do the same once more", 2, 0.08, weights{"power-contact": 0.4, "cable": 0.2, "cc-contact": 0.2}),
		powered("main-rail-v", "the main rail", 3, 1, 0.2, weights{"main-rail-short": 0.97, "charger-circuit": 0.85, "input-switch": 0.95, "charger-input-short": 0.95, "downstream-rail": 0.15, "power-on-sequence": 0.03, healthyPart: 0.02, "port-controller": 0.6, "port-controller-supply": 0.6, "vbus-short": 0.98, "source": 0.4}),
		powered("charger-input-v", "the node between input switches and charger circuit", 3, 4, 0.1, weights{"input-switch": 0.95, "charger-input-short": 0.97, "port-controller": 0.6, "port-controller-supply": 0.6, "vbus-short": 0.98, "source": 0.3}),
		powered("always-on-rail-v", "the always-on rail", 4, 2.5, 0.2, weights{"downstream-rail": 0.6, "power-on-sequence": 0.3, "main-rail-short": 0.9, healthyPart: 0.02}),
		powered("controller-supply-v", "the port controller's supply", 3, 2.5, 0.05, weights{"port-controller-supply": 0.95, "port-controller": 0.15, "vbus-short": 0.9, "source": 0.1}),
		powered("vbus-v", "VBUS at the receptacle", 2, 4, 0.04, weights{"source": 0.4, "cable": 0.4, "mains": 0.95, "vbus-short": 0.95, "cc-contact": 0.4, "power-contact": 0.4}),
		{Name: "battery", words: []string{"connected", "disconnected"}},
		{Name: "recorded-charger", words: []string{"customer", "known-good"}},
		{Name: "recorded-cable", words: []string{"customer", "known-good"}},
		{Name: "recorded-port"},
		{Name: "charger-label-w", unit: "W"},
		{Name: "display-v", unit: "V"},
		{Name: "display-a", unit: "A"},
		{Name: "display-pattern", words: []string{"steady", "pulsing", "climbing", "staircase", "falling"}},
	}
}

// ReadingError says why a reading cannot be taken, and what could.
type ReadingError struct{ Given, Expected string }

func (e *ReadingError) Error() string {
	return fmt.Sprintf("expected %s, found %q", e.Expected, e.Given)
}

// ParseReading reads NAME=VALUE with its unit, such as main-rail-ohm=0.8ohm.
func ParseReading(text string) (Reading, error) {
	name, value, found := strings.Cut(text, "=")
	i := slices.IndexFunc(Readings(), func(d Definition) bool { return d.Name == name })
	if !found || i < 0 {
		return Reading{}, &ReadingError{Given: text, Expected: "NAME=VALUE with a name of: " + strings.Join(names(), ", ")}
	}
	d := Readings()[i]
	r := Reading{Name: name, Text: value}
	if d.unit == "" {
		if value == "" || d.words != nil && !slices.Contains(d.words, value) {
			return Reading{}, &ReadingError{Given: value, Expected: accepted(d)}
		}
		r.Word = value
		return r, nil
	}
	var ok bool
	if r.Value, ok = parseValue(value, d.unit); !ok {
		return Reading{}, &ReadingError{Given: value, Expected: accepted(d)}
	}
	return r, nil
}

func names() []string {
	var out []string
	for _, d := range Readings() {
		out = append(out, d.Name)
	}
	return out
}

// accepted lists the forms that a reading takes.
func accepted(d Definition) string {
	switch {
	case d.words != nil:
		return strings.Join(d.words, " or ")
	case d.unit == "ohm":
		return "a resistance with its unit (0.8ohm, 4.7kohm, 1.2Mohm), open or short"
	case strings.Contains(d.Name, "diode"):
		return "a voltage with its unit (0.45V, 450mV), open or short"
	case d.unit == "":
		return "some text"
	default:
		return fmt.Sprintf("a number with its unit (5%s, 20m%s)", d.unit, d.unit)
	}
}

func parseValue(text, unit string) (float64, bool) {
	if unit == "ohm" || unit == "V" {
		switch text {
		case "open":
			return math.Inf(1), true
		case "short":
			return 0, true
		}
	}
	number, found := strings.CutSuffix(text, unit)
	if !found {
		return 0, false
	}
	number = strings.TrimSpace(number)
	scale := 1.0
	if n := len(number); n > 0 {
		switch number[n-1] {
		case 'm':
			scale = 1e-3
		case 'k':
			scale = 1e3
		case 'M':
			scale = 1e6
		}
		if scale != 1 {
			number = strings.TrimSpace(number[:n-1])
		}
	}
	if strings.ContainsAny(number, "xXpPiInN_") {
		return 0, false
	}
	v, err := strconv.ParseFloat(number, 64)
	return v * scale, err == nil && v >= 0
}

func find(readings []Reading, name string) (Reading, bool) {
	i := slices.IndexFunc(readings, func(r Reading) bool { return r.Name == name })
	if i < 0 {
		return Reading{}, false
	}
	return readings[i], true
}

// nodes name the readings of one node, which count once: the more telling.
var nodes = [...][2]string{{"main-rail-ohm", "main-rail-diode-v"}, {"vbus-ohm", "vbus-diode-v"}, {"cc1-ohm", "cc1-diode-v"}, {"cc2-ohm", "cc2-diode-v"}}

// measured turns the readings into observations.
func measured(readings []Reading) []observation {
	var out []observation
	for _, d := range Readings() {
		r, given := find(readings, d.Name)
		if !given || d.outcomes == nil || doubled(readings, d.Name) {
			continue
		}
		if o, ok := d.seen(r); ok {
			most := float64(recordingCap)
			if !d.powers {
				most = coldCap
			}
			out = append(out, observation{text: fmt.Sprintf("%s reads %s", d.Name, r.Text), base: o.base, by: o.by, cap: most, source: practice})
		}
	}
	return append(out, display(readings)...)
}

func doubled(readings []Reading, name string) bool {
	for _, pair := range nodes {
		if _, given := find(readings, pair[0]); given && name == pair[1] {
			return true
		}
	}
	return false
}

func (d Definition) seen(r Reading) (outcome, bool) {
	for _, o := range d.outcomes {
		if d.words != nil && o.word == r.Word || d.words == nil && (r.Value < o.below || math.IsInf(o.below, 1)) {
			return o, true
		}
	}
	return outcome{}, false // none: there is no such thing here
}

// Evidence is all that a location rests on.
type Evidence struct {
	Facts    rules.Facts
	Findings []rules.Finding
	Readings []Reading
}
