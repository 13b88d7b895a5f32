package pcapng

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// bufferSize is also the longest block or record that is read; a PD packet has
// less than 300 bytes, the rest is room for options.
const bufferSize = 256 << 10

// walker knows the way through a file: the source, the place in it, and the
// byte order.
type walker struct {
	src       *bufio.Reader
	at        int64 // offset of what comes next
	bigEndian bool
	damaged   func(Damage)
}

func (w *walker) uint16(b []byte) uint16 {
	if w.bigEndian {
		return binary.BigEndian.Uint16(b)
	}
	return binary.LittleEndian.Uint16(b)
}

func (w *walker) uint32(b []byte) uint32 {
	if w.bigEndian {
		return binary.BigEndian.Uint32(b)
	}
	return binary.LittleEndian.Uint32(b)
}

func (w *walker) uint64(b []byte) uint64 {
	if w.bigEndian {
		return binary.BigEndian.Uint64(b)
	}
	return binary.LittleEndian.Uint64(b)
}

// damage tells of a piece at offset.
func (w *walker) damage(offset int64, skipped bool, format string, args ...any) {
	w.damaged(Damage{Offset: offset, Skipped: skipped, Text: fmt.Sprintf(format, args...)})
}

// head shows the next n bytes without taking them. It is io.EOF where the file
// ends before them, and a *BrokenError where it ends within.
func (w *walker) head(n int, what string) ([]byte, error) {
	b, err := w.src.Peek(n)
	switch {
	case err == nil:
		return b, nil
	case !errors.Is(err, io.EOF):
		return nil, err
	case len(b) == 0:
		return nil, io.EOF
	default:
		return nil, &BrokenError{w.at, fmt.Sprintf("expected the %d bytes that begin %s, found %d at the end of the file", n, what, len(b))}
	}
}

// whole shows all n bytes of a block or record without taking them; n is at
// most bufferSize.
func (w *walker) whole(n int, what string) ([]byte, error) {
	b, err := w.src.Peek(n)
	if errors.Is(err, io.EOF) {
		return nil, w.pastEnd(int64(n), int64(len(b)), what)
	}
	return b, err
}

// take moves on by what was shown.
func (w *walker) take(n int) {
	_, _ = w.src.Discard(n) // it is in the buffer
	w.at += int64(n)
}

// pass moves on over n bytes, however many.
func (w *walker) pass(n int64, what string) error {
	done := int64(0)
	for done < n {
		step := int(min(n-done, math.MaxInt32))
		passed, err := w.src.Discard(step)
		done += int64(passed)
		if errors.Is(err, io.EOF) {
			return w.pastEnd(n, done, what)
		}
		if err != nil {
			return err
		}
	}
	w.at += n
	return nil
}

func (w *walker) pastEnd(claimed, found int64, what string) error {
	return &BrokenError{w.at, fmt.Sprintf("%s claims %d bytes, %d are left in the file", what, claimed, found)}
}
