package pd

// parameterEntry is one parameter: its name, its unit and its rows by revision.
type parameterEntry struct {
	name string
	unit string
	rows rows
}

// rows are the limits of one parameter by revision. An empty row says that the revision
// has none of its own.
type rows struct {
	r20, r30, r31, current row
}

// row is one line of one document.
type row struct {
	document document
	table    string
	bounds
}

type bounds struct{ min, nom, max Bound }

// document is a published text the numbers are taken from; the zero value is none.
type document uint8

const (
	pd32 document = iota + 1
	pd31
	pd30
	compliance
	linuxTCPCI
	typeC
	typeC20
	typeC21
	typeC24
	fromMemory
)

// The titles that clauses name too.
const (
	title32     = "USB PD R3.2 V1.1"
	title30     = "USB PD R3.0 V1.1"
	titleMemory = "from memory, not verified"
)

func (d document) title() string {
	switch d {
	case pd32:
		return title32
	case pd31:
		return "USB PD R3.1 V1.5"
	case pd30:
		return title30
	case compliance:
		return "USB PD compliance test specification Q4 2024"
	case linuxTCPCI:
		return "Linux driver tcpci.c"
	case typeC:
		return "USB Type-C, release not known"
	case typeC20:
		return "USB Type-C R2.0"
	case typeC21:
		return "USB Type-C R2.1"
	case typeC24:
		return "USB Type-C R2.4"
	case fromMemory:
		return titleMemory
	default:
		return ""
	}
}

// at chooses the row of a revision, the nearest newer one where it has none.
func (r *rows) at(rev Revision) *row {
	var order [2]*row
	switch rev {
	case Revision10, Revision20:
		order = [2]*row{&r.r20, &r.r30}
	case Revision30:
		order = [2]*row{&r.r30}
	case Revision31:
		order = [2]*row{&r.r31}
	default: // the current row
	}
	for _, candidate := range order {
		if candidate != nil && candidate.document != 0 {
			return candidate
		}
	}
	return &r.current
}

func given(v float64) Bound { return Bound{Value: v, Given: true} }

// absent marks a parameter its document does not have.
var absent = bounds{}

func upTo(maximum float64) bounds  { return bounds{max: given(maximum)} }
func from(minimum float64) bounds  { return bounds{min: given(minimum)} }
func nominal(value float64) bounds { return bounds{nom: given(value)} }

func between(minimum, maximum float64) bounds {
	return bounds{min: given(minimum), max: given(maximum)}
}

func around(minimum, value, maximum float64) bounds {
	return bounds{min: given(minimum), nom: given(value), max: given(maximum)}
}

// in is a parameter with the same limits in every revision.
func in(d document, table string, b bounds) rows {
	return rows{current: row{d, table, b}}
}

func in32(table string, b bounds) rows { return in(pd32, table, b) }

func (r rows) in30(table string, b bounds) rows {
	r.r30 = row{pd30, table, b}
	return r
}

func (r rows) in31(table string, b bounds) rows {
	r.r31 = row{pd31, table, b}
	return r
}

func (r rows) in20(d document, table string, b bounds) rows {
	r.r20 = row{d, table, b}
	return r
}

// The tables of the timers.
const (
	timers32   = "6.68"
	timers30   = "6-53"
	counters32 = "6.70"
	counters30 = "6-55"
)

// timer is a timer with one pair of limits in R3.0 V1.1 and R3.2 V1.1. The nominal value
// was read in R3.2 only.
func timer(b bounds) rows {
	return timerWas(b, bounds{min: b.min, max: b.max})
}

// timerWas is a timer with other limits in R3.0 V1.1.
func timerWas(b, old bounds) rows { return in32(timers32, b).in30(timers30, old) }

// timerSince32 is a timer that R3.0 V1.1 does not have.
func timerSince32(b bounds) rows { return timerWas(b, absent) }

// senderResponse differs in every revision. R3.1 V1.5 is known from another author's
// quotation; pairs at R2.0 follow table 19 of the compliance test specification, again as
// quoted, which agrees with R3.0 V1.1.
func senderResponse() rows {
	return timerWas(around(27, 30, 33), between(24, 30)).
		in31("", between(26, 32)).
		in20(compliance, "19", between(24, 30))
}

func counter(n float64) rows {
	return in32(counters32, nominal(n)).in30(counters30, nominal(n))
}

func typeCTime(b bounds) rows { return in(typeC21, "4-29 to 4-31", b) }
