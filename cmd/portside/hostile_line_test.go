package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mostMiB is what the whole process may take for any recording of the line, however
// it was made: a small machine can spare as much.
const mostMiB = 256

// written gives a text piece by piece, without ever holding all of it.
type written struct {
	pieces []piece
	done   int // of the first piece
	rest   string
}

// piece is a text that is repeated, with %d standing for the number of the time.
type piece struct {
	times int
	text  string
}

func once(text string) piece { return piece{1, text} }

func (w *written) Read(b []byte) (int, error) {
	n := 0
	for n < len(b) {
		for w.rest == "" {
			if len(w.pieces) == 0 {
				if n > 0 {
					return n, nil
				}
				return 0, io.EOF
			}
			p := &w.pieces[0]
			if w.done == p.times {
				w.pieces, w.done = w.pieces[1:], 0
				continue
			}
			w.done++
			w.rest = p.text
			if strings.Contains(w.rest, "%d") {
				w.rest = strings.ReplaceAll(w.rest, "%d", fmt.Sprint(w.done))
			}
		}
		copied := copy(b[n:], w.rest)
		w.rest = w.rest[copied:]
		n += copied
	}
	return n, nil
}

// TestHostileLineRecordings gives the whole program recordings of the line that were
// made to break it. Each ends in a clear error, or in a result that counts what was
// skipped, and the process stays small: go test ./cmd/portside -run HostileLine -long -v.
func TestHostileLineRecordings(t *testing.T) {
	size := func(n int) int {
		if *long {
			return n
		}
		return n / 100
	}
	const (
		head  = "$timescale 1 ns $end\n"
		cc    = "$var wire 1 ! cc $end\n"
		begin = "$enddefinitions $end\n"
		some  = "#1 1!\n#1000 0!\n#2000 1!\n"
		rows  = "0,1\n0.000001,0\n0.000002,1\n"
		mega  = 1 << 20
	)
	million := size(1_000_000)
	tests := []struct {
		name   string
		file   []piece
		status int
		says   string // in the result, or in the error
	}{
		{"VCD: 10 million signals declared", []piece{once(head), {10 * million, "$var wire 1 c%d signal%d $end\n"}, once(cc + begin + some)}, exitOK, `"records":3,"skipped":0`},
		{"VCD: 10 million signals that may be CC", []piece{once(head), {10 * million, "$var wire 1 c%d cc%d $end\n"}, once(begin), {million, "#%d 1c%d\n"}}, exitOK, `"skipped":0`},
		{"VCD: a vector of two thousand million bits", []piece{once(head + "$var wire 2000000000 ! bus $end\n" + begin + "#1 b1 !\n#2 b0 !\n")}, exitOK, `"kind":"line"`},
		{"VCD: an identifier of 10 MB", []piece{once(head + "$var wire 1 "), {size(10 * mega), "!"}, once(" cc $end\n" + cc + begin + some)}, exitOK, `"records":3,"skipped":1`},
		{"VCD: a name of 10 MB", []piece{once(head + "$var wire 1 # "), {size(10 * mega), "c"}, once(" $end\n" + cc + begin + some)}, exitOK, `"records":3,"skipped":1`},
		{"VCD: a change of a 10 MB identifier", []piece{once(head + cc + begin + "#1 1!\n#2 0"), {size(10 * mega), "!"}, once("\n#3 0!\n#4 1!\n")}, exitOK, `"records":3,"skipped":1`},
		{"VCD: time going backwards 10 million times", []piece{once(head + cc + begin + "#5000 1!\n"), {10 * million, "#%d 0!\n#1 1!\n"}, once("#90000000 0!\n#90001000 1!\n")}, exitOK, `"line":6`},
		{"VCD: 10 million changes at one time", []piece{once(head + cc + begin + "#5\n"), {10 * million, "0!\n1!\n"}}, exitOK, fmt.Sprintf(`"records":%d,"skipped":0`, 20*million)},
		{"VCD: 10 million changes as fast as they go", []piece{once(head + cc + begin), {10 * million, "#%d0\n0!\n#%d5\n1!\n"}}, exitOK, fmt.Sprintf(`"records":%d,"skipped":0`, 20*million)},
		{"VCD: a value line of 100 MB", []piece{once(head + cc + begin + "#1 1!\n#2 b"), {size(100 * mega), "0"}, once(" !\n#3 0!\n#4 1!\n")}, exitOK, `"records":3,"skipped":2`},
		{"VCD: 100 MB of values in one line", []piece{once(head + cc + begin), {size(100*mega) / 16, "#%d0 0! #%d5 1! "}}, exitOK, `"skipped":0`},
		{"VCD: no timescale", []piece{once(cc + begin + some)}, exitInput, "expected a $timescale"},
		{"VCD: no end of the definitions", []piece{once(head + cc + some)}, exitOK, "expected $enddefinitions before the first value"},
		{"VCD: no signal", []piece{once(head + begin + some)}, exitInput, "expected a declared signal"},
		{"VCD: no values", []piece{once(head + cc + begin)}, exitInput, "found none that could be used"},
		{"VCD: definitions that never end", []piece{once(head + "$comment "), {10 * million, "word "}}, exitInput, "the end of the file"},
		{"CSV: 10 million rows before their time", []piece{once("time_s,cc\n" + rows), {10 * million, "0.0000001,0\n"}, once("1,1\n")}, exitOK, fmt.Sprintf(`"records":4,"skipped":%d`, 10*million)},
		{"CSV: 10 million damaged rows", []piece{once("time_s,cc\n" + rows), {10 * million, "x,%d\n"}, once("1,1\n")}, exitOK, fmt.Sprintf(`"records":4,"skipped":%d`, 10*million)},
		{"CSV: a cell of 10 MB", []piece{once("time_s,cc\n" + rows + "1,"), {size(10 * mega), "7"}, once("\n1,1\n")}, exitOK, `"records":4,"skipped":1`},
		{"CSV: a heading of 10 MB", []piece{once("time_s,cc,"), {10 * mega, "n"}, once("\n" + rows)}, exitInput, "expected lines of text, found no line end"},
		{"CSV: a value line of 100 MB", []piece{once("time_s,cc\n" + rows), {size(100*mega) / 4, "1,0,"}}, exitOK, `"records":3,"skipped":1`},
		{"CSV: an open quote and 100 MB", []piece{once("time_s,cc\n" + rows + `"`), {size(100 * mega), "q"}}, exitOK, `"records":3,"skipped":1`},
		{"CSV: 100 MB of zero bytes", []piece{once("time_s,cc\n" + rows), {size(100 * mega), "\x00"}}, exitOK, `"records":3,"skipped":1`},
		{"CSV: no header", []piece{{10 * million, "%d,1\n"}}, exitInput, "expected a header row"},
		{"CSV: no time column", []piece{once("cc1,cc2\n"), {10 * million, "1,0\n"}}, exitInput, "expected a header row"},
		{"CSV: a header and nothing else", []piece{once("time_s,cc\n")}, exitInput, "found none that could be used"},
		{"CSV: 100,000 columns", []piece{once("time_s,cc"), {100_000, ",n%d"}, once("\n" + rows), {size(1000), "0,1" + strings.Repeat(",5", 100_000) + "\n"}}, exitInput, "found none that could be used"},
	}
	exe := build(t)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			cmd := exec.Command(exe, "diagnose", "--json", "-")
			var out, errs bytes.Buffer
			cmd.Stdin, cmd.Stdout, cmd.Stderr = &written{pieces: tt.file}, &out, &errs
			err := cmd.Run()
			status := 0
			var exit *exec.ExitError
			if errors.As(err, &exit) {
				status = exit.ExitCode()
			} else {
				require.NoError(t, err)
			}
			assert.Equal(t, tt.status, status, errs.String())
			assert.Contains(t, out.String()+errs.String(), tt.says)
			assert.NotContains(t, errs.String(), "goroutine ")
			usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage)
			require.True(t, ok)
			const kib = 1024 // of Maxrss, on Linux
			took := float64(usage.Maxrss) / kib
			t.Logf("%.0f MiB, %.1f s of processor time", took, (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds())
			assert.Less(t, took, float64(mostMiB), "MiB")
		})
	}
}
