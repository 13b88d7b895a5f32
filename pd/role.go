package pd

// PowerRole is the side of the supply a port is on. The zero value is unknown.
type PowerRole uint8

// The power roles (USB PD R3.2 V1.1, table 6.1, bit 8 on SOP).
const (
	Sink   PowerRole = iota + 1 // bit 0
	Source                      // bit 1
)

// String gives "sink", "source" or "unknown".
func (r PowerRole) String() string {
	switch r {
	case Sink:
		return "sink"
	case Source:
		return "source"
	default:
		return "unknown"
	}
}

// DataRole is the side of the data link a port is on. The zero value is unknown.
type DataRole uint8

// The data roles (USB PD R3.2 V1.1, table 6.1, bit 5 on SOP).
const (
	UFP DataRole = iota + 1 // bit 0, the device
	DFP                     // bit 1, the host
)

// String gives "ufp", "dfp" or "unknown".
func (r DataRole) String() string {
	switch r {
	case UFP:
		return "ufp"
	case DFP:
		return "dfp"
	default:
		return "unknown"
	}
}
