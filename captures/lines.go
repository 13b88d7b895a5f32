package captures

import (
	"bytes"
	"errors"
	"io"
)

const (
	bufferSize = 256 << 10
	maxLine    = 1 << 20 // no row of a log is longer; a file without line ends must not fill the memory
	// maxEmptyReads ends a source that gives neither bytes nor an error.
	maxEmptyReads = 100
)

// errLineTooLong is returned once for a line over maxLine; the rest of the
// line is passed over.
var errLineTooLong = errors.New("line too long")

// lineReader gives a text line by line from one buffer that it reuses. It
// never reads on while a whole line is at hand, so that a log can be followed
// while it is written.
type lineReader struct {
	src        io.Reader
	buf        []byte
	start, end int   // what was read and not yet taken
	err        error // what src ended with
	line       int   // number of the line taken last
}

func newLineReader(src io.Reader) *lineReader {
	return &lineReader{src: src, buf: make([]byte, bufferSize)}
}

// next gives the next line without its end. The slice is good until the next
// call. It ends with io.EOF or with the error of the source.
func (l *lineReader) next() ([]byte, error) {
	if i := bytes.IndexByte(l.buf[l.start:l.end], '\n'); i >= 0 { // nearly always
		line := l.buf[l.start : l.start+i]
		l.take(i+1, 1)
		return trimCR(line), nil
	}
	line, size, err := l.peek(0)
	if err != nil {
		if errors.Is(err, errLineTooLong) {
			l.passOver()
		}
		return nil, err
	}
	l.take(size, 1)
	return line, nil
}

// take passes over bytes that hold the given number of lines.
func (l *lineReader) take(size, lines int) {
	l.start += size
	l.line += lines
}

// peek gives the line that begins off bytes behind what was taken, without
// its end, and its size with the end. The slice is good until the next call.
// A line that the source broke off in is not given: its last number may have
// lost digits.
func (l *lineReader) peek(off int) (line []byte, size int, err error) {
	searched := off
	for {
		from := l.start + off
		if i := bytes.IndexByte(l.buf[l.start+searched:l.end], '\n'); i >= 0 {
			end := l.start + searched + i
			return trimCR(l.buf[from:end]), end + 1 - from, nil
		}
		searched = l.end - l.start
		switch {
		case errors.Is(l.err, io.EOF) && from < l.end:
			return trimCR(l.buf[from:l.end]), l.end - from, nil
		case l.err != nil:
			return nil, 0, l.err
		case searched-off > maxLine:
			return nil, 0, errLineTooLong
		}
		l.fill()
	}
}

// broken reports whether the source broke off in the middle of a line.
func (l *lineReader) broken() bool {
	return l.err != nil && !errors.Is(l.err, io.EOF) && l.start < l.end
}

// fill reads once more from the source. What was taken makes room.
func (l *lineReader) fill() {
	if l.start > 0 {
		l.end = copy(l.buf, l.buf[l.start:l.end])
		l.start = 0
	}
	if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	for range maxEmptyReads {
		n, err := l.src.Read(l.buf[l.end:])
		l.end += n
		l.err = err
		if n > 0 || err != nil {
			return
		}
	}
	l.err = io.ErrNoProgress
}

// passOver drops a line that is too long.
func (l *lineReader) passOver() {
	l.line++
	for {
		if i := bytes.IndexByte(l.buf[l.start:l.end], '\n'); i >= 0 {
			l.start += i + 1
			return
		}
		l.start = l.end
		if l.err != nil {
			return
		}
		l.fill()
	}
}

func trimCR(line []byte) []byte {
	if n := len(line); n > 0 && line[n-1] == '\r' {
		return line[:n-1]
	}
	return line
}
