package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"syscall"

	"portside/cmd/portside/text"
)

// Exit statuses; help/exit-codes.txt explains them.
const (
	exitOK          = 0
	exitInside      = 1
	exitUsage       = 2
	exitInput       = 3
	exitFound       = 4
	exitInterrupted = 130
)

// failure is an error with the exit status it leads to and the place it
// concerns.
type failure struct {
	status  int
	message string
	file    string // "" where none
	line    int    // 1-based; 0 unknown
	offset  int64  // byte offset; -1 unknown
	told    bool   // already on standard error, one line an input
}

func (f *failure) Error() string { return f.message }

// usage is an error of the command line.
func usage(format string, args ...any) error {
	return &failure{status: exitUsage, message: fmt.Sprintf(format, args...), offset: -1}
}

// unreadable is an error of one input.
func unreadable(file, format string, args ...any) *failure {
	return &failure{status: exitInput, file: file, message: fmt.Sprintf(format, args...), offset: -1}
}

// status decides how the program ends. It is the only place that does, and
// tells what was not told yet.
func status(err error, w io.Writer, asJSON bool) int {
	var f *failure
	switch {
	case err == nil, errors.Is(err, syscall.EPIPE):
		return exitOK
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &f):
		if !f.told {
			f.tell(w, asJSON)
		}
		return f.status
	default:
		f := &failure{status: exitInside, message: err.Error(), offset: -1}
		f.tell(w, asJSON)
		return f.status
	}
}

// tell prints the error: one line for people, or one JSON object.
func (f *failure) tell(w io.Writer, asJSON bool) {
	if !asJSON {
		_, _ = fmt.Fprintln(w, "portside: "+text.Safe(f.place()+f.message))
		return
	}
	type place struct {
		Message string  `json:"message"`
		Code    int     `json:"code"`
		File    *string `json:"file"`
		Line    *int    `json:"line"`
		Offset  *int64  `json:"offset"`
	}
	p := place{Message: f.message, Code: f.status}
	if f.file != "" {
		p.File = &f.file
	}
	if f.line > 0 {
		p.Line = &f.line
	}
	if f.offset >= 0 {
		p.Offset = &f.offset
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	// An error that cannot be told has no other place to go.
	_ = e.Encode(map[string]place{"error": p})
}

func (f *failure) place() string {
	switch {
	case f.file == "":
		return ""
	case f.line > 0:
		return fmt.Sprintf("%s:%d: ", f.file, f.line)
	case f.offset > 0:
		return fmt.Sprintf("%s@%d: ", f.file, f.offset)
	default:
		return f.file + ": "
	}
}

// wantsJSON reports --json among the arguments, for errors that come before
// the flags are read.
func wantsJSON(args []string) bool {
	if end := slices.Index(args, "--"); end >= 0 {
		args = args[:end]
	}
	return slices.Contains(args, "--json") || slices.Contains(args, "--json=true")
}
