package pd

// BCDB is the Battery_Capabilities block (USB PD R3.2 V1.1, table 6.59).
//
//	0-1  VID
//	2-3  PID
//	4-5  design capacity, 0.1 Wh; 0 no battery, FFFFh unknown
//	6-7  last full charge capacity, coded the same
//	8    bit 0 invalid battery reference
type BCDB struct {
	VID, PID         uint16 // bytes 0-1, bytes 2-3
	DesignCapacity   uint16 // bytes 4-5, 0.1 Wh; see CapacityWh
	LastFullCapacity uint16 // bytes 6-7, 0.1 Wh; see CapacityWh
	InvalidReference bool   // byte 8, bit 0
	Reserved         uint8  // bits 7 to 1 of byte 8, in place
}

const bcdbBytes = 9

// CapacityWh turns a capacity in tenths of a Wh, as BCDB and BSDO carry it, into Wh; ok is false where it is unknown. 0 is
// the standard's word for no battery.
func CapacityWh(raw uint16) (wh float64, ok bool) {
	return float64(raw) / capacityPerWh, raw != capacityUnknown
}

// ParseBCDB reads the block; ok is false where b is shorter.
func ParseBCDB(b []byte) (c BCDB, ok bool) {
	k, ok := newBlock(b, bcdbBytes, bcdbBytes)
	if !ok {
		return BCDB{}, false
	}
	return BCDB{
		VID:              uint16(k.wordAt(0)),
		PID:              uint16(k.wordAt(2)),
		DesignCapacity:   uint16(k.wordAt(4)),
		LastFullCapacity: uint16(k.wordAt(6)),
		InvalidReference: bit(k.byteAt(8), 0),
		Reserved:         k.b[8] &^ 1,
	}, true
}

// AppendTo appends the block to dst.
func (c BCDB) AppendTo(dst []byte) []byte {
	var k block
	k.setWord(0, uint32(c.VID))
	k.setWord(2, uint32(c.PID))
	k.setWord(4, uint32(c.DesignCapacity))
	k.setWord(6, uint32(c.LastFullCapacity))
	k.setByte(8, flag(c.InvalidReference, 0)|uint32(c.Reserved&^1))
	return k.appendTo(dst, bcdbBytes, bcdbBytes)
}

// GBDB is the block of Get_Battery_Cap and Get_Battery_Status: the battery asked about, 0
// to 3 fixed, 4 to 7 hot-swappable (USB PD R3.2 V1.1, tables 6.57 and 6.58).
type GBDB uint8

// ParseGBDB reads the block; ok is false where b is empty.
func ParseGBDB(b []byte) (g GBDB, ok bool) {
	if len(b) == 0 {
		return 0, false
	}
	return GBDB(b[0]), true
}

// AppendTo appends the block to dst.
func (g GBDB) AppendTo(dst []byte) []byte { return append(dst, byte(g)) }
