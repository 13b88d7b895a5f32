package captures

import (
	"errors"
	"fmt"
	"strings"
)

// ColumnSpec names the columns of a meter log by their headings. The zero
// value leaves them to be found.
type ColumnSpec struct {
	Time, Voltage, Current Column
}

// Column is one named column; Unit is empty where the heading says it.
type Column struct{ Name, Unit string }

func (c ColumnSpec) given() bool { return c != ColumnSpec{} }

// ErrColumns is wrapped by every error of [ParseColumns].
var ErrColumns = errors.New("columns")

// ParseColumns reads time=NAME[:UNIT],voltage=NAME[:UNIT],current=NAME[:UNIT];
// any of the three may be left out. A name may hold commas and colons; what
// follows its last colon is the unit. The error wraps [ErrColumns].
func ParseColumns(text string) (ColumnSpec, error) {
	var spec ColumnSpec
	for _, part := range splitColumns(text) {
		key, value, found := strings.Cut(part, "=")
		want, slot := spec.slot(key)
		switch {
		case !found || slot == nil:
			return ColumnSpec{}, fmt.Errorf("%w: expected time=NAME[:UNIT],voltage=NAME[:UNIT],current=NAME[:UNIT], found %q", ErrColumns, part)
		case *slot != Column{}:
			return ColumnSpec{}, fmt.Errorf("%w: %s is named twice", ErrColumns, quantityNames[want])
		}
		column, err := parseColumn(value, want)
		if err != nil {
			return ColumnSpec{}, err
		}
		*slot = column
	}
	return spec, nil
}

// splitColumns cuts at the commas that a key follows.
func splitColumns(text string) []string {
	var parts []string
	begin := 0
	for i := range len(text) {
		if text[i] != ',' {
			continue
		}
		key, _, found := strings.Cut(text[i+1:], "=")
		if _, slot := new(ColumnSpec).slot(key); found && slot != nil {
			parts = append(parts, text[begin:i])
			begin = i + 1
		}
	}
	return append(parts, text[begin:])
}

// slot is the place of a key; nil where nobody knows it.
func (c *ColumnSpec) slot(key string) (quantity, *Column) {
	switch strings.ToLower(strings.TrimSpace(key)) {
	case "time":
		return timeQuantity, &c.Time
	case "voltage":
		return voltageQuantity, &c.Voltage
	case "current":
		return currentQuantity, &c.Current
	}
	return otherQuantity, nil
}

// parseColumn reads NAME[:UNIT].
func parseColumn(text string, want quantity) (Column, error) {
	column := Column{Name: strings.TrimSpace(text)}
	if at := strings.LastIndexByte(text, ':'); at >= 0 {
		name := strings.ToLower(strings.TrimSpace(text[at+1:]))
		if u, known := units[name]; !known || u.quantity != want {
			return Column{}, fmt.Errorf("%w: %q is no unit of %s; %s", ErrColumns, text[at+1:], quantityNames[want], acceptedUnits(want))
		}
		column = Column{Name: strings.TrimSpace(text[:at]), Unit: name}
	}
	if column.Name == "" {
		return Column{}, fmt.Errorf("%w: the name of %s is empty", ErrColumns, quantityNames[want])
	}
	return column, nil
}

func acceptedUnits(q quantity) string {
	switch q {
	case timeQuantity:
		return "use s, ms, us, ns or min"
	case voltageQuantity:
		return "use V or mV"
	default:
		return "use A, mA or uA"
	}
}
