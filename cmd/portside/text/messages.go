package text

import (
	"fmt"
	"io"
	"strconv"
)

// MessageLine is one message, reset or marker as it is listed.
type MessageLine struct {
	AtS      float64
	Attach   bool   // the time from which the following ones count
	Who      string // "source -> sink", "" unknown
	Text     string
	Problems []string
}

// Messages lists messages one at a time, so that a list of any length needs
// no memory.
type Messages struct {
	p        *page
	originS  float64
	previous *float64
}

// NewMessages starts a list.
func NewMessages(w io.Writer, look Look) *Messages { return &Messages{p: newPage(w, look)} }

const (
	timeColumns = 12
	gapColumns  = 12
	whoColumns  = 16
)

// Add prints one message.
func (m *Messages) Add(l MessageLine) error {
	if m.previous == nil || l.Attach {
		m.start(l)
	}
	gap := ""
	if m.previous != nil {
		gap = "+" + gapWords(l.AtS-*m.previous)
	}
	at := l.AtS
	m.previous = &at
	label := fmt.Sprintf("%*s %*s  %s", timeColumns-1, strconv.FormatFloat(l.AtS-m.originS, 'f', 4, 64)+" s", gapColumns-2, gap, pad(l.Who, whoColumns))
	m.p.item(label, "", l.Text)
	for _, problem := range l.Problems {
		m.p.item(fmt.Sprintf("%*s", columns(label), "problem: "), yellow, stop(problem))
	}
	return m.p.err
}

// start says where the times count from.
func (m *Messages) start(l MessageLine) {
	from := "the first message"
	if l.Attach {
		from = "Attach"
	}
	if m.previous != nil {
		m.p.blank()
	}
	m.originS = l.AtS
	m.p.put(m.p.paint(bold, fmt.Sprintf("Times count from %s, at %s s of the recording.", from, strconv.FormatFloat(l.AtS, 'f', 6, 64))))
	m.p.put(fmt.Sprintf("%*s %*s  %s%s", timeColumns-1, "time", gapColumns-2, "gap", pad("who", whoColumns), "message"))
}

// Close ends the list.
func (m *Messages) Close() error { return m.p.close() }

// gapWords prints a distance in the unit that a reader compares with limits.
func gapWords(s float64) string {
	if s >= 10 {
		return strconv.FormatFloat(s, 'f', 2, 64) + " s"
	}
	return strconv.FormatFloat(s*1000, 'f', 2, 64) + " ms"
}
