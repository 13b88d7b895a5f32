package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// noisyLog writes a log of so many rows at 1 kHz, with noise and steps as a meter has
// them.
func noisyLog(tb testing.TB, w io.Writer, rows int) {
	tb.Helper()
	r := rand.New(rand.NewPCG(8, 8))
	b := bufio.NewWriterSize(w, 1<<16)
	_, _ = b.WriteString(loadHead) // an error stays with the writer
	v, a := 5.0, 0.02
	var row []byte
	for n := range rows {
		if n%50_000 == 0 {
			v, a = []float64{5.05, 9.02, 15.01, 20.03}[r.IntN(4)], 0.05+3*r.Float64()
		}
		row = strconv.AppendFloat(row[:0], float64(n)/1000, 'f', 3, 64)
		row = strconv.AppendFloat(append(row, ','), v+0.004*r.NormFloat64(), 'f', 4, 64)
		row = strconv.AppendFloat(append(row, ','), a+0.003*r.NormFloat64(), 'f', 4, 64)
		_, _ = b.Write(append(row, '\n'))
	}
	require.NoError(tb, b.Flush())
}

// BenchmarkReport tells what the report of 5 million rows costs beside the diagnosis
// alone: the least processor time of five runs each, in turn.
func BenchmarkReport(b *testing.B) {
	exe, dir := buildFor(b), b.TempDir()
	path, page := filepath.Join(dir, "log.csv"), filepath.Join(dir, "report.html")
	f, err := os.Create(path)
	require.NoError(b, err)
	noisyLog(b, f, 5_000_000)
	require.NoError(b, f.Close())
	cost := func(args ...string) time.Duration {
		cmd := exec.Command(exe, append([]string{"diagnose", "--quiet", path}, args...)...)
		require.NoError(b, cmd.Run())
		return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	}
	for b.Loop() {
		alone, both := time.Hour, time.Hour
		for range 5 {
			alone = min(alone, cost())
			both = min(both, cost("--html", page, "--force"))
		}
		b.ReportMetric(alone.Seconds()*1000, "alone-cpu-ms")
		b.ReportMetric(both.Seconds()*1000, "report-cpu-ms")
		b.ReportMetric(both.Seconds()/alone.Seconds(), "ratio")
		info, err := os.Stat(page)
		require.NoError(b, err)
		b.ReportMetric(float64(info.Size())/1024, "page-KiB")
	}
}

// BenchmarkUpload tells the most memory that the page takes for one upload.
func BenchmarkUpload(b *testing.B) {
	exe := buildFor(b)
	for _, mb := range []int{10, 50, 100, 200} {
		b.Run(fmt.Sprintf("%dMB", mb), func(b *testing.B) {
			for b.Loop() {
				peak, wait := uploaded(b, exe, mb*1_000_000/24) // a row has some 24 bytes
				b.ReportMetric(peak, "peak-MiB")
				b.ReportMetric(wait.Seconds(), "verdict-s")
			}
		})
	}
}

// uploaded sends a log and gives the peak memory of the page's process and how long
// the verdict took.
func uploaded(tb testing.TB, exe string, rows int) (peak float64, wait time.Duration) {
	tb.Helper()
	cmd := exec.Command(exe, "serve")
	out, err := cmd.StderrPipe()
	require.NoError(tb, err)
	require.NoError(tb, cmd.Start())
	defer func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }()
	lines := bufio.NewScanner(out)
	require.True(tb, lines.Scan())
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile("file", "log.csv")
	require.NoError(tb, err)
	noisyLog(tb, part, rows)
	require.NoError(tb, form.Close())
	begun := time.Now()
	r, err := http.Post(lines.Text()+"recordings", form.FormDataContentType(), &body)
	require.NoError(tb, err)
	page, err := io.ReadAll(r.Body)
	require.NoError(tb, err)
	require.NoError(tb, r.Body.Close())
	require.Contains(tb, string(page), `id="bench"`)
	return peakOf(tb, cmd.Process.Pid), time.Since(begun)
}
