package captures

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

type row struct{ s, v, a float64 }

// readMeter reads a whole log as plain figures.
func readMeter(t *testing.T, text string, o Options) ([]row, Stats) {
	t.Helper()
	in, err := Open("log", strings.NewReader(text), o)
	require.NoError(t, err)
	require.Equal(t, KindMeter, in.Kind())
	var out []row
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			return out, in.Stats()
		}
		require.NoError(t, err)
		out = append(out, row{r.Sample.At.Seconds(), r.Sample.Volts, r.Sample.Amps})
	}
}

// The same capture in every dialect gives the same timeline.
func TestDialects(t *testing.T) {
	want := []row{{0, 5.1, 0.01}, {0.5, 20.012, 1.25}, {1, 20, -0.5}}
	tests := []struct{ name, text string }{
		{"comma", "time,voltage,current\n0,5.1,0.01\n0.5,20.012,1.25\n1,20,-0.5\n"},
		{"semicolon and decimal comma", "time;voltage;current\n0;5,1;0,01\n0,5;20,012;1,25\n1;20;-0,5\n"},
		{"tab and CRLF", "Time\tVBUS\tIBUS\r\n0\t5.1\t0.01\r\n0.5\t20.012\t1.25\r\n1\t20\t-0.5\r\n"},
		{"pipe and blanks", "elapsed | volt | amp\n 0 | 5.1 | 0.01\n 0.5 | 20.012 | 1.25\n 1 | 20 | -0.5\n"},
		{"units in brackets", "Time (ms),Voltage [mV],Current(mA)\n0,5100,10\n500,20012,1250\n1000,20000,-500\n"},
		{"units after a mark", "time_us,vbus_mV,ibus/uA\n0,5100,10000\n500000,20012,1250000\n1000000,20000,-500000\n"},
		{"units row", "time,voltage,current\nms,mV,mA\n0,5100,10\n500,20012,1250\n1000,20000,-500\n"},
		{"preamble, comments, further columns", "bench meter log\nrange: 20 V\n# a note\ntime,power,voltage,current,dp\n0,0.05,5.1,0.01,0.6\n# another\n0.5,25,20.012,1.25,0.6\n1,10,20,-0.5,0.6\n"},
		{"quotes", "\"time\",\"voltage\",\"current\"\n\"0\",\"5.1\",\"0.01\"\n\"0.5\",\"20.012\",\"1.25\"\n1,20,-0.5\n"},
		{"byte order mark", "\ufefftime,voltage,current\n0,5.1,0.01\n0.5,20.012,1.25\n1,20,-0.5\n"},
		{"delimiter at the end", "time,voltage,current,\n0,5.1,0.01,\n0.5,20.012,1.25,\n1,20,-0.5,\n"},
		{"exponents", "time,voltage,current\n0,5.1e0,1e-2\n5e-1,2.0012E+1,1.25\n1,20,-0.5\n"},
		{"only unit headings", "time,V,A\n0,5.1,0.01\n0.5,20.012,1.25\n1,20,-0.5\n"},
		{"minutes", "time (min),voltage,current\n0,5.1,0.01\n0.00833333333333,20.012,1.25\n0.01666666666667,20,-0.5\n"},
		{"stamps", "timestamp,voltage,current\n2026-01-01T10:00:00Z,5.1,0.01\n2026-01-01T10:00:00.5Z,20.012,1.25\n2026-01-01T10:00:01Z,20,-0.5\n"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, stats := readMeter(t, tt.text, Options{})
			require.Len(t, got, len(want))
			for i := range want {
				assert.InDelta(t, want[i].s, got[i].s, 1e-8)
				assert.Equal(t, want[i].v, got[i].v)
				assert.Equal(t, want[i].a, got[i].a)
			}
			assert.Zero(t, stats.Skipped)
		})
	}
}

