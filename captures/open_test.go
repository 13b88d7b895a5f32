package captures

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The same capture in every encoding and packing gives the same timeline,
// however the bytes come in.
func TestEncodingsAndPackings(t *testing.T) {
	const meter = "Bench µ-log Ω\n# all rows\ntime [µs];voltage [mV];current [mA];cc1\n0;5012;;0,41\n1500;bad;1;0\n2500;5010;-250;0,4\n2400;1;1;1\n"
	const messages = "time_s,sop,bytes,by\n1,SOP,4100,sink\n2,SOP*,4100,\n3,Hard_Reset,,source\n3,Attach,,\n"
	for kind, text := range map[Kind]string{KindMeter: meter, KindMessages: messages} {
		want := read(t, text, Options{})
		require.NotZero(t, want.stats.Records)
		whole := []byte(text)
		for name, b := range map[string][]byte{
			"CRLF": []byte(strings.ReplaceAll(text, "\n", "\r\n")), "mark": append([]byte("\xEF\xBB\xBF"), whole...),
			"UTF-16LE with mark": utf16Bytes(text, true, true), "UTF-16BE with mark": utf16Bytes(text, false, true),
			"UTF-16LE": utf16Bytes(text, true, false), "UTF-16BE": utf16Bytes(text, false, false),
			"UTF-16 behind a short line": utf16Bytes("#\n"+text, true, false)[4:],
			"gzip":                       gzipped(t, whole), "zstd": zstded(t, whole), "gzip of UTF-16": gzipped(t, utf16Bytes(text, true, true)),
			"gzip in two members": append(gzipped(t, whole[:40]), gzipped(t, whole[40:])...),
			"zstd in two frames":  append(zstded(t, whole[:40]), zstded(t, whole[40:])...),
		} {
			t.Run(kind.String()+" "+name, func(t *testing.T) {
				for _, r := range []io.Reader{bytes.NewReader(b), slowReader{bytes.NewReader(b)}, iotest.DataErrReader(bytes.NewReader(b))} {
					in, err := Open("log.csv", r, Options{})
					require.NoError(t, err)
					got := readAll(t, in)
					assert.Equal(t, want.stats, got.stats)
					assert.Equal(t, want.messages, got.messages)
					requireSamples(t, want.samples, got.samples)
				}
			})
		}
	}
	short := utf16Bytes("#\ntime,voltage,current\n1,5,0\n", true, false)
	in, err := Open("log.csv", bytes.NewReader(short), Options{})
	require.NoError(t, err)
	assert.Len(t, readAll(t, in).samples, 1)
}

func TestUnusable(t *testing.T) {
	random := make([]byte, 1<<16)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range random {
		random[i] = byte(rng.Uint32())
	}
	const header = "time_s,voltage_V,current_A\n"
	archive := gzipped(t, []byte(header+"0,5,1\n"))
	for _, tt := range []struct {
		name string
		in   []byte
		want string
	}{
		{"empty file", nil, "log.csv: expected a recording, found an empty file"},
		{"one byte", []byte("x"), `log.csv:1: expected a header row that names time, voltage and current, or time_s, sop and bytes, found "x"`},
		{"only a byte order mark", []byte("\xEF\xBB\xBF"), "found nothing in it"},
		{"an empty archive", gzipped(t, nil), "found nothing in it"},
		{"comments", []byte("# one\n\n# two\n"), `expected a header row`},
		{"binary garbage", random, "found binary data (byte 0x"},
		{"a program", []byte("\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00"), "found binary data (byte 0x00 at offset 7)"},
		{"zeros", make([]byte, 5000), "found binary data"},
		{"truncated gzip", archive[:12], "log.csv: expected a recording, found the compressed data is cut off"},
		{"gzip header only", archive[:4], "found a damaged archive"},
		{"truncated zstd", zstded(t, []byte(header))[:7], "found the compressed data is cut off"},
		{"no current column", []byte("time_s,voltage_V,power_W\n0,5,1\n"), `log.csv:1: expected a current column, found the columns "time_s", "voltage_V", "power_W"; name them with --columns`},
		{"no time column", []byte("voltage,current\n5,1\n"), "expected a time column (or --rate HZ)"},
		{"another text", []byte("Dear reader,\nnothing here\n"), `log.csv:1: expected a header row that names time, voltage and current, or time_s, sop and bytes, found "Dear reader,"`},
		{"10 MB without a line feed", bytes.Repeat([]byte("0123456789"), 1_000_000), "found no line end in the first 1024 KiB"},
		{"a preamble without end", bytes.Repeat([]byte("words\n"), 1_000_000), "expected a header row"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Open("log.csv", bytes.NewReader(tt.in), Options{})
			var unusable *UnusableError
			require.ErrorAs(t, err, &unusable)
			assert.Contains(t, err.Error(), tt.want)
			assert.NotContains(t, err.Error(), "\n", "one sentence")
		})
	}
}

func TestDirectory(t *testing.T) {
	f, err := os.Open(t.TempDir())
	require.NoError(t, err)
	defer f.Close()
	_, err = Open("logs", f, Options{})
	var unusable *UnusableError
	require.ErrorAs(t, err, &unusable)
	assert.Contains(t, err.Error(), "is a directory")
}

