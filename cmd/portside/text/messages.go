package text

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"portside/decode/message"
)

// MessageLine is one message, reset or marker as it is listed.
type MessageLine struct {
	At, End  time.Duration // on the clock of the file
	Attach   bool          // the time from which the following ones count
	Who      string        // who speaks, "" unknown
	Text     string
	Problems []string
	Limit    *message.Limited // of the wait before it, nil for none
	Parts    []MessagePart    // field by field, nil where that was not asked for
}

// MessagePart is a header, an object or a block taken apart.
type MessagePart struct {
	Name   string
	Block  bool // its bits are counted over bytes
	Fields []message.Field
}

// Messages lists messages one at a time, so that a list of any length needs
// no memory.
type Messages struct {
	p        *page
	origin   time.Duration
	previous time.Duration // when the one before ended
	begun    bool
}

// NewMessages starts a list.
func NewMessages(w io.Writer, look Look) *Messages { return &Messages{p: newPage(w, look)} }

const (
	timeColumns = 12
	gapColumns  = 12
	whoColumns  = 11
)

// Add prints one message.
func (m *Messages) Add(l MessageLine) error {
	gap := ""
	if m.begun {
		gap = gapWords(l.At - m.previous)
	}
	if !m.begun || l.Attach {
		m.start(l)
	}
	broken := l.Limit != nil && l.Limit.Verdict == message.Broken
	said := l.Text
	if l.Limit != nil && !broken {
		said += " [" + limitWords(l.Limit) + "]"
	}
	label := fmt.Sprintf("%*s %*s  %s", timeColumns-1, sinceWords(l.At-m.origin), gapColumns-2, gap, pad(l.Who, whoColumns))
	m.p.item(label, "", said)
	if broken {
		m.under(label, "broken: ", red, limitWords(l.Limit))
	}
	for _, problem := range l.Problems {
		m.under(label, "problem: ", yellow, problem)
	}
	m.parts(l.Parts)
	m.previous, m.begun = l.End, true
	return m.p.err
}

// under prints a line that belongs to the message above it.
func (m *Messages) under(label, word, style, s string) {
	m.p.item(fmt.Sprintf("%*s", columns(label), word), style, stop(s))
}

// start says where the times count from.
func (m *Messages) start(l MessageLine) {
	from := "the first message"
	if l.Attach {
		from = "Attach"
	}
	if m.begun {
		m.p.blank()
	}
	m.origin = l.At
	m.p.put(m.p.paint(bold, fmt.Sprintf("Times count from %s, at %s s of the recording.", from, strconv.FormatFloat(l.At.Seconds(), 'f', 6, 64))))
	m.p.put(fmt.Sprintf("%*s %*s  %s%s", timeColumns-1, "time", gapColumns-2, "gap", pad("who", whoColumns), "message"))
}

// Note prints a remark about the whole list at its end.
func (m *Messages) Note(s string) {
	m.p.blank()
	m.p.item("Note: ", "", s)
}

// Close ends the list.
func (m *Messages) Close() error { return m.p.close() }

// parts prints the fields with the bits they stand in.
func (m *Messages) parts(list []MessagePart) {
	if len(list) == 0 {
		return
	}
	g := newGrid("part", "bits", "field", "value")
	g.whole = true
	for _, part := range list {
		name := part.Name
		for _, f := range part.Fields {
			bits := bitWords(f)
			if part.Block {
				bits = byteWords(f)
			}
			g.add(name, bits, f.Name, valueWords(f))
			name = ""
		}
		if len(part.Fields) == 0 {
			g.add(name, "", "", "")
		}
	}
	m.p.table(g)
	m.p.blank()
}

func valueWords(f message.Field) string {
	if v := f.Word(); v != "null" {
		return v
	}
	return "-"
}

func bitWords(f message.Field) string {
	if f.High == f.Low {
		return strconv.Itoa(f.High)
	}
	return fmt.Sprintf("%d-%d", f.High, f.Low)
}

// byteWords counts the bits of a block inside the byte or the word they are in.
func byteWords(f message.Field) string {
	first, last := f.Low/8, f.High/8
	where := fmt.Sprintf("byte %d", first)
	if last > first {
		where = fmt.Sprintf("bytes %d-%d", first, last)
	}
	high, low := f.High-8*first, f.Low-8*first
	switch {
	case low == 0 && (high+1)%8 == 0:
		return where
	case high == low:
		return fmt.Sprintf("%s: %d", where, high)
	default:
		return fmt.Sprintf("%s: %d-%d", where, high, low)
	}
}

// limitWords says what limits a wait and whether that was kept. How long it was
// stands there too where it does not count from the end of the line before.
func limitWords(l *message.Limited) string {
	s := l.Name + " "
	if l.Since != "" {
		s += waitWords(l.Measured) + " after " + l.Since + ", "
	}
	s += boundWords(l)
	switch l.Verdict {
	case message.Kept:
		return s + ": kept"
	case message.TooClose:
		return s + ": too close to call"
	case message.NotObserved:
		return s + ": not observed"
	default:
		return s
	}
}

func boundWords(l *message.Limited) string {
	switch {
	case l.Min > 0 && l.Max > 0:
		unit := "ms"
		if l.Max >= time.Second {
			unit = "s"
		}
		return inUnit(l.Min, unit) + " to " + inUnit(l.Max, unit) + " " + unit
	case l.Max > 0:
		return "max " + waitWords(l.Max)
	default:
		return "min " + waitWords(l.Min)
	}
}

// waitWords prints a time of the standard or one to hold against it, in ms
// below a second.
func waitWords(d time.Duration) string {
	if d >= time.Second {
		return inUnit(d, "s") + " s"
	}
	return inUnit(d, "ms") + " ms"
}

func inUnit(d time.Duration, unit string) string {
	v, digits := d.Seconds(), 1000.0
	if unit == "ms" {
		v *= 1000
		if v >= 10 {
			digits = 10
		}
	}
	return strconv.FormatFloat(math.Round(v*digits)/digits, 'f', -1, 64)
}

func sinceWords(d time.Duration) string {
	return strconv.FormatFloat(d.Seconds(), 'f', 4, 64) + " s"
}

// gapWords prints a distance in the unit that a reader compares with limits.
func gapWords(d time.Duration) string {
	s := d.Seconds()
	switch a := math.Abs(s); {
	case a >= 1:
		return fmt.Sprintf("%+.3f s", s)
	case a < 0.001:
		return fmt.Sprintf("%+.3f ms", s*1000)
	default:
		return fmt.Sprintf("%+.2f ms", s*1000)
	}
}
