package captures

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
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

var long = flag.Bool("long", false, "run property tests with a hundred times the logs")

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

// lines are where the problems stand.
func (tl contents) lines() []int {
	var out []int
	for _, p := range tl.stats.Problems {
		out = append(out, p.Line)
	}
	return out
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

// plain is a sample without CC levels.
func plain(at time.Duration, volts, amps float64) Sample {
	return Sample{At: at, Volts: volts, Amps: amps, CC: [2]float64{nan, nan}}
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

// rowsOf writes a log of n plain rows, one a millisecond.
func rowsOf(n int) []byte {
	var b bytes.Buffer
	b.WriteString("time (ms),voltage,current\n")
	for i := range n {
		fmt.Fprintf(&b, "%d,20.%04d,1.2345\n", i, i%311)
	}
	return b.Bytes()
}
