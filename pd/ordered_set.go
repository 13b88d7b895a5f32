package pd

// OrderedSet says which four K-codes opened a packet, and so who speaks to whom
// (USB PD R3.2 V1.1, tables 5.5 to 5.9, 5.11 and 5.12).
//
// The zero value is an unknown set.
type OrderedSet uint8

// The ordered sets of the standard.
const (
	// SOP opens a packet between the two ports (table 5.5).
	SOP OrderedSet = iota + 1
	// SOPPrime opens a packet between the VCONN source and the near cable plug (table 5.6).
	SOPPrime
	// SOPDoublePrime opens a packet between the VCONN source and the far cable plug (table 5.7).
	SOPDoublePrime
	// SOPPrimeDebug has no use defined (table 5.8).
	SOPPrimeDebug
	// SOPDoublePrimeDebug has no use defined (table 5.9).
	SOPDoublePrimeDebug
	// HardReset stands alone: no header, no CRC, no GoodCRC (table 5.11).
	HardReset
	// CableReset stands alone like HardReset; only the DFP sends it (table 5.12).
	CableReset
)

var orderedSetNames = [...]string{
	SOP:                 "SOP",
	SOPPrime:            "SOP'",
	SOPDoublePrime:      "SOP''",
	SOPPrimeDebug:       "SOP'_Debug",
	SOPDoublePrimeDebug: "SOP''_Debug",
	HardReset:           "Hard_Reset",
	CableReset:          "Cable_Reset",
}

// String gives the name of the set as the standard writes it, words joined by an
// underscore; an unknown set is "unknown".
func (s OrderedSet) String() string {
	if s == 0 || int(s) >= len(orderedSetNames) {
		return "unknown"
	}
	return orderedSetNames[s]
}

// ParseOrderedSet finds the set that String names. The name must match to the letter.
func ParseOrderedSet(name string) (OrderedSet, bool) {
	for s := SOP; s <= CableReset; s++ {
		if orderedSetNames[s] == name {
			return s, true
		}
	}
	return 0, false
}

// IsReset reports whether the set is a signal without header and data.
func (s OrderedSet) IsReset() bool { return s == HardReset || s == CableReset }

// ToCable reports whether one end of the packet is a cable plug, so that bit 8 of the
// header is Cable Plug and bit 5 is reserved (USB PD R3.2 V1.1, table 6.1).
func (s OrderedSet) ToCable() bool { return s >= SOPPrime && s <= SOPDoublePrimeDebug }
