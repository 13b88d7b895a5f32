package line

import "io"

const (
	bufferSize = 256 << 10
	// maxToken is the longest word that is kept: names and identifier codes of
	// real files are far shorter, and a hostile one must not fill the memory.
	maxToken = 64 << 10
)

// buffer is a part of a source, read on by fill.
type buffer struct {
	src      io.Reader
	buf      []byte
	pos, end int
	err      error // what src ended with
}

func newBuffer(src io.Reader) buffer { return buffer{src: src, buf: make([]byte, bufferSize)} }

// tokens gives a text word by word, parted by blanks.
type tokens struct {
	buffer
	line    int  // 1-based line of the word given last
	tooLong bool // the word given last was longer than maxToken, and cut
}

func newTokens(src io.Reader) *tokens { return &tokens{buffer: newBuffer(src), line: 1} }

// next gives the next word, good until the next call. It ends with what the
// source ended with.
func (t *tokens) next() ([]byte, error) {
	t.tooLong = false
	for {
		for t.pos < t.end && t.buf[t.pos] <= ' ' {
			if t.buf[t.pos] == '\n' {
				t.line++
			}
			t.pos++
		}
		if t.pos < t.end {
			break
		}
		if !t.fill() {
			return nil, t.err
		}
	}
	n := 0
	for {
		for t.pos+n < t.end && t.buf[t.pos+n] > ' ' {
			n++
		}
		if n >= maxToken {
			return t.cut(), nil
		}
		if t.pos+n < t.end || !t.fill() {
			word := t.buf[t.pos : t.pos+n]
			t.pos += n
			return word, nil
		}
	}
}

// cut gives the start of a word that is too long and passes over the rest.
func (t *tokens) cut() []byte {
	t.tooLong = true
	word := append([]byte(nil), t.buf[t.pos:t.pos+64]...)
	for {
		for t.pos < t.end && t.buf[t.pos] > ' ' {
			t.pos++
		}
		if t.pos < t.end || !t.fill() {
			return word
		}
	}
}

// fill moves what is left to the start of the buffer and reads more; false at
// the end of the source.
func (b *buffer) fill() bool {
	if b.err != nil {
		return false
	}
	copy(b.buf, b.buf[b.pos:b.end])
	b.pos, b.end = 0, b.end-b.pos
	for range 100 {
		n, err := b.src.Read(b.buf[b.end:])
		b.end += n
		b.err = err
		if n > 0 {
			return true
		}
		if err != nil {
			return false
		}
	}
	b.err = io.ErrNoProgress
	return false
}
