package text

import (
	"fmt"
	"io"
	"strings"
	"time"

	"portside/decode/message"
)

// Sequences lists groups of messages one at a time.
type Sequences struct {
	p      *page
	origin time.Duration
	begun  bool
}

// NewSequences starts a list.
func NewSequences(w io.Writer, look Look) *Sequences { return &Sequences{p: newPage(w, look)} }

// Origin makes times count from an Attach, or from the first message.
func (s *Sequences) Origin(at time.Duration, attach bool) {
	if s.begun && !attach {
		return
	}
	from := "the first message"
	if attach {
		from = "Attach"
	}
	if s.begun {
		s.p.blank()
	}
	s.origin, s.begun = at, true
	s.p.put(s.p.paint(bold, fmt.Sprintf("Times count from %s, at %.6f s of the recording.", from, at.Seconds())))
	s.p.put(fmt.Sprintf("%*s %*s  %s", timeColumns-1, "start", gapColumns-2, "duration", "sequence"))
}

// Add prints one sequence.
func (s *Sequences) Add(q *message.Sequence) error {
	label := fmt.Sprintf("%*s %*s  ", timeColumns-1, sinceWords(q.Start-s.origin), gapColumns-2, waitColumn(q.End-q.Start))
	said := q.Name
	if q.Outcome != "" {
		said += ": " + q.Outcome
	}
	if q.Tries > 1 {
		said += fmt.Sprintf(" (%d tries)", q.Tries)
	}
	style := ""
	if !q.Complete {
		style = yellow
	}
	s.p.item(label, style, said)
	return s.p.err
}

// Close ends the list.
func (s *Sequences) Close() error { return s.p.close() }

func waitColumn(d time.Duration) string { return strings.TrimPrefix(gapWords(d), "+") }
