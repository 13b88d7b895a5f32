package captures

import (
	"bytes"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/require"
)

const ms = time.Millisecond

var nan = math.NaN()

// contents is what an input gave, in values that can be compared.
type contents struct {
	samples  []Sample
	messages []Message
	stats    Stats
}

// read reads a whole text.
func read(t testing.TB, text string, o Options) contents {
	t.Helper()
	in, err := Open("log.csv", strings.NewReader(text), o)
	require.NoError(t, err)
	return readAll(t, in)
}

func readAll(t testing.TB, in *Input) contents {
	t.Helper()
	var tl contents
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			tl.stats = in.Stats()
			return tl
		}
		require.NoError(t, err)
		if r.Sample != nil {
			tl.samples = append(tl.samples, *r.Sample)
			continue
		}
		m := *r.Message
		m.Bytes = slices.Clone(m.Bytes)
		tl.messages = append(tl.messages, m)
	}
}

// same compares samples to the last bit, but for the line; a gap is a gap.
func same(a, b Sample) bool {
	eq := func(x, y float64) bool { return x == y || math.IsNaN(x) && math.IsNaN(y) }
	return a.At == b.At && eq(a.Volts, b.Volts) && eq(a.Amps, b.Amps) && eq(a.CC[0], b.CC[0]) && eq(a.CC[1], b.CC[1])
}

func requireSamples(t testing.TB, want, got []Sample) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		require.Truef(t, same(want[i], got[i]), "sample %d: want %+v, got %+v", i, want[i], got[i])
	}
}

// slowReader gives one byte a call, as a pipe may.
type slowReader struct{ src io.Reader }

func (s slowReader) Read(p []byte) (int, error) {
	if len(p) > 1 {
		p = p[:1]
	}
	return s.src.Read(p)
}

func gzipped(t testing.TB, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	_, err := w.Write(b)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return out.Bytes()
}

func zstded(t testing.TB, b []byte) []byte {
	t.Helper()
	w, err := zstd.NewWriter(nil)
	require.NoError(t, err)
	defer w.Close()
	return w.EncodeAll(b, nil)
}

// utf16Bytes writes a text of the basic plane as UTF-16.
func utf16Bytes(text string, little, mark bool) []byte {
	var b bytes.Buffer
	put := func(u uint16) {
		if little {
			b.Write([]byte{byte(u), byte(u >> 8)})
		} else {
			b.Write([]byte{byte(u >> 8), byte(u)})
		}
	}
	if mark {
		put(0xFEFF)
	}
	for _, r := range text {
		put(uint16(r))
	}
	return b.Bytes()
}
