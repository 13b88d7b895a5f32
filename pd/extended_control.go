package pd

import "fmt"

// ExtendedControlType is what an Extended_Control message asks or tells (USB PD R3.2 V1.1,
// table 6.67). The zero value is reserved.
type ExtendedControlType uint8

// The types; 0 and 5 to 255 are reserved.
const (
	EPRGetSourceCap ExtendedControlType = 1 // sink, DRP
	EPRGetSinkCap   ExtendedControlType = 2 // source, DRP
	EPRKeepAlive    ExtendedControlType = 3 // sink in EPR
	EPRKeepAliveAck ExtendedControlType = 4 // source in EPR
)

// String gives the standard's name, or "Reserved_0xNN".
func (t ExtendedControlType) String() string {
	switch t {
	case EPRGetSourceCap:
		return "EPR_Get_Source_Cap"
	case EPRGetSinkCap:
		return "EPR_Get_Sink_Cap"
	case EPRKeepAlive:
		return "EPR_KeepAlive"
	case EPRKeepAliveAck:
		return "EPR_KeepAlive_Ack"
	default:
		return fmt.Sprintf("Reserved_0x%02X", uint8(t))
	}
}

// ECDB is the Extended_Control block (USB PD R3.2 V1.1, table 6.66).
type ECDB struct {
	Type ExtendedControlType // byte 0
	Data uint8               // byte 1; 0 in every type defined
}

const ecdbBytes = 2

// ParseECDB reads the block; ok is false where b is shorter.
func ParseECDB(b []byte) (e ECDB, ok bool) {
	if len(b) < ecdbBytes {
		return ECDB{}, false
	}
	return ECDB{Type: ExtendedControlType(b[0]), Data: b[1]}, true
}

// AppendTo appends the block to dst.
func (e ECDB) AppendTo(dst []byte) []byte { return append(dst, byte(e.Type), e.Data) }
