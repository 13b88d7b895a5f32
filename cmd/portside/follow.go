package main

import (
	"context"
	"errors"
	"io"
	"os"
	"time"
)

// pollEvery is how often a file that has not grown is looked at again.
const pollEvery = 20 * time.Millisecond

// What a followed file may end with inside a row.
var (
	errReplaced = errors.New("it was truncated or replaced, and is read from its start")
	errStopped  = errors.New("the watch ended before this row was complete")
)

// follower reads a file that is still being written: at its end it waits for
// more, until the context ends.
type follower struct {
	ctx  context.Context //nolint:containedctx // a Read has none of its own
	path string
	file *os.File
	at   int64
	half bool   // the last byte was no line feed
	gone bool   // it was truncated or replaced
	idle func() // called once each time all that is there was read
}

func follow(ctx context.Context, path string, idle func()) (*follower, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	return &follower{ctx: ctx, path: path, file: f, idle: idle}, nil
}

// Read gives what is there and waits only where nothing is.
func (f *follower) Read(b []byte) (int, error) {
	for waited := false; ; waited = true {
		n, err := f.file.Read(b)
		f.at += int64(n)
		if n > 0 {
			f.half = b[n-1] != '\n'
		}
		if n > 0 || !errors.Is(err, io.EOF) {
			return n, err
		}
		if !waited {
			f.idle()
		}
		if f.replaced() {
			f.gone = true
			return 0, f.end(errReplaced)
		}
		select {
		case <-f.ctx.Done():
			return 0, f.end(errStopped)
		case <-time.After(pollEvery):
		}
	}
}

// end is how the reading ends: an error only where a row is cut.
func (f *follower) end(err error) error {
	if f.half {
		return err
	}
	return io.EOF
}

// replaced reports a file that has become shorter than what was read, or that
// another one stands in the place of.
func (f *follower) replaced() bool {
	mine, err := f.file.Stat()
	if err != nil {
		return false
	}
	if mine.Size() < f.at {
		return true
	}
	now, err := os.Stat(f.path)
	return err == nil && !os.SameFile(mine, now) && now.Size() > 0
}

func (f *follower) Close() error { return f.file.Close() }
