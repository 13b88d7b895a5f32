package captures

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"portside/captures/line"
)

// DefaultMaxUnpacked is how much a compressed input may unpack to, in bytes.
const DefaultMaxUnpacked = 8 << 30

// Options say how to read an input. The zero value finds everything itself.
type Options struct {
	As      Kind       // force the kind
	Columns ColumnSpec // which columns of a meter log to take
	RateHz  float64    // for a log without a time column
	Signal  string     // the CC line of a line recording; empty finds it
	// Line makes the decoder of a line recording; without it none can be read.
	Line        func(signals []line.Signal) LineDecoder
	MaxUnpacked int64 // bytes; 0 means DefaultMaxUnpacked
}

// Input is one file being read.
type Input struct {
	stats  Stats
	lines  *lineReader // nil where the input is no text
	source rowSource
	unread []string // columns that no record holds
	done   bool
}

// rowSource reads the rows of one kind.
type rowSource interface {
	// next returns the next usable row, or io.EOF, or what the file broke
	// off with.
	next(*Stats) (Record, error)
}

// Open looks into r and tells what it holds. path is only the label used in
// messages. An input that holds nothing of use is an *[UnusableError].
func Open(path string, r io.Reader, o Options) (*Input, error) {
	if o.MaxUnpacked <= 0 {
		o.MaxUnpacked = DefaultMaxUnpacked
	}
	raw, err := unpack(path, r, o.MaxUnpacked)
	if err != nil {
		return nil, err
	}
	if o.As == KindPackets || isPackets(raw) {
		return openPackets(path, raw, o.As)
	}
	if isDump(raw) { // as a meter log or a message list it gives only that part of itself
		return openDump(path, decodeText(raw), o)
	}
	lines := newLineReader(decodeText(raw))
	head, err := findHeader(path, lines, o)
	if err != nil {
		return nil, err
	}
	if head.kind == KindLine {
		return openRows(path, lines, head, o)
	}
	in := &Input{stats: Stats{Path: path, Kind: head.kind, Notes: head.notes}, lines: lines, unread: head.unread()}
	in.stats.Messages, in.stats.Samples = head.kind == KindMessages, head.kind == KindMeter
	if head.kind == KindMessages {
		in.source = newMessageSource(lines, head)
		return in, nil
	}
	in.source, err = newMeterSource(path, lines, head, o)
	if err != nil {
		return nil, err
	}
	return in, nil
}

// Kind is what the input holds.
func (in *Input) Kind() Kind { return in.stats.Kind }

// Next gives the next usable record, then io.EOF. It waits for no more than
// the line feed of a row, so that a log can be followed while it is written.
// Damaged rows are counted in [Input.Stats]. A file that breaks off, such as a
// truncated archive, ends here too: what was read stays, and a problem says
// where it broke.
func (in *Input) Next() (Record, error) {
	if in.done {
		return Record{}, io.EOF
	}
	record, err := in.source.next(&in.stats)
	if err == nil {
		if in.stats.Kind != KindLine { // which counts what it reads of the line
			in.stats.count(record.At())
		}
		return record, nil
	}
	in.done = true
	if !errors.Is(err, io.EOF) {
		in.breakOff(err)
	}
	return Record{}, io.EOF
}

// breakOff tells where the file ends early. A row that was cut is a row that
// could not be used: its last number may have lost digits.
func (in *Input) breakOff(err error) {
	in.stats.Broken = true
	var where Problem
	if in.lines != nil {
		where.Line = in.lines.line + 1
		if in.lines.broken() {
			in.stats.Skipped++
		}
	}
	in.stats.problem(where, "the file ends early: %s", causeWords(err))
}

// Stats is what was read so far, times on the file's own clock. The slices
// are good until the next call of Next.
func (in *Input) Stats() Stats { return in.stats.told() }

// causeWords says what a source broke off with.
func causeWords(err error) string {
	switch {
	case errors.Is(err, ErrUnpackLimit):
		return err.Error() + "; raise --max-unpacked if the file is to be trusted"
	case errors.Is(err, io.ErrUnexpectedEOF):
		return "the compressed data is cut off"
	default:
		return err.Error()
	}
}

