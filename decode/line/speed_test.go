package line_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures/line"
	decode "portside/decode/line"
)

// dump is a Value Change Dump of frames on a line, as a recorder of 24 MS/s
// writes it, and how many frames it holds.
func dump(size int) (file []byte, frames int) {
	var b bytes.Buffer
	b.WriteString("$timescale 1 ns $end\n$scope module logic $end\n$var wire 1 ! cc $end\n$upscope $end\n$enddefinitions $end\n#0\n1!\n")
	rng := rand.New(rand.NewPCG(3, 3))
	now := 100.0
	c := conditions{jitterUI: 0.02, rateLow: 295, rateHigh: 305, sampleMS: 24}
	var word []byte
	for b.Len() < size {
		frames++
		var events []line.Event
		events, now = c.send(randomFrame(rng), now, rng)
		for _, e := range events[1:] {
			word = strconv.AppendInt(append(word[:0], '#'), int64(e.At), 10)
			b.Write(append(word, '\n', '0'+byte(e.Level-line.Low), '!', '\n'))
		}
		now += 25 + 500*rng.Float64()
	}
	fmt.Fprintf(&b, "#%d\n", int64(now*1000)+1_000_000)
	return b.Bytes(), frames
}

// readDump reads and decodes all of it.
func readDump(r io.Reader, signal string) (good, broken int, err error) {
	v, err := line.NewVCD(r, line.Options{Signal: signal})
	if err != nil {
		return 0, 0, err
	}
	d := decode.NewDecoder(v.Signals(), func(f *decode.Frame) {
		if f.Good {
			good++
		} else {
			broken++
		}
	})
	events := make([]line.Event, 4096)
	for {
		n, err := v.Read(events)
		d.Add(events[:n])
		if errors.Is(err, io.EOF) {
			d.Finish()
			return good, broken, nil
		}
		if err != nil {
			return good, broken, err
		}
	}
}

// onCPU reports the speed by processor time, which other work on the machine
// does not change.
func onCPU(b *testing.B, size int, run func()) {
	b.SetBytes(int64(size))
	var before, after syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &before))
	for b.Loop() {
		run()
	}
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &after))
	spent := time.Duration(after.Utime.Nano()+after.Stime.Nano()-before.Utime.Nano()-before.Stime.Nano()) * time.Nanosecond
	b.ReportMetric(float64(size)*float64(b.N)/1e6/spent.Seconds(), "MB/cpu-s")
}

// BenchmarkDump reads a dump with all its messages decoded, the reader alone,
// and beside them every byte of it once:
// go test -run '^$' -bench Dump ./decode/line.
func BenchmarkDump(b *testing.B) {
	file, frames := dump(64 << 20)
	b.Run("bytes", func(b *testing.B) {
		lines := 0
		onCPU(b, len(file), func() {
			for _, c := range file {
				if c == '\n' {
					lines++
				}
			}
		})
		require.NotZero(b, lines)
	})
	b.Run("reader", func(b *testing.B) {
		events := make([]line.Event, 4096)
		onCPU(b, len(file), func() {
			v, err := line.NewVCD(bytes.NewReader(file), line.Options{})
			require.NoError(b, err)
			for err == nil {
				_, err = v.Read(events)
			}
		})
	})
	b.Run("messages", func(b *testing.B) {
		b.ReportAllocs()
		onCPU(b, len(file), func() {
			good, broken, err := readDump(bytes.NewReader(file), "")
			require.NoError(b, err)
			require.Equal(b, frames, good)
			require.Zero(b, broken)
		})
	})
}

// TestMemory reads a recording that repeats itself, with its times going on,
// and looks at what is kept.
func TestMemory(t *testing.T) {
	file, frames := dump(1 << 20)
	head, body, _ := bytes.Cut(file, []byte("#0\n"))
	seconds := 0
	times := count(300, 15)
	source := io.MultiReader(bytes.NewReader(head), &repeating{next: func() []byte {
		if seconds == times {
			return nil
		}
		var out []byte
		for _, word := range bytes.SplitAfter(body, []byte("\n")) {
			if len(word) > 1 && word[0] == '#' {
				at, err := strconv.ParseInt(string(word[1:len(word)-1]), 10, 64)
				require.NoError(t, err)
				out = append(strconv.AppendInt(append(out, '#'), at+int64(seconds)*10_000_000_000, 10), '\n')
				continue
			}
			out = append(out, word...)
		}
		seconds++
		return out
	}})
	runtime.GC()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	good, broken, err := readDump(source, "")
	require.NoError(t, err)
	require.Equal(t, frames*times, good)
	require.Zero(t, broken)
	runtime.GC()
	runtime.ReadMemStats(&after)
	require.Less(t, int64(after.HeapAlloc)-int64(before.HeapAlloc), int64(4<<20))
}

// repeating gives piece after piece until there is none.
type repeating struct {
	next func() []byte
	rest []byte
}

func (r *repeating) Read(p []byte) (int, error) {
	if len(r.rest) == 0 {
		if r.rest = r.next(); r.rest == nil {
			return 0, io.EOF
		}
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

// BenchmarkVoltages decodes frames in volts at 10 MS/s, with the noise allowed.
func BenchmarkVoltages(b *testing.B) {
	rng := rand.New(rand.NewPCG(6, 6))
	var events []line.Event
	now, sent := 0.0, 500
	for range sent {
		x, w := insideVolts(10)(rng)
		x.rng = rng
		edges := driven(x, randomFrame(rng), now+150)
		end := edges[len(edges)-1] + 60
		events = w.samples(events, edges, now, end, rng)
		now = float64(int(end*10)+1) / 10
	}
	for b.Loop() {
		read := 0
		d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) {
			if f.Good {
				read++
			}
		})
		for rest := events; len(rest) > 0; rest = rest[min(4096, len(rest)):] {
			d.Add(rest[:min(4096, len(rest))])
		}
		d.Finish()
		require.Equal(b, sent, read)
	}
	b.ReportMetric(float64(len(events))*float64(b.N)/b.Elapsed().Seconds()/1e6, "MS/s")
}
