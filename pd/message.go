package pd

import (
	"encoding/binary"
	"errors"
	"fmt"
	"iter"
)

const (
	headerBytes         = 2
	extendedHeaderBytes = 2
	objectBytes         = 4
)

// ErrNoHeader is returned for a packet of less than two bytes.
var ErrNoHeader = errors.New("shorter than a message header")

// Message is one packet: its ordered set, its header, and the bytes between header and
// CRC in the order of the wire. A reset signal has no header and no body.
type Message struct {
	Set    OrderedSet // which K-codes opened it
	Header Header     // 0 for a reset signal
	Body   []byte     // objects or block as they lie on the wire, low byte first
}

// LengthError says that a header and the bytes after it disagree.
type LengthError struct {
	Header          Header // of the message at fault
	ExpectedObjects int    // what the header announces
	FoundObjects    int    // whole objects (or four-byte units of an extended message) present
	ExpectedBytes   int    // bytes after the header
	FoundBytes      int    // bytes that came
}

// Error says what was announced and what came.
func (e *LengthError) Error() string {
	if e.Header.Extended() || e.ExpectedObjects == e.FoundObjects {
		return fmt.Sprintf("header 0x%04X announces %d bytes, %d follow", uint16(e.Header), e.ExpectedBytes, e.FoundBytes)
	}
	return fmt.Sprintf("header 0x%04X announces %d data objects, %d follow", uint16(e.Header), e.ExpectedObjects, e.FoundObjects)
}

// ParseMessage reads header and body of one packet; b has neither ordered set nor CRC.
//
// The message keeps b and does not copy it. When header and bytes disagree the message
// holds everything that came, so that Bytes gives b back, and the error is a
// *[LengthError]; without two bytes for a header it is [ErrNoHeader]. A reset signal
// takes no bytes.
func ParseMessage(set OrderedSet, b []byte) (Message, error) {
	if set.IsReset() {
		return parseReset(set, b)
	}
	if len(b) < headerBytes {
		return Message{Set: set}, ErrNoHeader
	}
	m := Message{
		Set:    set,
		Header: Header(binary.LittleEndian.Uint16(b)),
		Body:   b[headerBytes:],
	}
	if want := m.announcedBytes(); want != len(m.Body) {
		return m, m.lengthError(want)
	}
	return m, nil
}

func parseReset(set OrderedSet, b []byte) (Message, error) {
	m := Message{Set: set, Body: b}
	if len(b) != 0 {
		return m, m.lengthError(0)
	}
	return m, nil
}

// announcedBytes is how many bytes the header says follow it.
//
// Unchunked, the number of objects is reserved and the Data Size counts (USB PD R3.2 V1.1,
// section 6.2.1.2). In the EPR capabilities section 6.5.15.1 wants the number of the SPR
// message there, against the chunk rule and the worked examples of the same document; the
// Data Size counts there too.
func (m Message) announcedBytes() int {
	counted := m.Header.Objects() * objectBytes
	if !m.Header.Extended() {
		return counted
	}
	x, ok := m.ExtendedHeader()
	switch t := m.Header.Type(); {
	case !ok:
		return max(counted, extendedHeaderBytes)
	case !x.Chunked():
		return extendedHeaderBytes + x.DataSize()
	case t == EPRSourceCapabilities || t == EPRSinkCapabilities:
		return padded(extendedHeaderBytes + x.BytesHere())
	default:
		return counted
	}
}

// padded rounds up to whole objects, as chunks are filled with zeros.
func padded(n int) int { return (n + objectBytes - 1) / objectBytes * objectBytes }

func (m Message) lengthError(want int) error {
	return &LengthError{
		Header:          m.Header,
		ExpectedObjects: want / objectBytes,
		FoundObjects:    len(m.Body) / objectBytes,
		ExpectedBytes:   want,
		FoundBytes:      len(m.Body),
	}
}

// Type is the type in the header. Ask only where Set is no reset.
func (m Message) Type() MessageType { return m.Header.Type() }

// PowerRole is the sender's power role; unknown where the header carries none.
func (m Message) PowerRole() PowerRole {
	if m.Set != SOP {
		return 0
	}
	return m.Header.PowerRole()
}

// DataRole is the sender's data role; unknown where the header carries none.
func (m Message) DataRole() DataRole {
	if m.Set != SOP {
		return 0
	}
	return m.Header.DataRole()
}

// CablePlug reports whether a cable plug sent the message; ok is false where the header
// does not say, as on SOP.
func (m Message) CablePlug() (plug, ok bool) {
	if !m.Set.ToCable() {
		return false, false
	}
	return m.Header.CablePlug(), true
}

// NumObjects is the number of whole data objects present, whatever the header announces.
// An extended message carries a block in place of objects and has none.
func (m Message) NumObjects() int {
	if m.Set.IsReset() || m.Header.Extended() {
		return 0
	}
	return len(m.Body) / objectBytes
}

// Object is data object i, counted from 0. It panics like a slice when i is not below
// NumObjects.
func (m Message) Object(i int) uint32 {
	return binary.LittleEndian.Uint32(m.Body[i*objectBytes:])
}

// Objects walks the whole data objects present. It can be walked again.
func (m Message) Objects() iter.Seq2[int, uint32] {
	return func(yield func(int, uint32) bool) {
		for i := range m.NumObjects() {
			if !yield(i, m.Object(i)) {
				return
			}
		}
	}
}

// ExtendedHeader is the second header of an extended message; ok is false for other
// messages and where its bytes are missing.
func (m Message) ExtendedHeader() (x ExtendedHeader, ok bool) {
	if m.Set.IsReset() || !m.Header.Extended() || len(m.Body) < extendedHeaderBytes {
		return 0, false
	}
	return ExtendedHeader(binary.LittleEndian.Uint16(m.Body)), true
}

// Block is the part of an extended message's data block that this packet carries, without
// padding: the whole block, one chunk of it, or nothing for a chunk request. It shares
// the bytes of Body.
func (m Message) Block() []byte {
	x, ok := m.ExtendedHeader()
	if !ok {
		return nil
	}
	b := m.Body[extendedHeaderBytes:]
	return b[:min(len(b), x.BytesHere())]
}

// BlockObjects walks the supply objects of a whole data block of EPR_Source_Capabilities or
// EPR_Sink_Capabilities, chunks joined; bytes that make no whole object are left out.
func BlockObjects(block []byte) iter.Seq2[int, uint32] {
	return func(yield func(int, uint32) bool) {
		for i := range len(block) / objectBytes {
			if !yield(i, binary.LittleEndian.Uint32(block[i*objectBytes:])) {
				return
			}
		}
	}
}

// AppendTo appends header and body in the order of the wire to b.
func (m Message) AppendTo(b []byte) []byte {
	if !m.Set.IsReset() {
		b = binary.LittleEndian.AppendUint16(b, uint16(m.Header))
	}
	return append(b, m.Body...)
}

// Bytes is header and body in the order of the wire, in fresh memory.
func (m Message) Bytes() []byte {
	return m.AppendTo(make([]byte, 0, headerBytes+len(m.Body)))
}

// NewMessage builds a data or control message from its objects. The number of objects in
// the header is set from them and so decides between control and data.
func NewMessage(set OrderedSet, f HeaderFields, objects ...uint32) Message {
	f.Objects = len(objects)
	m := Message{Set: set, Header: f.Encode()}
	for _, o := range objects {
		m.Body = binary.LittleEndian.AppendUint32(m.Body, o)
	}
	return m
}
