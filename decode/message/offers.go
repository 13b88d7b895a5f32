package message

import (
	"encoding/binary"

	"portside/pd"
)

// Offers are the source's last capabilities by object position. The zero value
// knows none.
type Offers struct {
	list []pd.PDO // index 0 is position 1; 0 where a position is not used
	part assembly // of the EPR capabilities, which come in chunks
}

// objectBytes is the length of a data object on the wire.
const objectBytes = 4

// Take reads a capabilities message of the source and reports whether the
// offers are new and complete; every other message leaves them alone.
func (o *Offers) Take(p pd.Message) bool {
	switch p.Type() {
	case pd.SourceCapabilities:
		o.list = o.list[:0]
		for _, w := range p.Objects() {
			o.list = append(o.list, pd.PDO(w))
		}
		return true
	case pd.EPRSourceCapabilities:
		part := o.part.take(p, 0, false)
		if part.Block != nil {
			o.TakeBlock(part.Block)
		}
		return part.Block != nil
	default:
		return false
	}
}

// TakeBlock reads a whole block of EPR_Source_Capabilities.
func (o *Offers) TakeBlock(block []byte) {
	o.list = o.list[:0]
	for i := 0; i+objectBytes <= len(block); i += objectBytes {
		o.list = append(o.list, pd.PDO(binary.LittleEndian.Uint32(block[i:])))
	}
}

// Forget drops the offers, as a reset or a detach does.
func (o *Offers) Forget() { o.list, o.part.have = o.list[:0], 0 }

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
