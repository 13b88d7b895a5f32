package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/live"
)

// loadRow appends a row of a log whose VBUS goes and comes every so many rows.
func loadRow(b []byte, n int, rate float64, every int) []byte {
	volts, amps := 5+float64(n*7%5)/1000, 0.3+float64(n*3%7)/1000
	if n/every%2 == 0 {
		volts, amps = 0, 0
	}
	b = strconv.AppendFloat(b, float64(n)/rate, 'f', 4, 64)
	b = strconv.AppendFloat(append(b, ','), volts, 'f', 3, 64)
	return append(strconv.AppendFloat(append(b, ','), amps, 'f', 3, 64), '\n')
}

const loadHead = "time_s,voltage_V,current_A\n"

// At 1,000 rows a second an event is told within 0.1 s of its row. The median
// is held, since the machine of a test may be busy; the benchmark tells the worst.
func TestWatchTellsInTime(t *testing.T) {
	late := latencies(t, build(t), 3000)
	require.NotEmpty(t, late)
	assert.Less(t, late[len(late)/2], 100*time.Millisecond, "%v", late)
}

// latencies writes so many rows, one a millisecond, and returns how long after
// its row each plug-in and unplugging was told, in order.
func latencies(tb testing.TB, exe string, rows int) []time.Duration {
	tb.Helper()
	const every = 313 // rows; no multiple of the looks
	cmd := exec.Command(exe, "watch", "--json", "-")
	in, err := cmd.StdinPipe()
	require.NoError(tb, err)
	out, err := cmd.StdoutPipe()
	require.NoError(tb, err)
	require.NoError(tb, cmd.Start())
	written := make([]time.Time, rows)
	told := map[int]time.Time{}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			var e live.Event
			if json.Unmarshal(lines.Bytes(), &e) == nil && (e.Event == live.Attach || e.Event == live.Detach) && e.TimeS != nil {
				told[int(*e.TimeS*1000+0.5)] = time.Now()
			}
		}
	}()
	_, err = io.WriteString(in, loadHead)
	require.NoError(tb, err)
	for n, began := 0, time.Now(); n < rows; n++ {
		time.Sleep(time.Until(began.Add(time.Duration(n) * time.Millisecond)))
		written[n] = time.Now()
		_, err = in.Write(loadRow(nil, n, 1000, every))
		require.NoError(tb, err)
	}
	require.NoError(tb, in.Close())
	<-done
	require.NoError(tb, cmd.Wait())
	var late []time.Duration
	for n, at := range told {
		if n > 0 && n < rows-every { // the end of the input is a look of its own
			late = append(late, at.Sub(written[n]))
		}
	}
	slices.Sort(late)
	return late
}

// A long log takes no more memory than a short one: below 64 MiB, the bound of
// a week of 10 rows a second (BenchmarkWatchAWeek).
func TestWatchKeepsItsMemory(t *testing.T) {
	assert.Less(t, peakMiB(t, build(t), 1_000_000), 64.0)
}

// peakMiB is the most memory that a watch of so many rows takes.
func peakMiB(tb testing.TB, exe string, rows int) float64 {
	tb.Helper()
	cmd := exec.Command(exe, "watch", "--json", "-")
	in, err := cmd.StdinPipe()
	require.NoError(tb, err)
	require.NoError(tb, cmd.Start())
	w := bufio.NewWriterSize(in, 1<<16)
	_, _ = w.WriteString(loadHead) // an error stays with the writer
	var row []byte
	for n := range rows {
		row = loadRow(row[:0], n, 10, 600)
		_, _ = w.Write(row)
	}
	require.NoError(tb, w.Flush())
	peak := peakOf(tb, cmd.Process.Pid)
	require.NoError(tb, in.Close())
	require.NoError(tb, cmd.Wait())
	return peak
}

// peakOf is the most memory that a running process has taken so far. Its resource
// usage would count the test's own up to the start of the program.
func peakOf(tb testing.TB, pid int) float64 {
	tb.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	m := regexp.MustCompile(`VmHWM:\s+([0-9]+) kB`).FindSubmatch(status)
	if err != nil || m == nil {
		tb.Skip("the most memory of a process is told by Linux only")
	}
	kib, err := strconv.ParseFloat(string(m[1]), 64)
	require.NoError(tb, err)
	return kib / 1024
}

// BenchmarkWatch follows a log as fast as it comes; 100,000 rows a second must
// be sustained.
func BenchmarkWatch(b *testing.B) {
	const rows = 1_000_000
	log := []byte(loadHead)
	for n := range rows {
		log = loadRow(log, n, 1000, 5000)
	}
	begun, clock := processorTime(), time.Now()
	for b.Loop() {
		s := &streams{in: bytes.NewReader(log), out: io.Discard, err: io.Discard, getenv: func(string) string { return "" }}
		if status := run([]string{"watch", "--json", "-"}, s); status != 0 {
			b.Fatal(status)
		}
	}
	b.ReportMetric(float64(processorTime()-begun)/float64(rows*b.N), "cpu-ns/row")
	b.ReportMetric(float64(rows*b.N)/time.Since(clock).Seconds(), "rows/s")
}

// BenchmarkWatchInTime tells the worst of the delays from row to event.
func BenchmarkWatchInTime(b *testing.B) {
	exe := buildFor(b)
	for b.Loop() {
		late := latencies(b, exe, 20_000)
		b.ReportMetric(float64(late[len(late)/2].Microseconds())/1000, "median-ms")
		b.ReportMetric(float64(late[len(late)-1].Microseconds())/1000, "worst-ms")
	}
}

// BenchmarkWatchAWeek tells the most memory that a week of 10 rows a second
// takes.
func BenchmarkWatchAWeek(b *testing.B) {
	exe := buildFor(b)
	for b.Loop() {
		b.ReportMetric(peakMiB(b, exe, 7*24*3600*10), "peak-MiB")
	}
}

func buildFor(b *testing.B) string {
	b.Helper()
	exe := b.TempDir() + "/portside"
	if out, err := exec.Command("go", "build", "-o", exe, ".").CombinedOutput(); err != nil {
		b.Fatal(fmt.Errorf("%w: %s", err, out))
	}
	return exe
}
