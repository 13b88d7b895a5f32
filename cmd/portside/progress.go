package main

import (
	"io"
	"time"

	"github.com/schollz/progressbar/v3"
)

// quietFor is how long work may last before its progress is worth a line.
const quietFor = time.Second

// progress shows how much was read, on a terminal only and after a second
// only. The zero value shows nothing.
type progress struct {
	w     io.Writer // nil: show nothing
	total int64     // bytes; -1 unknown
	read  int64
	since time.Time
	bar   *progressbar.ProgressBar
}

func newProgress(s *streams, quiet bool) *progress {
	if quiet || !s.errTTY {
		return &progress{}
	}
	return &progress{w: s.err, since: time.Now()}
}

// expect adds a file's size to the total; a negative size makes it unknown.
func (p *progress) expect(size int64) {
	if size < 0 || p.total < 0 {
		p.total = -1
		return
	}
	p.total += size
}

// watch counts what is read through r.
func (p *progress) watch(r io.Reader) io.Reader {
	if p.w == nil {
		return r
	}
	return &watched{r: r, p: p}
}

type watched struct {
	r io.Reader
	p *progress
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.r.Read(b)
	w.p.add(int64(n))
	return n, err
}

func (p *progress) add(n int64) {
	p.read += n
	if p.bar == nil {
		if time.Since(p.since) < quietFor {
			return
		}
		p.bar = progressbar.NewOptions64(p.total,
			progressbar.OptionSetWriter(p.w),
			progressbar.OptionSetDescription("reading"),
			progressbar.OptionShowBytes(true),
			progressbar.OptionSetWidth(20),
			progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionClearOnFinish(),
		)
	}
	// A progress line that cannot be drawn is no reason to stop.
	_ = p.bar.Set64(p.read)
}

// done takes the line away again.
func (p *progress) done() {
	if p.bar != nil {
		_ = p.bar.Clear() // see add
		p.bar = nil
	}
}
