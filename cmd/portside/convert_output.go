package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// mayWrite looks whether OUT may be written: never over an input, and over
// another file only with force.
func mayWrite(out string, args []string, s *streams, force bool) error {
	there, err := os.Stat(out)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return notWritten(out, cause(err))
	}
	if there.IsDir() {
		return usage("OUT %s is a directory; name a file in it, such as %s", out, filepath.Join(out, "job.pcapng"))
	}
	for _, arg := range args {
		if info := inputInfo(arg, s); info != nil && os.SameFile(info, there) {
			return usage("OUT %s is an input, and an input is never overwritten; name another OUT", out)
		}
	}
	if !force {
		return usage("OUT %s exists already; name another OUT, or replace it with --force", out)
	}
	return nil
}

// inputInfo is what the system knows of an input, nil where it is no file.
func inputInfo(arg string, s *streams) os.FileInfo {
	if arg == stdinName {
		if f, ok := s.in.(*os.File); ok {
			info, err := f.Stat()
			if err == nil {
				return info
			}
		}
		return nil
	}
	if strings.HasPrefix(arg, demoPrefix) {
		return nil
	}
	info, err := os.Stat(arg)
	if err != nil {
		return nil // opening it will tell
	}
	return info
}

// output is a file that appears under its name once it is whole.
type output struct {
	*os.File
	name string
	done bool
}

// createOutput begins a file beside the one it will be.
func createOutput(name string) (*output, error) {
	target := name
	if resolved, err := filepath.EvalSymlinks(name); err == nil {
		target = resolved // a link stays a link
	}
	dir, base := filepath.Split(target)
	part := filepath.Join(dir, fmt.Sprintf(".%s.%d.part", base, os.Getpid()))
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, notWritten(name, cause(err))
	}
	return &output{File: f, name: target}, nil
}

// keep gives the file its name.
func (o *output) keep() error {
	if err := o.Close(); err != nil {
		return notWritten(o.name, cause(err))
	}
	if err := os.Rename(o.Name(), o.name); err != nil {
		return notWritten(o.name, cause(err))
	}
	o.done = true
	return nil
}

// discard removes a file that was not kept.
func (o *output) discard() {
	if !o.done {
		_ = o.Close() // it may be closed already
		_ = os.Remove(o.Name())
	}
}

// notWritten is a result that has no place to go.
func notWritten(out string, err error) error {
	return &failure{status: exitInside, file: out, message: fmt.Sprintf("the result could not be written: %s", cause(err)), offset: -1}
}
