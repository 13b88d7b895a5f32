package pd

import "fmt"

// BDO is the first object of a BIST message (USB PD R3.2 V1.1, table 6.27).
//
//	31-28  BIST mode
//	27-0   reserved
type BDO uint32

// BISTMode is a mode of the built-in self test, bits 31 to 28 (USB PD R3.2 V1.1, table 6.27). Codes the current standard reserves had
// meanings in earlier revisions.
type BISTMode uint8

// The modes of USB PD R3.2 V1.1.
const (
	BISTCarrier         BISTMode = 5  // Carrier Mode 2 in earlier revisions
	BISTTestData        BISTMode = 8  // answered with GoodCRC until a Hard Reset
	BISTSharedTestEntry BISTMode = 9  // shared-capacity chargers
	BISTSharedTestExit  BISTMode = 10 // shared-capacity chargers
)

// String gives the standard's name of the mode, or "reserved mode N".
func (m BISTMode) String() string {
	switch m {
	case BISTCarrier:
		return "BIST Carrier Mode"
	case BISTTestData:
		return "BIST Test Data"
	case BISTSharedTestEntry:
		return "BIST Shared Test Mode Entry"
	case BISTSharedTestExit:
		return "BIST Shared Test Mode Exit"
	default:
		return fmt.Sprintf("reserved mode %d", uint8(m))
	}
}

// NameFor is the mode's name for a pair at that revision: up to R2.0 the codes 0 to 7 all
// have meanings (from the Linux 6.1 headers). For every other revision it is String.
func (m BISTMode) NameFor(r Revision) string {
	names := [...]string{
		"BIST Receiver Mode", "BIST Transmit Mode", "Returned BIST Counters",
		"BIST Carrier Mode 0", "BIST Carrier Mode 1", "BIST Carrier Mode 2", "BIST Carrier Mode 3",
		"BIST Eye Pattern",
	}
	if (r == Revision10 || r == Revision20) && int(m) < len(names) {
		return names[m]
	}
	return m.String()
}

// BISTFields is a BIST object taken apart.
type BISTFields struct {
	Mode     BISTMode // bits 31-28
	Reserved uint32   // bits 27 to 0
}

const bistReserved = 1<<28 - 1

// Fields takes the object apart; Encode is the exact inverse.
func (o BDO) Fields() BISTFields {
	return BISTFields{Mode: BISTMode(o >> 28), Reserved: uint32(o) & bistReserved}
}

// Encode puts the object together.
func (f BISTFields) Encode() BDO {
	return BDO(put(int(f.Mode), 31, 28) | f.Reserved&bistReserved)
}
