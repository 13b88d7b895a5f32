package line

import (
	"math"
	"time"

	"portside/captures"
	"portside/captures/line"
)

// Messages gives the frames of a line recording as messages. It is what
// [captures.Options] takes for recordings of the line.
type Messages struct {
	decoder *Decoder
	frames  []*Frame
	next    int
	message captures.Message
	unread  []captures.Problem
	seen    func(*Frame)
	window  *window // nil for all of the recording
	over    bool
}

// NewMessages returns a decoder for the signals of a recording. seen is called
// for every frame, whole or broken, with its picture, before its message is
// given; it may be nil.
func NewMessages(signals []line.Signal, seen func(*Frame)) *Messages {
	m := &Messages{seen: seen}
	m.decoder = NewDecoder(signals, m.take)
	if seen != nil {
		m.decoder.Pictures()
	}
	return m
}

// Within has it take what begins from one time to another, on the file's clock, and
// judge the line by that alone. It must come before the first Add.
func (m *Messages) Within(from, to time.Duration) {
	m.window = newWindow(from, to)
	m.decoder.until = to
}

// Add takes the next events.
func (m *Messages) Add(events []line.Event) {
	if m.over {
		return
	}
	behind := false
	if m.window != nil {
		events, behind = m.window.pass(events)
	}
	m.decoder.Add(events)
	if behind {
		m.Finish()
	}
}

// Finish says that there are no more.
func (m *Messages) Finish() {
	if !m.over {
		m.decoder.Finish()
	}
	m.over = true
}

// Result says how healthy the line is.
func (m *Messages) Result() *Result { return m.decoder.Result() }

// Settled is the time up to which all messages were given.
func (m *Messages) Settled() time.Duration {
	switch {
	case m.over:
		return math.MaxInt64
	case m.window != nil && !m.window.begun:
		return m.window.now
	}
	return m.decoder.Settled()
}

// Unread tells of frames that are no message: a preamble with nothing known
// after it, a reset that does not count.
func (m *Messages) Unread() []captures.Problem {
	out := m.unread
	m.unread = nil
	return out
}

func (m *Messages) take(f *Frame) {
	if m.seen != nil {
		m.seen(f)
	}
	if !f.Good && (f.Set == 0 || f.Set.IsReset()) {
		if len(m.unread) < captures.MaxProblems {
			m.unread = append(m.unread, captures.Problem{At: f.Start, HasAt: true, Text: "a frame that is no message: " + f.Reason.String()})
		}
		return
	}
	m.frames = append(m.frames, f)
}

// Next gives the next message; nil where none is ready.
func (m *Messages) Next() *captures.Message {
	if m.next == len(m.frames) {
		m.frames, m.next = m.frames[:0], 0
		return nil
	}
	f := m.frames[m.next]
	m.next++
	m.message = f.Message()
	return &m.message
}

// Message is the frame as the rest of the program knows messages.
func (f *Frame) Message() captures.Message {
	out := captures.Message{
		At: f.Start, End: f.End, HasEnd: true, Set: f.Set, Bytes: f.Bytes,
		CRC: f.CRC, HasCRC: f.HasCRC, CRCWrong: f.Reason == CRCWrong,
	}
	if !f.Good {
		out.HasEnd = f.Reason == CRCWrong
		if f.Reason != CRCWrong {
			out.Broken = f.Reason.String()
		}
	}
	return out
}

var _ captures.LineDecoder = (*Messages)(nil)
