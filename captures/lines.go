package captures

import (
	"bytes"
	"errors"
	"io"
)

const (
	bufferSize = 256 << 10
	maxLine    = 1 << 20 // no row of a log is longer; a file without line ends must not fill the memory
	maxQuoted  = 64      // lines that one quoted cell may run over; a stray quote must not swallow the log
)

// errLineTooLong is returned once for a line over maxLine; the rest of the
// line is passed over.
var errLineTooLong = errors.New("line too long")

// lineReader gives a text line by line from one buffer that it reuses.
type lineReader struct {
	src        io.Reader
	buf        []byte
	start, end int
	err        error    // what src ended with
	line       int      // number of the line given last
	replay     [][]byte // lines given back, to be given again first
}

func newLineReader(src io.Reader) *lineReader {
	return &lineReader{src: src, buf: make([]byte, bufferSize)}
}

// next gives the next line without its end. The slice is good until the next
// call. It ends with io.EOF or with the error of the source.
func (l *lineReader) next() ([]byte, error) {
	if len(l.replay) > 0 {
		line := l.replay[0]
		l.replay = l.replay[1:]
		l.line++
		return line, nil
	}
	searched := l.start
	for {
		if i := bytes.IndexByte(l.buf[searched:l.end], '\n'); i >= 0 {
			line := l.buf[l.start : searched+i]
			l.start = searched + i + 1
			l.line++
			return trimCR(line), nil
		}
		searched = l.end
		if l.err != nil {
			return l.last()
		}
		if l.end-l.start > maxLine {
			l.line++
			return nil, l.passOver()
		}
		searched -= l.fill()
	}
}

// giveBack takes copies of the lines given last, to be given again.
func (l *lineReader) giveBack(lines [][]byte) {
	l.replay = append(lines, l.replay...)
	l.line -= len(lines)
}

// last gives what stands after the final line end.
func (l *lineReader) last() ([]byte, error) {
	if l.start == l.end {
		return nil, l.err
	}
	line := l.buf[l.start:l.end]
	l.start = l.end
	l.line++
	return trimCR(line), nil
}

// fill reads more. It returns by how much what is in the buffer moved down.
func (l *lineReader) fill() (moved int) {
	if l.start > 0 {
		moved = l.start
		copy(l.buf, l.buf[l.start:l.end])
		l.start, l.end = 0, l.end-moved
	}
	if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	for range 100 {
		n, err := l.src.Read(l.buf[l.end:])
		l.end += n
		l.err = err
		if n > 0 || err != nil {
			return moved
		}
	}
	l.err = io.ErrNoProgress
	return moved
}

// passOver drops the rest of a line that is too long.
func (l *lineReader) passOver() error {
	for {
		if i := bytes.IndexByte(l.buf[l.start:l.end], '\n'); i >= 0 {
			l.start += i + 1
			return errLineTooLong
		}
		l.start = l.end
		if l.err != nil {
			return errLineTooLong
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
