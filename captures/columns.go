package captures

import (
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

// ParseColumns reads time=NAME[:UNIT],voltage=NAME[:UNIT],current=NAME[:UNIT];
// any of the three may be left out.
func ParseColumns(text string) (ColumnSpec, error) {
	var spec ColumnSpec
	for _, part := range strings.Split(text, ",") {
		key, value, found := strings.Cut(part, "=")
		if !found || value == "" {
			return ColumnSpec{}, fmt.Errorf("columns: expected time=NAME[:UNIT],voltage=NAME[:UNIT],current=NAME[:UNIT], found %q", part)
		}
		column := Column{Name: value}
		var want quantity
		var slot *Column
		switch strings.TrimSpace(key) {
		case "time":
			want, slot = timeQuantity, &spec.Time
		case "voltage":
			want, slot = voltageQuantity, &spec.Voltage
		case "current":
			want, slot = currentQuantity, &spec.Current
		default:
			return ColumnSpec{}, fmt.Errorf("columns: expected time, voltage or current, found %q", key)
		}
		if at := strings.LastIndexByte(value, ':'); at > 0 {
			u, known := units[strings.ToLower(value[at+1:])]
			if !known || u.quantity != want {
				return ColumnSpec{}, fmt.Errorf("columns: %q is no unit of %s; %s", value[at+1:], key, acceptedUnits(want))
			}
			column = Column{Name: value[:at], Unit: strings.ToLower(value[at+1:])}
		}
		if slot.Name != "" {
			return ColumnSpec{}, fmt.Errorf("columns: %s is named twice", key)
		}
		*slot = column
	}
	return spec, nil
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
