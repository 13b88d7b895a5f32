package pd

// Limits of extended messages in bytes (USB PD R3.2 V1.1, table 6.84).
const (
	MaxExtendedMsgLen       = 260 // largest data block
	MaxExtendedMsgChunkLen  = 26  // largest chunk of it
	MaxExtendedMsgLegacyLen = 26  // largest block sent in one piece to a chunk-only partner
)

// ExtendedHeader follows the header of an extended message (USB PD R3.2 V1.1, table 6.3).
//
//	15     Chunked
//	14-11  Chunk Number
//	10     Request Chunk
//	9      reserved
//	8-0    Data Size, bytes of the whole block
type ExtendedHeader uint16

const (
	extChunked     ExtendedHeader = 1 << 15
	extRequest     ExtendedHeader = 1 << 10
	extReserved    ExtendedHeader = 1 << 9
	extNumberShift                = 11
	extNumberMask                 = 0xF
	extSizeMask                   = 0x1FF
)

// Chunked reports bit 15: the block travels in chunks of up to 26 bytes.
func (x ExtendedHeader) Chunked() bool { return x&extChunked != 0 }

// ChunkNumber counts from 0; the standard uses 0 to 9.
func (x ExtendedHeader) ChunkNumber() int { return int(x>>extNumberShift) & extNumberMask }

// RequestChunk reports that this packet asks for chunk ChunkNumber and carries no data.
func (x ExtendedHeader) RequestChunk() bool { return x&extRequest != 0 }

// DataSize is the size of the whole block in bytes, the same in each of its chunks.
func (x ExtendedHeader) DataSize() int { return int(x & extSizeMask) }

// BytesHere is how many bytes of the block this packet carries, padding not counted.
func (x ExtendedHeader) BytesHere() int {
	switch {
	case x.RequestChunk():
		return 0
	case !x.Chunked():
		return x.DataSize()
	default:
		rest := x.DataSize() - x.ChunkNumber()*MaxExtendedMsgChunkLen
		return max(0, min(rest, MaxExtendedMsgChunkLen))
	}
}

// ExtendedHeaderFields is an extended header taken apart. The zero value encodes to 0.
type ExtendedHeaderFields struct {
	Chunked      bool // bit 15
	ChunkNumber  int  // bits 14-11; 0 to 15
	RequestChunk bool // bit 10
	Reserved     bool // bit 9
	DataSize     int  // bits 8-0, bytes; 0 to 511
}

// Fields takes the header apart; Encode is the exact inverse.
func (x ExtendedHeader) Fields() ExtendedHeaderFields {
	return ExtendedHeaderFields{
		Chunked:      x.Chunked(),
		ChunkNumber:  x.ChunkNumber(),
		RequestChunk: x.RequestChunk(),
		Reserved:     x&extReserved != 0,
		DataSize:     x.DataSize(),
	}
}

// Encode puts the header together. Numbers too large for their field lose their upper
// bits.
func (f ExtendedHeaderFields) Encode() ExtendedHeader {
	x := ExtendedHeader(f.ChunkNumber&extNumberMask)<<extNumberShift |
		ExtendedHeader(f.DataSize&extSizeMask)
	if f.Chunked {
		x |= extChunked
	}
	if f.RequestChunk {
		x |= extRequest
	}
	if f.Reserved {
		x |= extReserved
	}
	return x
}
