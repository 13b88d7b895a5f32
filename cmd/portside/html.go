package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"portside/cmd/portside/report"
	"portside/decode"
)

// reportFile is where a report goes; one may stand there already.
type reportFile struct {
	path  string
	force bool
}

func (o *reportFile) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.path, "html", "", "also write a self-contained report to `FILE`")
	f.BoolVar(&o.force, "force", false, "overwrite the report if it is there already")
}

// check says before any work what stands in the way, an input above all.
func (o *reportFile) check(inputs []string) error {
	if o.path == "" {
		return nil
	}
	for _, in := range inputs {
		if in == o.path || same(in, o.path) {
			return usage("--html %s is one of the inputs; name another file", o.path)
		}
	}
	if _, err := os.Stat(o.path); err == nil && !o.force {
		return usage("--html: %s is there already; name another file, or overwrite it with --force", o.path)
	}
	return nil
}

func same(a, b string) bool {
	one, err1 := os.Stat(a)
	two, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(one, two)
}

// write puts the whole report in place at once: what is there is never half of
// one.
func (o *reportFile) write(render func(io.Writer) error) error {
	if o.path == "" {
		return nil
	}
	var page bytes.Buffer
	if err := render(&page); err != nil {
		return fmt.Errorf("the report could not be made: %w", err)
	}
	if err := o.put(page.Bytes()); err != nil {
		return fmt.Errorf("the report could not be written to %s: %w", o.path, cause(err))
	}
	return nil
}

func (o *reportFile) put(page []byte) error {
	f, err := os.CreateTemp(filepath.Dir(o.path), ".portside-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(f.Name()) }() // gone already where all went well
	if _, err := f.Write(page); err != nil {
		_ = f.Close() // the first error counts
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Chmod(f.Name(), 0o644); err != nil { //nolint:gosec // a report is for others to read
		return err
	}
	if !o.force {
		if _, err := os.Stat(o.path); !errors.Is(err, fs.ErrNotExist) {
			return fs.ErrExist
		}
	}
	return os.Rename(f.Name(), o.path)
}

// digested takes the digest of a file on its way to the reader.
type digested struct {
	path string
	r    io.Reader
	sum  hash.Hash
	n    int64
	why  string // it could not be read; "" where it could
}

// notRead is a file that the report names only for why it could not be read.
func notRead(path string, err error) *digested {
	d := newDigested(path, strings.NewReader(""))
	d.why = err.Error()
	var f *failure
	if errors.As(err, &f) {
		named := *f
		named.file = baseName(f.file)
		d.why = named.place() + named.message
	}
	return d
}

func newDigested(path string, r io.Reader) *digested {
	return &digested{path: path, r: r, sum: sha256.New()}
}

func (d *digested) Read(b []byte) (int, error) {
	n, err := d.r.Read(b)
	d.n += int64(n)
	d.sum.Write(b[:n])
	return n, err
}

// file is what the report says of it, read to its end.
func (d *digested) file() (report.File, error) {
	if _, err := io.Copy(io.Discard, d); err != nil {
		return report.File{}, err
	}
	return report.File{Name: baseName(d.path), Bytes: d.n, SHA256: hex.EncodeToString(d.sum.Sum(nil)), Unread: d.why}, nil
}

// about is what a report says of itself and of the files it is made from.
func about(recordings ...*recording) report.About {
	a := report.About{Version: version, Standard: standard}
	for _, r := range recordings {
		for _, d := range r.digests {
			if f, err := d.file(); err == nil {
				a.Files = append(a.Files, f)
			}
		}
	}
	return a
}

// baseName is a file's name without the folders, which are nobody's business
// but the bench's.
func baseName(path string) string {
	if strings.HasPrefix(path, demoPrefix) {
		return path
	}
	return filepath.Base(path)
}

func baseNames(paths []string) []string {
	out := make([]string, len(paths))
	for i, p := range paths {
		out[i] = baseName(p)
	}
	return out
}

// withBaseNames is the diagnosis with no folder of this machine in it.
func withBaseNames(d *decode.Diagnosis) *decode.Diagnosis {
	c := *d
	plain := func(s string) string {
		for _, in := range d.Inputs {
			s = strings.ReplaceAll(s, in.Path, baseName(in.Path))
		}
		return s
	}
	c.Inputs = slices.Clone(d.Inputs)
	for i := range c.Inputs {
		c.Inputs[i].Path = baseName(c.Inputs[i].Path)
	}
	c.Findings = slices.Clone(d.Findings)
	for i := range c.Findings {
		if in := c.Findings[i].Input; in != nil {
			name := baseName(*in)
			c.Findings[i].Input = &name
		}
	}
	c.Clocks = slices.Clone(d.Clocks)
	for i := range c.Clocks {
		c.Clocks[i].Path = baseName(c.Clocks[i].Path)
	}
	c.NotSeen = slices.Clone(d.NotSeen)
	for i := range c.NotSeen {
		c.NotSeen[i] = plain(c.NotSeen[i])
	}
	return &c
}
