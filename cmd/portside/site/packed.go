package site

import (
	"bytes"
	"errors"
	"io"

	"github.com/klauspost/compress/zstd"
)

const (
	// mostKept is how much one recording may take in memory, packed. A text
	// log packs to about a fifth, so this is some 80 MB of one.
	mostKept = 16 << 20
	// mostKeptTogether is how much all of them may; the oldest go first.
	mostKeptTogether = 64 << 20
	piece            = 256 << 10
)

// packed holds bytes compressed, in pieces, so that growing copies nothing.
type packed struct {
	pieces [][]byte
	size   int
}

// Write adds bytes that are packed already.
func (p *packed) Write(b []byte) (int, error) {
	for rest := b; len(rest) > 0; {
		last := len(p.pieces) - 1
		if last < 0 || len(p.pieces[last]) == piece {
			p.pieces = append(p.pieces, make([]byte, 0, min(piece, max(len(rest), 4<<10))))
			last++
		}
		n := min(len(rest), piece-len(p.pieces[last]))
		p.pieces[last] = append(p.pieces[last], rest[:n]...)
		rest = rest[n:]
	}
	p.size += len(b)
	return len(b), nil
}

// open unpacks what was packed.
func (p *packed) open() (io.ReadCloser, error) {
	readers := make([]io.Reader, len(p.pieces))
	for i, b := range p.pieces {
		readers[i] = bytes.NewReader(b)
	}
	d, err := zstd.NewReader(io.MultiReader(readers...), zstd.WithDecoderConcurrency(1))
	if err != nil {
		return nil, err
	}
	return d.IOReadCloser(), nil
}

// pack reads r until its end or until no more than about most bytes are taken;
// whole reports the end.
func pack(r io.Reader, most int) (p *packed, whole bool, err error) {
	p = &packed{}
	e, err := zstd.NewWriter(p, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(1<<20))
	if err != nil {
		return nil, false, err
	}
	var buffer [64 << 10]byte
	for p.size <= most {
		n, err := r.Read(buffer[:])
		if _, err := e.Write(buffer[:n]); err != nil {
			return nil, false, err
		}
		if errors.Is(err, io.EOF) {
			whole = true
			break
		}
		if err != nil {
			return nil, false, err
		}
	}
	return p, whole, e.Close()
}