// What stands before the break is kept; a row that was cut is no record, since
// its last number may have lost digits.
func TestBrokenOff(t *testing.T) {
	log := rowsOf(50_000)
	archive := gzipped(t, log)
	failing := errors.New("the disk is gone")
	whole := read(t, string(log), Options{})
	at := bytes.LastIndexByte(log[:100_000], '\n') + 5
	for _, tt := range []struct {
		name string
		in   io.Reader
		o    Options
		want string
		cut  int // rows
	}{
		{"truncated gzip", bytes.NewReader(archive[:len(archive)/2]), Options{}, "the compressed data is cut off", -1},
		{"truncated zstd", bytes.NewReader(zstded(t, log)[:50_000]), Options{}, "", -1},
		{"unpacks to too much", bytes.NewReader(archive), Options{MaxUnpacked: int64(at)}, "unpacks to more than the limit of", 1},
		{"read error within a row", io.MultiReader(bytes.NewReader(log[:at]), iotest.ErrReader(failing)), Options{}, failing.Error(), 1},
		{"read error between rows", io.MultiReader(bytes.NewReader(log[:at-4]), iotest.ErrReader(failing)), Options{}, failing.Error(), 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			in, err := Open("log.csv", tt.in, tt.o)
			require.NoError(t, err)
			got := readAll(t, in)
			require.NotEmpty(t, got.samples)
			requireSamples(t, whole.samples[:len(got.samples)], got.samples)
			assert.True(t, got.stats.Broken)
			require.Len(t, got.stats.Problems, 1)
			assert.Contains(t, got.stats.Problems[0].Text, "the file ends early: "+tt.want)
			assert.Equal(t, len(got.samples)+2, got.stats.Problems[0].Line)
			if tt.cut >= 0 {
				assert.Equal(t, tt.cut, got.stats.Skipped)
			}
		})
	}
	exact, err := Open("log.csv", bytes.NewReader(archive), Options{MaxUnpacked: int64(len(log))})
	require.NoError(t, err)
	assert.False(t, readAll(t, exact).stats.Broken, "up to the limit is within it")
	got := read(t, string(log), Options{MaxUnpacked: 10})
	assert.False(t, got.stats.Broken, "the limit is about what unpacks, not about plain files")
}

func TestLongLineInTheMiddle(t *testing.T) {
	text := "time,voltage,current\n0,5,1\n" + strings.Repeat("9", 3*maxLine) + "\n1,5,1\n" + strings.Repeat("9", 2*maxLine)
	got := read(t, text, Options{})
	assert.Len(t, got.samples, 2)
	assert.Equal(t, 2, got.stats.Skipped)
	assert.Equal(t, []int{3, 5}, got.lines())
	assert.Equal(t, 4, got.samples[1].Line)
}

// endless repeats a row; a log of any length without its memory.
type endless struct {
	head, row []byte
	at, left  int
}

func (e *endless) Read(p []byte) (int, error) {
	n := copy(p, e.head)
	e.head = e.head[n:]
	for n < len(p) {
		if e.left == 0 {
			return n, io.EOF
		}
		k := copy(p[n:], e.row[e.at:])
		n += k
		if e.at += k; e.at == len(e.row) {
			e.at = 0
			e.left--
		}
	}
	return n, nil
}

func TestMemoryIsFlat(t *testing.T) {
	for name, row := range map[string]string{"plain": "1,5,1\n", "general": "\"1\",5,1\n", "damaged": "1,x,1\n", "stray quotes": "1,\"x,1\n", "open notes": "1,5,1,\"x\n"} {
		t.Run(name, func(t *testing.T) {
			allocated := func(rows int) uint64 {
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				in, err := Open("log", &endless{head: []byte("time,voltage,current,note\n"), row: []byte(row), left: rows}, Options{})
				require.NoError(t, err)
				for err == nil {
					_, err = in.Next()
				}
				runtime.ReadMemStats(&after)
				return after.TotalAlloc - before.TotalAlloc
			}
			small, large := allocated(20_000), allocated(200_000)
			perRow := float64(large-min(small, large)) / 180_000
			if name == "damaged" || name == "stray quotes" {
				assert.Less(t, perRow, 2000.0, "bytes of garbage a damaged row")
				return
			}
			assert.Less(t, perRow, 1.0, "bytes a row")
		})
	}
}

func TestNextDoesNotAllocate(t *testing.T) {
	const meter, list = "time,voltage,current\n", "time_s,sop,bytes,end_s,crc,status,by\n"
	for row, head := range map[string]string{
		"1,19.9999,1\n":              meter,
		"1,19.99999999999999,1e0\n":  meter,
		"12:00:00,5,1\n":             meter,
		"2024-01-01T00:00:00Z,5,1\n": meter,
		"1,SOP,0101,1.0005,28 13 c5 2f,unacknowledged,sink\n":        list,
		"1,SOP',a1212c9101082cd10200,,2813c52f,discarded,observer\n": list,
		"1,Hard_Reset,,,,,\n": list,
		"1,Attach,,,,,\n":     list,
	} {
		in, err := Open("log", &endless{head: []byte(head), row: []byte(row), left: 1 << 30}, Options{})
		require.NoError(t, err)
		_, _ = in.Next()
		assert.Zero(t, testing.AllocsPerRun(10_000, func() { _, _ = in.Next() }), row)
	}
}
