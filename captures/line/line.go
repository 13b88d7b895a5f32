// Package line reads recordings of the CC line itself: Value Change Dumps and
// delimited texts, as changes of level or as voltages over time. It says what
// stood in the file and never what it means.
//
// Both readers stream: memory does not grow with the file.
package line

import (
	"fmt"
	"time"
)

// Kind is what a signal of the recording is.
type Kind uint8

// Kinds of signal.
const (
	CC   Kind = iota // the CC line, or a signal that may be it
	VBUS             // volts of VBUS
	IBUS             // amperes of VBUS, positive into the device
)

// Signal is one line of the recording.
type Signal struct {
	Name string // as the file has it, scopes joined by points
	Kind Kind
}

// Level is the state of a line that was recorded as a logic level.
type Level uint8

// Levels. A voltage stands in the event of a line that was recorded in volts.
const (
	Unknown Level = iota // x, or not recorded from here on
	Low
	High
	Released // z: nobody drives the line
	Voltage  // no level: the event's Value is in volts or amperes
)

// NoSignal is the signal of an event that only says that time went on.
const NoSignal = 0xFF

// MaxSignals is how many signals a reader follows at once.
const MaxSignals = 64

// Event is one change or one sample of one signal.
type Event struct {
	At     time.Duration // on the file's clock
	Value  float64       // volts, or amperes of IBUS, where Level is Voltage
	Signal uint8         // index into the reader's Signals, or NoSignal
	Level  Level
}

// Reader gives the events of a recording in the order of time.
type Reader interface {
	// Signals are the signals followed, in the order of Event.Signal.
	Signals() []Signal
	// Read fills events and says how many it gave. At the end it gives an
	// event of NoSignal with the last time stated, then io.EOF. Where the
	// source breaks off it gives the source's error; what came before stays.
	Read(events []Event) (int, error)
	// Stats says what was read so far.
	Stats() Stats
}

// Problem is a piece of the file that could not be used.
type Problem struct {
	Line int // 1-based
	Text string
}

// MaxProblems is how many problems are kept; the rest are only counted.
const MaxProblems = 100

// Stats is what a reader met so far.
type Stats struct {
	Records  int       // changes or rows that were used
	Skipped  int       // changes or rows that could not be used
	Problems []Problem // the first MaxProblems
	Notes    []string  // what the reader decided
}

func (s *Stats) skip(line int, format string, args ...any) {
	s.Skipped++
	s.remark(line, format, args...)
}

func (s *Stats) remark(line int, format string, args ...any) {
	if len(s.Problems) < MaxProblems {
		s.Problems = append(s.Problems, Problem{Line: line, Text: fmt.Sprintf(format, args...)})
	}
}

// Options say how to read a recording. The zero value finds everything itself.
type Options struct {
	Signal string  // the CC line's name; empty finds it
	RateHz float64 // ticks or rows a second, for a file that does not say
}

// UnusableError says why a file holds no recording of a line.
type UnusableError struct {
	Line     int // 1-based, 0 where it concerns the whole file
	Expected string
	Found    string
	Hint     string // what to do, or empty
}

// Error names the line, what was expected and what was found.
func (e *UnusableError) Error() string {
	text := fmt.Sprintf("expected %s, found %s", e.Expected, e.Found)
	if e.Line > 0 {
		text = fmt.Sprintf("line %d: %s", e.Line, text)
	}
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	return text
}
