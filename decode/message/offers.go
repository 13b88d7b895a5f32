package message

import (
	"encoding/binary"

	"portside/pd"
)

// Offers are the source's last capabilities by object position. The zero value
// knows none.
type Offers struct {
	list []pd.PDO // index 0 is position 1; 0 where a position is not used
	epr  bool

	// The EPR capabilities come in chunks.
	block    [pd.MaxExtendedMsgLen]byte
	received int
}

// objectBytes is the length of a data object on the wire.
const objectBytes = 4

// Take reads a capabilities message of the source and reports whether the
// offers are new and complete; every other message leaves them alone.
func (o *Offers) Take(p pd.Message) bool {
	switch p.Type() {
	case pd.SourceCapabilities:
		o.list, o.epr = o.list[:0], false
		for _, w := range p.Objects() {
			o.list = append(o.list, pd.PDO(w))
		}
		return true
	case pd.EPRSourceCapabilities:
		return o.takeBlock(p)
	default:
		return false
	}
}

// takeBlock adds one chunk, or the whole block where it is not chunked.
func (o *Offers) takeBlock(p pd.Message) bool {
	x, ok := p.ExtendedHeader()
	if !ok || x.RequestChunk() || x.DataSize() > len(o.block) {
		return false
	}
	part, at := p.Block(), 0
	if x.Chunked() {
		at = x.ChunkNumber() * pd.MaxExtendedMsgChunkLen
	}
	if at == 0 {
		o.received = 0
	}
	if at != o.received || at+len(part) > x.DataSize() {
		return false // a chunk is missing: what is not whole is not an offer
	}
	o.received += copy(o.block[at:], part)
	if o.received < x.DataSize() {
		return false
	}
	o.list, o.epr = o.list[:0], true
	for i := 0; i+objectBytes <= o.received; i += objectBytes {
		o.list = append(o.list, pd.PDO(binary.LittleEndian.Uint32(o.block[i:])))
	}
	return true
}

// Forget drops the offers, as a reset or a detach does.
func (o *Offers) Forget() { o.list, o.epr, o.received = o.list[:0], false, 0 }

// Len is the number of positions, unused ones included.
func (o *Offers) Len() int { return len(o.list) }

// At is the object at a position counted from 1; ok is false where none is.
func (o *Offers) At(position int) (p pd.PDO, ok bool) {
	if position < 1 || position > len(o.list) || o.list[position-1] == 0 {
		return 0, false
	}
	return o.list[position-1], true
}

// For is the object that a request asks for. An EPR_Request carries a copy of
// it (USB PD R3.2 V1.1, section 6.4.9); ok is false where it is not known.
func (o *Offers) For(p pd.Message, rev pd.Revision) (offer pd.PDO, ok bool) {
	if p.Type() == pd.EPRRequest && p.NumObjects() > 1 {
		return pd.PDO(p.Object(1)), true
	}
	if p.NumObjects() == 0 {
		return 0, false
	}
	return o.At(pd.RDO(p.Object(0)).PositionFor(rev))
}
