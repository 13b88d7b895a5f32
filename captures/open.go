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
)

// DefaultMaxUnpacked is how much a compressed input may unpack to, in bytes.
const DefaultMaxUnpacked = 8 << 30

// Options say how to read an input. The zero value finds everything itself.
type Options struct {
	As          Kind       // force the kind
	Columns     ColumnSpec // which columns of a meter log to take
	RateHz      float64    // for a log without a time column
	MaxUnpacked int64      // bytes; 0 means DefaultMaxUnpacked
}

// Input is one file being read.
type Input struct {
	stats  Stats
	source rowSource
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
	if o.As == KindPackets || o.As == KindUnknown && isPackets(raw) {
		return openPackets(path, raw)
	}
	text, err := decodeText(path, raw)
	if err != nil {
		return nil, err
	}
	lines := newLineReader(text)
	head, err := findHeader(path, lines, o)
	if err != nil {
		return nil, err
	}
	in := &Input{stats: Stats{Path: path, Kind: head.kind, Notes: head.notes}}
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

// Next gives the next usable record, then io.EOF. Damaged rows are counted in
// [Input.Stats]. A file that breaks off, such as a truncated archive, ends
// here too: what was read stays, and a problem says where it broke.
func (in *Input) Next() (Record, error) {
	if in.done {
		return Record{}, io.EOF
	}
	record, err := in.source.next(&in.stats)
	if err == nil {
		in.stats.count(record.At())
		return record, nil
	}
	in.done = true
	if !errors.Is(err, io.EOF) {
		in.stats.problem(Problem{}, "the file ends early: %s", causeWords(err))
		in.stats.Broken = true
	}
	return Record{}, io.EOF
}

// Stats is what was read so far. The slices are good until the next call of Next.
func (in *Input) Stats() Stats { return in.stats }

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
	case bytes.HasPrefix(magic, []byte{0x1f, 0x8b}):
		packed, err = gzip.NewReader(raw)
	case bytes.Equal(magic, []byte{0x28, 0xb5, 0x2f, 0xfd}):
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

// limitedReader ends with ErrUnpackLimit, not with a quiet io.EOF.
type limitedReader struct {
	src         io.Reader
	left, limit int64
}

func (l *limitedReader) Read(p []byte) (int, error) {
	if l.left <= 0 {
		return 0, fmt.Errorf("%w of %d bytes", ErrUnpackLimit, l.limit)
	}
	if int64(len(p)) > l.left {
		p = p[:l.left]
	}
	n, err := l.src.Read(p)
	l.left -= int64(n)
	return n, err
}

// decodeText strips a byte order mark, turns UTF-16 into UTF-8 and refuses
// what is no text.
func decodeText(path string, r *bufio.Reader) (io.Reader, error) {
	start, err := r.Peek(1024)
	if len(start) == 0 {
		cause := UnusableError{File: path, Offset: 0, Expected: "a recording", Found: "nothing in it"}
		if err != nil && !errors.Is(err, io.EOF) {
			cause.Found, cause.Err = causeWords(err), err
		}
		return nil, &cause
	}
	if form := utf16Of(start); form != nil {
		return transform.NewReader(r, form.NewDecoder()), nil
	}
	if bytes.HasPrefix(start, []byte{0xef, 0xbb, 0xbf}) {
		_, _ = r.Discard(3)
		start = start[3:]
	}
	if at := binaryAt(start); at >= 0 {
		return nil, &UnusableError{
			File: path, Offset: int64(at), Expected: "a text log or a message list",
			Found: fmt.Sprintf("binary data (byte 0x%02x at offset %d)", start[at], at),
		}
	}
	return r, nil
}

// utf16Of recognises UTF-16 by its mark, or by every other byte being zero.
func utf16Of(start []byte) encoding.Encoding {
	switch {
	case bytes.HasPrefix(start, []byte{0xff, 0xfe}), looksWide(start, 1):
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	case bytes.HasPrefix(start, []byte{0xfe, 0xff}), looksWide(start, 0):
		return unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	}
	return nil
}

func looksWide(start []byte, zeroAt int) bool {
	n := min(len(start), 64) &^ 1
	if n < 8 {
		return false
	}
	for i := 0; i < n; i += 2 {
		if start[i+zeroAt] != 0 || start[i+1-zeroAt] == 0 {
			return false
		}
	}
	return true
}

// binaryAt finds the first byte that makes the start no text, or -1: a zero
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
