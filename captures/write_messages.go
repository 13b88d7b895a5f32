package captures

import (
	"errors"
	"io"
)

// ErrBothKinds is returned where a record comes for a CSV of the other kind:
// messages and meter samples have no common table.
var ErrBothKinds = errors.New("a CSV holds messages or meter samples, not both")

// The words of the optional columns; none where the recorder said nothing.
var (
	statusWords   = [...]string{Unacknowledged: "unacknowledged", Discarded: "discarded"}
	recorderWords = [...]string{Observer: "observer", SourceItself: "source", SinkItself: "sink"}
)

// MessageExtras are the optional columns of a message list besides crc.
type MessageExtras struct{ End, Status, By bool }

// With adds the columns of another list.
func (e MessageExtras) With(other MessageExtras) MessageExtras {
	return MessageExtras{End: e.End || other.End, Status: e.Status || other.Status, By: e.By || other.By}
}

// MessageExtras says which optional columns the input has.
func (in *Input) MessageExtras() MessageExtras {
	if in.Kind() == KindLine {
		return MessageExtras{End: true}
	}
	m, ok := in.source.(*messageSource)
	if !ok {
		return MessageExtras{}
	}
	return MessageExtras{End: m.columns.end != absent, Status: m.columns.status != absent, By: m.columns.author != absent}
}

// messageWriter writes a message list.
type messageWriter struct {
	rows    rowWriter
	extras  MessageExtras
	written Written
}

// NewMessageWriter begins a message list with time_s, sop, bytes, crc and the
// extra columns.
func NewMessageWriter(dst io.Writer, extras MessageExtras) (Writer, error) {
	w := &messageWriter{rows: newRowWriter(dst), extras: extras}
	w.rows.text("time_s")
	if extras.End {
		w.rows.text("end_s")
	}
	w.rows.text("sop")
	w.rows.text("bytes")
	w.rows.text("crc")
	if extras.Status {
		w.rows.text("status")
	}
	if extras.By {
		w.rows.text("by")
	}
	return w, w.rows.end()
}

// Write writes one row. A sample is [ErrBothKinds].
func (w *messageWriter) Write(r Record, _ *Input) error {
	if r.Sample != nil {
		return ErrBothKinds
	}
	m := r.Message
	if m.Broken != "" { // read from a list, its bytes would pass for a whole message
		w.written.drop("broken messages")
		return nil
	}
	w.rows.time(m.At)
	if w.extras.End {
		w.end(m)
	}
	if m.Marker != NoMarker {
		w.rows.text(m.Marker.String())
	} else {
		w.rows.text(m.Set.String())
	}
	w.rows.hex(m.Bytes)
	w.crc(m)
	w.words(m)
	w.written.Messages++
	return w.rows.end()
}

func (w *messageWriter) end(m *Message) {
	if m.HasEnd {
		w.rows.time(m.End)
	} else {
		w.rows.text("")
	}
}

// crc writes the bytes. That they were found wrong follows from them; without
// them there is no place to say so.
func (w *messageWriter) crc(m *Message) {
	if m.HasCRC {
		w.rows.hex(m.CRC[:])
		return
	}
	w.rows.text("")
	if m.CRCWrong {
		w.written.drop("crc found wrong, without its bytes")
	}
}

func (w *messageWriter) words(m *Message) {
	if w.extras.Status {
		w.rows.text(statusWords[m.Status])
	}
	if w.extras.By {
		w.rows.text(recorderWords[m.By])
	}
}

// Close writes what is held back.
func (w *messageWriter) Close() error { return w.rows.dst.Flush() }

// Written counts the rows.
func (w *messageWriter) Written() Written { return w.written }
