package pd

// Data blocks of extended messages. A block of an earlier revision is shorter and a later
// one may be longer: the readers take what the standard of this package knows, say in Size
// how many bytes that was, and leave the rest to the caller, who has the bytes (USB PD R3.2
// V1.1, section 6.2.1.2.4). Fields beyond Size are zero. The blocks are
//
//	SDB    Status                        CSDB   Status of a cable plug
//	PPSSDB PPS_Status                    ECDB   Extended_Control
//	SCEDB  Source_Capabilities_Extended  SKEDB  Sink_Capabilities_Extended
//	BCDB   Battery_Capabilities          MIDB   Manufacturer_Info
//	GBDB   Get_Battery_Cap and Get_Battery_Status
//	GMIDB  Get_Manufacturer_Info

// block reads a data block of a fixed layout. Reading beyond its end gives zeros.
type block struct {
	b    [maxBlock]byte
	size int
}

// maxBlock is the longest block of a fixed layout, Source_Capabilities_Extended.
const maxBlock = 25

// newBlock takes up to the whole bytes the layout has; ok is false below least, the
// smallest size any revision gives it.
func newBlock(b []byte, least, whole int) (k block, ok bool) {
	k.size = copy(k.b[:whole], b)
	return k, k.size >= least
}

func (k *block) byteAt(i int) uint32 { return uint32(k.b[i]) }

// wordAt is the 16-bit value at bytes i and i+1, low byte first.
func (k *block) wordAt(i int) uint32 { return k.byteAt(i) | k.byteAt(i+1)<<8 }

// dwordAt is the 32-bit value at bytes i to i+3, low byte first.
func (k *block) dwordAt(i int) uint32 { return k.wordAt(i) | k.wordAt(i+2)<<16 }

func (k *block) setByte(i int, v uint32) { k.b[i] |= byte(v) }

func (k *block) setWord(i int, v uint32) {
	k.setByte(i, v)
	k.setByte(i+1, v>>8)
}

func (k *block) setDword(i int, v uint32) {
	k.setWord(i, v)
	k.setWord(i+2, v>>16)
}

// appendTo appends the first size bytes, at most the whole layout, to dst.
func (k *block) appendTo(dst []byte, size, whole int) []byte {
	return append(dst, k.b[:max(0, min(size, whole))]...)
}
