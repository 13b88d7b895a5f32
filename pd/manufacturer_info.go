package pd

import "bytes"

// GMIDB is the Get_Manufacturer_Info block (USB PD R3.2 V1.1, table 6.60).
type GMIDB struct {
	Target    uint8 // 0 port or cable plug, 1 battery
	Reference uint8 // the battery; 0 for the port
}

const gmidbBytes = 2

// ParseGMIDB reads the block; ok is false where b is shorter.
func ParseGMIDB(b []byte) (g GMIDB, ok bool) {
	if len(b) < gmidbBytes {
		return GMIDB{}, false
	}
	return GMIDB{Target: b[0], Reference: b[1]}, true
}

// AppendTo appends the block to dst.
func (g GMIDB) AppendTo(dst []byte) []byte { return append(dst, g.Target, g.Reference) }

// MIDB is the Manufacturer_Info block (USB PD R3.2 V1.1, table 6.61): VID, PID, and a text
// that ends with a zero byte. Text shares the bytes given to ParseMIDB.
type MIDB struct {
	VID, PID uint16 // bytes 0-1, bytes 2-3
	Text     []byte // everything after the PID, zero byte included, as sent
}

const midbLeast = 4 // USB PD R3.0 V1.1

// String is the text up to the zero byte, as sent: it may hold any bytes.
func (m MIDB) String() string {
	text, _, _ := bytes.Cut(m.Text, []byte{0})
	return string(text)
}

// ParseMIDB reads the block; ok is false where b is shorter than in any revision.
func ParseMIDB(b []byte) (m MIDB, ok bool) {
	k, ok := newBlock(b, midbLeast, midbLeast)
	if !ok {
		return MIDB{}, false
	}
	return MIDB{VID: uint16(k.wordAt(0)), PID: uint16(k.wordAt(2)), Text: b[midbLeast:]}, true
}

// AppendTo appends the block to dst.
func (m MIDB) AppendTo(dst []byte) []byte {
	dst = append(dst, byte(m.VID), byte(m.VID>>8), byte(m.PID), byte(m.PID>>8))
	return append(dst, m.Text...)
}
