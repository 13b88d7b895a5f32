package pd

import (
	"encoding/binary"
	"hash/crc32"
)

// CRCResidual is what CRC gives over a packet with its own four CRC bytes appended: the
// residual C704DD7Bh of USB PD R3.2 V1.1, section 5.6.2, seen mirrored and complemented.
const CRCResidual uint32 = 0x2144DF1C

// CRC is the packet's check over header and payload bytes, without ordered set and EOP.
// It is the CRC-32 of IEEE 802.3 (USB PD R3.2 V1.1, section 5.6.2, table 5.10).
func CRC(b []byte) uint32 { return crc32.ChecksumIEEE(b) }

// AppendCRC appends the CRC of b to b in the order of the wire, low byte first.
func AppendCRC(b []byte) []byte { return binary.LittleEndian.AppendUint32(b, CRC(b)) }

// CheckCRC reports whether the four bytes that followed b on the wire are its CRC.
func CheckCRC(b []byte, crc [4]byte) bool {
	return binary.LittleEndian.Uint32(crc[:]) == CRC(b)
}
