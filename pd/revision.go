package pd

// Revision is a revision of the USB Power Delivery specification.
//
// A message header tells only 1.0, 2.0 and 3.x apart (USB PD R3.2 V1.1, table 6.1); a
// Revision message tells 3.0, 3.1 and 3.2 apart as well. The zero value is unknown.
type Revision uint8

// The revisions. The first four are all that a header can say.
const (
	Revision10       Revision = iota + 1 // header field 00b, deprecated
	Revision20                           // header field 01b
	Revision3x                           // header field 10b, any R3
	RevisionReserved                     // header field 11b
	Revision30                           // R3.0, known from a Revision message only
	Revision31                           // R3.1, known from a Revision message only
	Revision32                           // R3.2, known from a Revision message only
)

var revisionNames = [...]string{
	Revision10:       "1.0",
	Revision20:       "2.0",
	Revision3x:       "3.x",
	RevisionReserved: "reserved",
	Revision30:       "3.0",
	Revision31:       "3.1",
	Revision32:       "3.2",
}

// String gives "1.0", "2.0", "3.x", "reserved", "3.0", "3.1", "3.2" or "unknown".
func (r Revision) String() string {
	if r == 0 || int(r) >= len(revisionNames) {
		return "unknown"
	}
	return revisionNames[r]
}

// Is3 reports whether the revision is any R3.
func (r Revision) Is3() bool { return r == Revision3x || r >= Revision30 && r <= Revision32 }

// headerBits is the two-bit code of the header; every R3 is 10b, unknown is 00b.
func (r Revision) headerBits() uint16 {
	switch {
	case r.Is3():
		return 0b10
	case r == Revision20:
		return 0b01
	case r == RevisionReserved:
		return 0b11
	default:
		return 0b00
	}
}

// rank orders the revisions in time. Those that name no single one come last.
func (r Revision) rank() int {
	switch r {
	case Revision10:
		return 1
	case Revision20:
		return 2
	case Revision30:
		return 3
	case Revision31:
		return 4
	default:
		return 5
	}
}

// span gives the ranks of the earliest and the latest revision that r may stand for.
func (r Revision) span() (earliest, latest int) {
	switch r {
	case Revision10, Revision20, Revision30, Revision31, Revision32:
		return r.rank(), r.rank()
	case Revision3x:
		return Revision30.rank(), Revision32.rank()
	default:
		return Revision10.rank(), Revision32.rank()
	}
}