// unpack removes compression.
func unpack(path string, r io.Reader, limit int64) (*bufio.Reader, error) {
	raw := bufio.NewReaderSize(r, 64<<10)
	magic, err := raw.Peek(4)
	if len(magic) == 0 {
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, &UnusableError{File: path, Offset: -1, Expected: "a recording", Found: err.Error(), Err: err}
		}
		return nil, &UnusableError{File: path, Offset: 0, Expected: "a recording", Found: "an empty file"}
	}
	var packed io.Reader
	switch {
	case bytes.HasPrefix(magic, []byte{0x1f, 0x8b}): // RFC 1952, section 2.3.1
		packed, err = gzip.NewReader(raw)
	case bytes.Equal(magic, []byte{0x28, 0xb5, 0x2f, 0xfd}): // RFC 8878, section 3.1.1
		// One decoder, one window: the memory stays bounded whatever the frame claims.
		packed, err = zstd.NewReader(raw, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(64<<20))
	default:
		return raw, nil
	}
	if err != nil {
		return nil, &UnusableError{File: path, Offset: 0, Expected: "a compressed recording", Found: "a damaged archive", Err: err}
	}
	return bufio.NewReaderSize(&limitedReader{src: packed, left: limit, limit: limit}, 64<<10), nil
}

// limitedReader ends with ErrUnpackLimit, not with a quiet io.EOF, where there
// is more than the limit.
type limitedReader struct {
	src         io.Reader
	left, limit int64
}

func (l *limitedReader) Read(p []byte) (int, error) {
	n, err := l.src.Read(p)
	if int64(n) > l.left {
		n, err = int(l.left), fmt.Errorf("%w of %d bytes", ErrUnpackLimit, l.limit)
	}
	l.left -= int64(n)
	return n, err
}

// headBytes is how much of a text is looked at to tell its encoding.
const headBytes = 1 << 10

// decodeText strips a byte order mark and turns UTF-16 into UTF-8.
func decodeText(r *bufio.Reader) io.Reader {
	head := peekHead(r)
	if form := utf16Of(head); form != nil {
		return transform.NewReader(r, form.NewDecoder())
	}
	if mark := []byte{0xef, 0xbb, 0xbf}; bytes.HasPrefix(head, mark) {
		_, _ = r.Discard(len(mark)) // it is in the buffer
	}
	return r
}

// peekHead looks at the first line and no further: the next may not be
// written yet. Of UTF-16 it takes the second byte of the line feed too.
func peekHead(r *bufio.Reader) []byte {
	for want := 1; ; want = r.Buffered() + 1 {
		_, err := r.Peek(min(want, headBytes))
		head, _ := r.Peek(min(r.Buffered(), headBytes))
		if i := bytes.IndexByte(head, '\n'); i >= 0 {
			if i%2 == 1 || bytes.IndexByte(head[:i], 0) < 0 {
				return head[:i+1]
			}
			if i+1 < len(head) {
				return head[:i+2]
			}
		}
		if err != nil || len(head) == headBytes {
			return head
		}
	}
}

// utf16Of recognises UTF-16 by its mark, or by every other byte being zero;
// nil where the text is none.
func utf16Of(head []byte) encoding.Encoding {
	little, big := zerosAt(head, 1), zerosAt(head, 0)
	enough := max(len(head)/8, 2) // a quarter of the pairs: a preamble may be in any script
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}), little >= enough && big == 0:
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}), big >= enough && little == 0:
		return unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	}
	return nil
}

// zerosAt counts the zero bytes at even or odd places.
func zerosAt(head []byte, from int) int {
	n := 0
	for i := from; i < len(head); i += 2 {
		if head[i] == 0 {
			n++
		}
	}
	return n
}

// binaryAt finds the first byte that makes a start no text, or -1: a zero
// byte, or control bytes beyond the odd stray one. Bytes beyond ASCII are
// allowed up to a half: a degree sign in an old code page is harmless.
func binaryAt(start []byte) int {
	first, odd, high := -1, 0, 0
	for i, c := range start {
		switch {
		case c == 0:
			return i
		case c < 0x20 && c != '\t' && c != '\n' && c != '\r' || c == 0x7f:
			if odd++; first < 0 {
				first = i
			}
		case c >= 0x80:
			high++
		}
	}
	if odd > len(start)/16 {
		return first
	}
	if high > len(start)/2 {
		return bytes.IndexFunc(start, func(r rune) bool { return r >= 0x80 })
	}
	return -1
}
