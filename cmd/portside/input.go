package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"portside/captures/demo"
)

const (
	stdinName  = "-"
	demoPrefix = "demo:"
)

// operand is one input to read: a file, standard input or a file of a demo.
type operand struct {
	path string // as given, or demo:NAME/FILE
	size int64  // bytes, -1 unknown
	open func() (io.ReadCloser, error)
}

// resolve turns the operands of the command line into inputs. demo:NAME
// stands for all the files of that demo. Standard input can be named once.
func resolve(args []string, s *streams) ([]operand, error) {
	var out []operand
	stdin := false
	for _, arg := range args {
		switch {
		case arg == stdinName:
			if stdin {
				return nil, usage("- is standard input and can be given once only")
			}
			stdin = true
			out = append(out, operand{path: arg, size: -1, open: func() (io.ReadCloser, error) { return nonEmpty(arg, io.NopCloser(s.in)) }})
		case strings.HasPrefix(arg, demoPrefix):
			out = append(out, demoFiles(arg)...)
		default:
			out = append(out, operand{path: arg, size: fileSize(arg), open: func() (io.ReadCloser, error) { return openFile(arg) }})
		}
	}
	return out, nil
}

// fileSize is only for the progress line: -1 where it is not known.
func fileSize(path string) int64 {
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() {
		return -1
	}
	return info.Size()
}

// demoFiles finds the files of demo:NAME, or the one of demo:NAME/FILE; the
// ending of FILE may be left out. A name that no demo has is an operand that
// cannot be opened, so that the other operands are still read.
func demoFiles(arg string) []operand {
	fails := func(err error) []operand {
		return []operand{{path: arg, open: func() (io.ReadCloser, error) { return nil, err }}}
	}
	name, file, _ := strings.Cut(strings.TrimPrefix(arg, demoPrefix), "/")
	files, err := demo.Open(name)
	if errors.Is(err, demo.ErrUnknown) {
		return fails(unreadable(arg, "%s; portside demo lists all", err))
	}
	if err != nil {
		return fails(fmt.Errorf("%s: %w", arg, err))
	}
	var out []operand
	for _, f := range files {
		base := f.Label[strings.LastIndexByte(f.Label, '/')+1:]
		stem, _, _ := strings.Cut(base, ".")
		if file == "" || file == base || file == stem {
			out = append(out, operand{path: f.Label, open: func() (io.ReadCloser, error) { return io.NopCloser(f.Data), nil }})
		}
	}
	if len(out) == 0 {
		return fails(unreadable(arg, "the demo has no file %q; portside demo lists them", file))
	}
	return out
}

// openFile opens a file of the user's. What stands in the way gets a sentence
// of its own.
func openFile(path string) (io.ReadCloser, error) {
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, unreadable(path, "there is no such file; check the name, or see portside demo for recordings to try")
	case errors.Is(err, fs.ErrPermission):
		return nil, unreadable(path, "this user may not read it; change its permissions or copy it")
	case err != nil:
		return nil, unreadable(path, "it cannot be opened: %s", cause(err))
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		_ = f.Close() // nothing was read
		return nil, unreadable(path, "it is a directory; name the files in it")
	}
	return nonEmpty(path, f)
}

// nonEmpty looks whether there is anything to read at all.
func nonEmpty(path string, r io.ReadCloser) (io.ReadCloser, error) {
	b := bufio.NewReader(r)
	_, err := b.Peek(1)
	switch {
	case errors.Is(err, io.EOF):
		_ = r.Close() // nothing was read
		return nil, unreadable(path, "it is empty; expected a meter log or a list of messages (portside help formats)")
	case err != nil:
		_ = r.Close() // the error is told already
		return nil, unreadable(path, "it cannot be read: %s", cause(err))
	}
	return struct {
		io.Reader
		io.Closer
	}{b, r}, nil
}

// cause is the reason below the path that Go's errors repeat.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
