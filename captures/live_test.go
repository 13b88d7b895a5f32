package captures

import (
	"bytes"
	"io"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wait is more than a row ever takes that is not held back.
const wait = 5 * time.Second

// follow opens a pipe and gives the times of the records as they are read.
func follow(t *testing.T, o Options) (*io.PipeWriter, <-chan time.Duration) {
	t.Helper()
	r, w := io.Pipe()
	t.Cleanup(func() { w.Close() })
	times := make(chan time.Duration)
	go func() {
		defer close(times)
		in, err := Open("-", r, o)
		if err != nil {
			return
		}
		recording := NewRecording([]RecordingInput{{Input: in}})
		for {
			record, err := recording.Next()
			if err != nil {
				return
			}
			times <- record.At()
		}
	}()
	return w, times
}

// A row of a live log is given as soon as its line feed is there, and half a
// row waits for it.
func TestRowsAreGivenAsTheyAreWritten(t *testing.T) {
	gz := func(w io.Writer) (io.Writer, func() error) { z := gzip.NewWriter(w); return z, z.Flush }
	bare := func(w io.Writer) (io.Writer, func() error) { return w, func() error { return nil } }
	for _, tt := range []struct {
		name  string
		pack  func(io.Writer) (io.Writer, func() error)
		wide  bool
		head  string
		rows  []string
		times []time.Duration
	}{
		{"plain rows", bare, false, "time,voltage,current\n", []string{"1,5,0\n", "2,5,0\n", "3,5,0\n"}, []time.Duration{1, 2, 3}},
		{"a preamble and a units row", bare, false, "a meter\ntime,voltage,current\ns,V,A\n", []string{"1,5,0\n", "2,5,0\n"}, []time.Duration{1, 2}},
		{"clock times", bare, false, "time;voltage;current\n", []string{"00:00:01;5;0\n", "00:00:02;5;0\n"}, []time.Duration{1, 2}},
		{"a stray quote and the row behind it", bare, false, "time,voltage,current,note\n", []string{"1,5,0,\n", "2,\"5,0,\n3,5,0,\n", "4,5,0,\"x\n5,5,0,\n"}, []time.Duration{1, 3, 4}},
		{"messages", bare, false, "time_s,sop,bytes\n", []string{"1,SOP,4100\n", "2,Hard_Reset,\n"}, []time.Duration{1, 2}},
		{"gzip", gz, false, "time,voltage,current\n", []string{"1,5,0\n", "2,5,0\n"}, []time.Duration{1, 2}},
		{"UTF-16 without a mark", bare, true, "time,voltage,current\n", []string{"1,5,0\n", "2,5,0\n"}, []time.Duration{1, 2}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			pipe, times := follow(t, Options{})
			w, flush := tt.pack(pipe)
			write := func(text string) {
				b := []byte(text)
				if tt.wide {
					b = utf16Bytes(text, true, false)
				}
				_, err := w.Write(b)
				require.NoError(t, err)
				require.NoError(t, flush())
			}
			write(tt.head)
			for i, row := range tt.rows {
				write(row[:2])
				select {
				case at := <-times:
					require.Failf(t, "half a row was given", "%v", at)
				case <-time.After(5 * ms):
				}
				write(row[2:])
				select {
				case at, ok := <-times:
					require.True(t, ok)
					assert.Equal(t, tt.times[i]*time.Second, at)
				case <-time.After(wait):
					require.Failf(t, "row held back", "%q", row)
				}
				if i == len(tt.rows)-1 {
					return
				}
			}
		})
	}
}

// How the bytes come in changes nothing.
func TestPiecesChangeNothing(t *testing.T) {
	text := []byte("a bench\ntime;voltage;current;note\nms;V;mA;\n0;5,1;10;\"two\nlines\"\n1;x;1;\n2;;1;\n1;1;1;\n3;1;1;\"open\n4;1;1;\n")
	whole := read(t, string(text), Options{})
	require.Len(t, whole.samples, 4)
	for _, b := range [][]byte{text, gzipped(t, text), zstded(t, text), utf16Bytes(string(text), true, true), utf16Bytes(string(text), false, false)} {
		in, err := Open("log.csv", slowReader{bytes.NewReader(b)}, Options{})
		require.NoError(t, err)
		slow := readAll(t, in)
		requireSamples(t, whole.samples, slow.samples)
		assert.Equal(t, whole.stats, slow.stats)
	}
}
