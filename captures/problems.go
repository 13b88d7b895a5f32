package captures

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// MaxProblems is how many problems of an input are kept; the rest are only
// counted.
const MaxProblems = 100

// UnusableError says why an input holds nothing that can be analysed.
type UnusableError struct {
	File     string
	Line     int   // 1-based, 0 where it concerns the whole input
	Offset   int64 // byte offset after unpacking, -1 where unknown
	Expected string
	Found    string
	Hint     string // what to do, or empty
	Err      error  // the cause, or nil
}

// Error names the file, the line, what was expected and what was found.
func (e *UnusableError) Error() string {
	where := e.File
	if e.Line > 0 {
		where = fmt.Sprintf("%s:%d", e.File, e.Line)
	}
	text := fmt.Sprintf("%s: expected %s, found %s", where, e.Expected, e.Found)
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	return text
}

// Unwrap gives the cause.
func (e *UnusableError) Unwrap() error { return e.Err }

// ErrUnpackLimit is the cause when a compressed input unpacks to more than
// [Options.MaxUnpacked].
var ErrUnpackLimit = errors.New("unpacks to more than the limit")

// skip counts a row that cannot be used, and keeps its problem. where is its
// line, and its time where that could be read.
func (s *Stats) skip(where Problem, format string, args ...any) {
	s.Skipped++
	s.problem(where, format, args...)
}

// remark keeps a problem of a row that is used all the same.
func (s *Stats) remark(line int, at time.Duration, format string, args ...any) {
	s.problem(Problem{Line: line, At: at, HasAt: true}, format, args...)
}

func (s *Stats) problem(p Problem, format string, args ...any) {
	if len(s.Problems) == MaxProblems {
		s.more++
		return
	}
	p.Text = fmt.Sprintf(format, args...)
	s.Problems = append(s.Problems, p)
}

// told is the statistics with a note on the problems that are only counted.
func (s *Stats) told() Stats {
	out := *s
	if s.more > 0 {
		out.Notes = append(slices.Clone(s.Notes), fmt.Sprintf("%d more problems are not listed", s.more))
	}
	return out
}

// count takes a usable record into the statistics.
func (s *Stats) count(at time.Duration) {
	if s.Records == 0 {
		s.Start = at
	}
	s.End = at
	s.Records++
}

// shown cuts a cell to what an error can show on one line.
func shown(cell []byte) string {
	const most = 40
	if len(cell) == 0 {
		return "an empty cell"
	}
	if len(cell) > most {
		return fmt.Sprintf("%q...", cell[:most])
	}
	return fmt.Sprintf("%q", cell)
}
