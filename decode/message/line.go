package message

import (
	"time"

	"portside/pd"
)

// Line is one message, reset or marker. It belongs to its [Decoder]: it and
// what it points to hold until the next Decode.
type Line struct {
	At       time.Duration
	End      time.Duration // last bit of EOP, estimated from the length where it was not recorded
	SOP      string        // the ordered set or the marker
	CRC      CRC
	Repeat   bool
	From     pd.PowerRole // on SOP, who spoke, from the message, the sequence and the role bits; 0 unknown
	Header   Header
	Objects  []Object
	Problems []string

	FirstPosition int // of the first object, 1 but for EPR capabilities whose first chunk is missing

	text   []byte
	fields []Field
	cache  *jsonCache
}

// CRC says what the recorded check of a packet is worth.
type CRC uint8

// The zero value is for a packet whose CRC was not recorded.
const (
	NoCRC CRC = iota
	RightCRC
	WrongCRC
)

// Text is the message in words, in printable ASCII.
func (l *Line) Text() string { return string(l.text) }

// AppendJSON appends the line as one JSON object.
func (l *Line) AppendJSON(b []byte) []byte {
	w := newJSON(b)
	w.seconds("time_s", l.At)
	w.word("sop", l.SOP)
	if l.CRC == NoCRC {
		w.null("crc_ok")
	} else {
		w.flag("crc_ok", l.CRC == RightCRC)
	}
	w.flag("repeat", l.Repeat)
	l.appendHeader(&w)
	w.open("objects", '[')
	for i := range l.Objects {
		l.appendObject(&w, &l.Objects[i])
	}
	w.close(']')
	w.sentence("text", l.text)
	w.open("problems", '[')
	for _, problem := range l.Problems {
		w.element(problem)
	}
	w.close(']')
	w.close('}')
	return w.b
}

func (l *Line) appendHeader(w *jsonWriter) {
	slot := l.cache.at(l.Header.key())
	if slot.key == l.Header.key() {
		w.again(slot.written)
		return
	}
	from := len(w.b)
	l.Header.appendJSON(w)
	slot.keep(l.Header.key(), w.b[from:])
}

func (l *Line) appendObject(w *jsonWriter, o *Object) {
	if o.Kind.IsBlock() {
		l.writeObject(w, o)
		return
	}
	w.next()
	slot := l.cache.at(o.key())
	if slot.key == o.key() {
		w.again(slot.written)
		return
	}
	from := len(w.b)
	l.writeObject(w, o)
	slot.keep(o.key(), w.b[from:])
}

func (l *Line) writeObject(w *jsonWriter, o *Object) {
	w.open("", '{')
	if o.Kind.IsBlock() {
		w.bytes("raw", o.Block)
	} else {
		w.hex("raw", o.Raw, 8)
	}
	w.word("kind", o.Name())
	l.fields = o.AppendFields(l.fields[:0])
	for i := range l.fields {
		w.field(&l.fields[i])
	}
	w.close('}')
}

// MarshalJSON gives what AppendJSON appends.
func (l *Line) MarshalJSON() ([]byte, error) { return l.AppendJSON(nil), nil }
