package pd

import (
	"iter"
	"math"
	"time"
)

// Bound is one limit. Given is false where the document states none; Value is 0 then.
type Bound struct {
	Value float64 // in the unit of the Limits
	Given bool    // false where the document states none
}

// Limits are the numbers of one parameter in one revision, in Unit.
type Limits struct {
	Name          string // as the standard writes it
	Min, Nom, Max Bound  // in Unit
	Unit          string // "ms", "V", "mA/µs", "×PDO" and so on; "" for a count
	Document      string // the document the numbers are from
	Table         string // its table, "section N" where there is none, "" where unknown
}

// Limits gives the numbers that hold for a pair at revision r.
//
// Where r has no row of its own, R2.0 takes the row of R3.0 V1.1 and both R3.0 and R3.1
// take that of R3.2 V1.1; Document says which it was. A header's 3.x and every unknown
// revision take R3.2 V1.1; to judge a pair known by its header only, see Widest. A parameter
// that the document of r does not have comes without bounds, and so does the zero Parameter.
func (p Parameter) Limits(r Revision) Limits {
	if p == unknownParameter || p >= parameterCount {
		return Limits{}
	}
	e := &parameterTable[p]
	row := e.rows.at(r)
	return Limits{
		Name:     e.name,
		Min:      row.min,
		Nom:      row.nom,
		Max:      row.max,
		Unit:     e.unit,
		Document: row.document.title(),
		Table:    row.table,
	}
}

// Widest gives the bounds that are broken only when those of each of the revisions are: the
// smallest minimum, the largest maximum, and none where one of them has none. Revisions
// without the parameter do not count. Document and Table are those of the first revision
// that has it, and a nominal value is given only where all agree.
//
// It is for judging a pair whose revision is not known well enough: a header's 3.x may be
// R3.0, whose limits differ.
func (p Parameter) Widest(revisions ...Revision) Limits {
	var wide Limits
	for _, r := range revisions {
		l := p.Limits(r)
		switch {
		case !l.given():
			continue
		case !wide.given():
			wide = l
		default:
			wide.Min = wider(wide.Min, l.Min, math.Min)
			wide.Max = wider(wide.Max, l.Max, math.Max)
			if wide.Nom != l.Nom {
				wide.Nom = Bound{}
			}
		}
	}
	return wide
}

// given reports whether any bound is.
func (l Limits) given() bool { return l.Min.Given || l.Nom.Given || l.Max.Given }

func wider(a, b Bound, choose func(x, y float64) float64) Bound {
	if !a.Given || !b.Given {
		return Bound{}
	}
	return Bound{Value: choose(a.Value, b.Value), Given: true}
}

// String is the name the standard gives the parameter.
func (p Parameter) String() string {
	if p == unknownParameter || p >= parameterCount {
		return "unknown parameter"
	}
	return parameterTable[p].name
}

// Parameters walks all parameters in the order of their declaration.
func Parameters() iter.Seq[Parameter] {
	return func(yield func(Parameter) bool) {
		for p := unknownParameter + 1; p < parameterCount; p++ {
			if !yield(p) {
				return
			}
		}
	}
}

// MinDuration is the minimum as a time; ok is false where none is given or Unit is no time.
func (l Limits) MinDuration() (time.Duration, bool) { return l.duration(l.Min) }

// NomDuration is the nominal value as a time; ok as for MinDuration.
func (l Limits) NomDuration() (time.Duration, bool) { return l.duration(l.Nom) }

// MaxDuration is the maximum as a time; ok as for MinDuration.
func (l Limits) MaxDuration() (time.Duration, bool) { return l.duration(l.Max) }

func (l Limits) duration(b Bound) (time.Duration, bool) {
	if !b.Given {
		return 0, false
	}
	var unit time.Duration
	switch l.Unit {
	case "s":
		unit = time.Second
	case "ms":
		unit = time.Millisecond
	case "µs":
		unit = time.Microsecond
	case "ns":
		unit = time.Nanosecond
	default:
		return 0, false
	}
	return time.Duration(math.Round(b.Value * float64(unit))), true
}

// MinSI is the minimum in the unit that SIUnit names: V, A, s, F, Ω, W, V/s, A/s. It is
// NaN where none is given.
func (l Limits) MinSI() float64 { return l.si(l.Min) }

// NomSI is the nominal value as MinSI gives the minimum.
func (l Limits) NomSI() float64 { return l.si(l.Nom) }

// MaxSI is the maximum as MinSI gives the minimum.
func (l Limits) MaxSI() float64 { return l.si(l.Max) }

// SIUnit is the unit of MinSI, NomSI and MaxSI. A unit without prefix stays as it is.
func (l Limits) SIUnit() string {
	unit, _ := siUnit(l.Unit)
	return unit
}

func (l Limits) si(b Bound) float64 {
	if !b.Given {
		return math.NaN()
	}
	_, perUnit := siUnit(l.Unit)
	if perUnit < 0 {
		return b.Value * -perUnit
	}
	return b.Value / perUnit
}

// siUnit gives the unit without prefix and how many of the prefixed make one of it;
// negative where it is the other way round. Dividing keeps 650 ms at 0.65 s exactly.
func siUnit(unit string) (string, float64) {
	switch unit {
	case "ms", "mV", "mVpp", "mA", "mW", "mΩ":
		return unit[1:], 1e3
	case "µs", "µA", "µF":
		return unit[len("µ"):], 1e6
	case "ns":
		return "s", 1e9
	case "pF":
		return "F", 1e12
	case "kΩ":
		return "Ω", -1e3
	case "MΩ":
		return "Ω", -1e6
	case "kbit/s":
		return "bit/s", -1e3
	case "mV/µs":
		return "V/s", -1e3
	case "mA/µs":
		return "A/s", -1e3
	default:
		return unit, 1
	}
}