func TestPackedAndWide(t *testing.T) {
	text := "time,voltage,current\n0,5.1,0.01\n1,5.1,0.01\n"
	var gz, zs bytes.Buffer
	w := gzip.NewWriter(&gz)
	_, _ = io.WriteString(w, text)
	require.NoError(t, w.Close())
	z, err := zstd.NewWriter(&zs)
	require.NoError(t, err)
	_, _ = io.WriteString(z, text)
	require.NoError(t, z.Close())
	wide := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		wide = append(wide, byte(u), byte(u>>8))
	}
	for name, data := range map[string][]byte{"gzip": gz.Bytes(), "zstd": zs.Bytes(), "utf-16": wide} {
		got, _ := readMeter(t, string(data), Options{})
		assert.Len(t, got, 2, name)
	}
	cut, err := Open("log", bytes.NewReader(gz.Bytes()[:len(gz.Bytes())-6]), Options{})
	require.NoError(t, err)
	for err == nil {
		_, err = cut.Next()
	}
	assert.True(t, cut.Stats().Broken, "a cut archive is told")
	_, err = Open("log", bytes.NewReader(gz.Bytes()), Options{MaxUnpacked: 4})
	assert.Error(t, err, "nothing is readable under a limit of four bytes")
}

func TestDamagedRowsAreCountedAndGapsAreNoZeros(t *testing.T) {
	got, stats := readMeter(t, "time,voltage,current\n0,5.1,0.01\n1,,0.01\n2,NaN,0.01\n3,0x5,1\n4,5.1\n5,5.1,1e9\n0.5,5.1,0.01\n6,5.1,inf\n7,5.1,0.02\n", Options{})
	require.Len(t, got, 3)
	assert.True(t, math.IsNaN(got[1].v))
	assert.Equal(t, 6, stats.Skipped)
	var lines []int
	for _, p := range stats.Problems {
		lines = append(lines, p.Line)
	}
	assert.Equal(t, []int{4, 5, 6, 7, 8, 9}, lines)
}

func TestClockTimesPassMidnight(t *testing.T) {
	got, _ := readMeter(t, "time,voltage,current\n23:59:59.5,5,0\n00:00:00.5,5,0\n", Options{})
	assert.Equal(t, 86399.5, got[0].s)
	assert.Equal(t, 86400.5, got[1].s)
}

// A stray quote costs its own row and no other (RFC 4180 lets a quoted cell
// run over lines, so the lines behind it are tried and given back).
func TestStrayQuoteCostsOneRow(t *testing.T) {
	text := "time,voltage,current\n0,5,0\n1,\"5,0\n" + strings.Repeat("2,5,0\n", 1000) + "x,5,0\n"
	got, stats := readMeter(t, text, Options{})
	assert.Len(t, got, 1001)
	assert.Equal(t, 2, stats.Skipped)
	require.Len(t, stats.Problems, 2)
	assert.Equal(t, 3, stats.Problems[0].Line)
	assert.Equal(t, 1004, stats.Problems[1].Line)
	many, stats := readMeter(t, "time,voltage,current\n"+strings.Repeat("1,\"5,0\n1,5,0\n1,5,0\n", 500), Options{})
	assert.Len(t, many, 1000)
	assert.Equal(t, 500, stats.Skipped)
	over, _ := readMeter(t, "time,voltage,current,note\n0,5,0,\"two\nlines\"\n1,5,0,\n", Options{})
	assert.Len(t, over, 2)
}

func TestADamagedRowPassesNoMidnight(t *testing.T) {
	got, stats := readMeter(t, "time,voltage,current\n23:59:59,5,0\n00:00:01,x,0\n23:59:59.5,5,0\n", Options{})
	require.Len(t, got, 2)
	assert.Equal(t, 86399.5, got[1].s)
	assert.Equal(t, 1, stats.Skipped)
}

