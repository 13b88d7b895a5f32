package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"portside/cmd/portside/text"
)

// streams is all that the program knows of the world around it. Tests inject
// buffers.
type streams struct {
	in     io.Reader
	out    io.Writer
	err    io.Writer
	inTTY  bool
	outTTY bool
	errTTY bool
	width  int // columns of the output terminal; 0 unknown
	getenv func(string) string
}

func systemStreams() *streams {
	s := &streams{
		in: os.Stdin, out: os.Stdout, err: os.Stderr,
		inTTY:  term.IsTerminal(int(os.Stdin.Fd())),
		outTTY: term.IsTerminal(int(os.Stdout.Fd())),
		errTTY: term.IsTerminal(int(os.Stderr.Fd())),
		getenv: os.Getenv,
	}
	if s.outTTY {
		if width, _, err := term.GetSize(int(os.Stdout.Fd())); err == nil {
			s.width = width
		}
	}
	return s
}

// look says what standard output can show.
func (s *streams) look(noColor bool) text.Look {
	if !s.outTTY {
		return text.Look{}
	}
	dumb := s.getenv("TERM") == "dumb"
	return text.Look{
		Width:   s.width,
		Unicode: !dumb && s.utf8(),
		Colour:  !dumb && !noColor && s.getenv("NO_COLOR") == "",
	}
}

// utf8 reports a UTF-8 terminal by the usual order of variables.
func (s *streams) utf8() bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := s.getenv(name); v != "" {
			v = strings.ToLower(v)
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return false
}

// keeping remembers the first error of its writer, for writers of help that
// have no way to return it.
type keeping struct {
	w   io.Writer
	err error
}

func (k *keeping) Write(b []byte) (int, error) {
	n, err := k.w.Write(b)
	if k.err == nil && err != nil {
		k.err = fmt.Errorf("the result could not be written: %w", err)
	}
	return n, err
}
