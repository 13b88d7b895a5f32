package captures

import "strings"

// quantity is what a column of a meter log holds.
type quantity uint8

const (
	otherQuantity quantity = iota
	timeQuantity
	voltageQuantity
	currentQuantity
	cc1Quantity
	cc2Quantity
	ccQuantity // one CC line, whichever pin it is
)

var quantityNames = [...]string{"", "time", "voltage", "current", "cc1", "cc2", "cc"}

func (q quantity) isCC() bool { return q == cc1Quantity || q == cc2Quantity || q == ccQuantity }

// unit is the power of ten that lifts a number to s, V or A. A minute is a
// factor besides.
type unit struct {
	quantity quantity
	shift    int
	minutes  bool
}

// units are the units that a heading may name.
var units = map[string]unit{
	"s": {timeQuantity, 0, false}, "sec": {timeQuantity, 0, false}, "seconds": {timeQuantity, 0, false},
	"ms": {timeQuantity, -3, false}, "us": {timeQuantity, -6, false}, "µs": {timeQuantity, -6, false}, "μs": {timeQuantity, -6, false},
	"ns": {timeQuantity, -9, false}, "min": {timeQuantity, 0, true},
	"v": {voltageQuantity, 0, false}, "mv": {voltageQuantity, -3, false},
	"a": {currentQuantity, 0, false}, "ma": {currentQuantity, -3, false},
	"ua": {currentQuantity, -6, false}, "µa": {currentQuantity, -6, false}, "μa": {currentQuantity, -6, false},
}

// foreignUnits are units that a log may use and that are not read: a number in
// one of them must not pass for seconds, volts or amperes.
var foreignUnits = map[string]quantity{
	"ps": timeQuantity, "h": timeQuantity, "hr": timeQuantity, "hrs": timeQuantity, "hour": timeQuantity, "hours": timeQuantity,
	"d": timeQuantity, "day": timeQuantity, "days": timeQuantity,
	"kv": voltageQuantity, "uv": voltageQuantity, "µv": voltageQuantity, "μv": voltageQuantity, "nv": voltageQuantity,
	"ka": currentQuantity, "na": currentQuantity, "pa": currentQuantity,
}

// isUnit reports whether a word is a unit of time, voltage or current, read or
// not.
func isUnit(word string) bool {
	_, read := units[word]
	_, foreign := foreignUnits[word]
	return read || foreign
}

// words are the quantities that a heading may name.
var words = map[string]quantity{
	"time": timeQuantity, "elapsed": timeQuantity, "timestamp": timeQuantity,
	"voltage": voltageQuantity, "volt": voltageQuantity, "volts": voltageQuantity, "vbus": voltageQuantity,
	"current": currentQuantity, "ibus": currentQuantity, "amp": currentQuantity, "amps": currentQuantity,
	"cc1": cc1Quantity, "cc2": cc2Quantity, "cc": ccQuantity,
}

// elsewhere are words of columns that are known and passed over: a voltage of
// a data pin is not VBUS.
var elsewhere = map[string]bool{
	"power": true, "watt": true, "watts": true, "energy": true, "capacity": true, "charge": true,
	"dp": true, "dn": true, "d+": true, "d-": true, "temperature": true, "temp": true,
	"w": true, "mw": true, "wh": true, "mwh": true, "ah": true, "mah": true, "c": true, "°c": true,
}

// heading is one cell of a header row, taken apart.
type heading struct {
	text     string
	quantity quantity
	unit     string // as written, without brackets; "" where it names none
}

// parseHeading finds the quantity and the unit in a heading. The unit stands
// in brackets, or after an underscore, a slash or a blank.
func parseHeading(text string) heading {
	h := heading{text: strings.TrimSpace(text)}
	name := strings.ToLower(h.text)
	if open := strings.IndexAny(name, "(["); open >= 0 {
		if end := strings.IndexAny(name[open:], ")]"); end > 0 {
			h.unit = strings.TrimSpace(name[open+1 : open+end])
			name = name[:open] + " " + name[open+end+1:]
		}
	}
	tokens := strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == '_' || r == '/' || r == '.' || r == ':' || r == '\t' })
	if n := len(tokens); h.unit == "" && n > 1 {
		if isUnit(tokens[n-1]) {
			h.unit = tokens[n-1]
			tokens = tokens[:n-1]
		}
	}
	h.quantity = quantityOf(tokens)
	if h.quantity == otherQuantity && len(tokens) == 1 {
		if u, known := units[tokens[0]]; known && u.quantity != timeQuantity { // a heading that is only V or A
			h.quantity = u.quantity
			if h.unit == "" {
				h.unit = tokens[0]
			}
		}
	}
	return h
}

func quantityOf(tokens []string) quantity {
	found := otherQuantity
	for _, token := range tokens {
		if elsewhere[token] {
			return otherQuantity
		}
		q := words[token]
		if q.isCC() {
			return q
		}
		if found == otherQuantity {
			found = q
		}
	}
	return found
}