func TestUnreadableLevelIsTold(t *testing.T) {
	got, stats := readMeter(t, "time,voltage,current,cc1\n0,5,0,0.4\n1,5,0,?\n2,5,0,\n", Options{})
	assert.Len(t, got, 3)
	assert.Zero(t, stats.Skipped)
	require.Len(t, stats.Problems, 1)
	assert.Equal(t, 3, stats.Problems[0].Line)
}

func TestRateStandsInForTimes(t *testing.T) {
	got, _ := readMeter(t, "voltage,current\n5,0\n5,1\n", Options{RateHz: 10})
	assert.Equal(t, []row{{0, 5, 0}, {0.1, 5, 1}}, got)
}

func TestUnusable(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"empty", "", "an empty file"},
		{"binary", "\x7fELF\x00\x01\x02", "binary data"},
		{"no current", "time,voltage\n0,5\n", "a current column"},
		{"no line end", strings.Repeat("x", 10<<20), "no line end"},
		{"prose", "hello\nworld\n", "a header row"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Open("log", strings.NewReader(tt.text), Options{})
			var bad *UnusableError
			require.ErrorAs(t, err, &bad)
			assert.Contains(t, err.Error(), tt.want)
		})
	}
}

func TestManyDamagedRowsKeepAHundredProblems(t *testing.T) {
	got, stats := readMeter(t, "time,voltage,current\n0,5,0\n"+strings.Repeat("x,y,z\n", 100_000), Options{})
	assert.Len(t, got, 1)
	assert.Equal(t, 100_000, stats.Skipped)
	assert.Len(t, stats.Problems, MaxProblems)
}

func TestMessages(t *testing.T) {
	text := "time_s,end_s,sop,bytes,crc,status,by\n0.1,,Attach,,,,\n0.5,0.5005,SOP,41 00,BB6CBBA8,,observer\n0.6,,Hard_Reset,,,,sink\n0.7,,SOP,A1,,,\n0.8,,SOP,A111,,unacknowledged,source\n0.4,,SOP,4100,,,\n"
	in, err := Open("list", strings.NewReader(text), Options{})
	require.NoError(t, err)
	require.Equal(t, KindMessages, in.Kind())
	var got []string
	for {
		r, err := in.Next()
		if err != nil {
			break
		}
		m := r.Message
		got = append(got, fmt.Sprintf("%v %v%v %x %v %v %v", m.At, m.Marker, m.Set, m.Bytes, m.HasCRC, m.Status, m.By))
	}
	assert.Equal(t, []string{
		"100ms Attachunknown  false 0 0",
		"500ms SOP 4100 true 0 1",
		"600ms Hard_Reset  false 0 3",
		"800ms SOP a111 false 1 2",
	}, got)
	stats := in.Stats()
	assert.Equal(t, 2, stats.Skipped, "a single byte, and a time that goes backwards")
	assert.Len(t, stats.Problems, 3, "and one object that the header announces and nobody sent")
	assert.Equal(t, pd.SOP.String(), "SOP")
}

// FuzzOpen: no input may crash a reader, lose count, or go back in time.
func FuzzOpen(f *testing.F) {
	f.Add([]byte("time,voltage,current\n0,5.1,0.01\n0.5,,1\n"))
	f.Add([]byte("time;voltage;current\nms;mV;mA\n0;5,1;\"0\"\n"))
	f.Add([]byte("time_s,sop,bytes,end_s,crc\n0.5,SOP,4100,0.6,BB6CBBA8\n1,Hard_Reset,,,\n"))
	f.Add([]byte{0x1f, 0x8b, 8, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		in, err := Open("fuzz", bytes.NewReader(data), Options{MaxUnpacked: 1 << 20})
		if err != nil {
			return
		}
		last, n := time.Duration(math.MinInt64), 0
		for {
			r, err := in.Next()
			if err != nil {
				break
			}
			if r.At() < last {
				t.Fatalf("time went from %v to %v", last, r.At())
			}
			last = r.At()
			n++
		}
		if n != in.Stats().Records {
			t.Fatalf("%d records, %d counted", n, in.Stats().Records)
		}
	})
}
