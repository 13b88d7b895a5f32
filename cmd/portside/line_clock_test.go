package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A line and a meter log that one clock stamped lie at their stamps, whatever
// form these have: in clock times the offset between them is none, and in
// stamps, which count from each file's first row, what lies between the rows.
func TestLineAndMeterStampedByOneClock(t *testing.T) {
	t.Chdir(t.TempDir())
	s, _, errs := screen(nil)
	require.Zero(t, run([]string{
		"simulate", "sound-charging", "--out", "case", "--seed", "3",
		"--set", "meter-start-s=0", "--set", "messages-start-s=0", "--set", "meter-clock-ppm=0", "--set", "meter-hz=50",
	}, s), errs)
	vcd, err := os.ReadFile("case/line.vcd")
	require.NoError(t, err)
	meter, err := os.ReadFile("case/meter.csv")
	require.NoError(t, err)

	// The day ends in the recording, which clock times have to live with.
	begin := time.Date(2024, 2, 29, 23, 59, 55, 0, time.UTC)
	forms := map[string]struct {
		layout string
		begun  bool // times count from the first row
	}{
		"seconds":                  {},
		"clock times":              {layout: "15:04:05.000000000"},
		"stamps":                   {layout: "2006-01-02T15:04:05.000000000Z07:00", begun: true},
		"stamps without an offset": {layout: "2006-01-02 15:04:05.000000000", begun: true},
	}
	for name, form := range forms {
		t.Run(name, func(t *testing.T) {
			stamp := func(seconds float64) string {
				if form.layout == "" {
					return strconv.FormatFloat(seconds, 'f', 9, 64)
				}
				return begin.Add(time.Duration(seconds * 1e9)).Format(form.layout)
			}
			line, lineFrom := rowsOfDump(t, vcd, stamp)
			rows, meterFrom := restamped(t, meter, stamp)
			require.NoError(t, os.WriteFile("line.csv", line, 0o600))
			require.NoError(t, os.WriteFile("meter.csv", rows, 0o600))

			s, out, errs := screen(nil)
			require.Zero(t, run([]string{"diagnose", "--json", "line.csv", "meter.csv"}, s), errs)
			var d struct {
				Location string
				Inputs   []struct {
					Kind    string
					Skipped int
				}
				Clock struct {
					OffsetS      *float64 `json:"offset_s"`
					UncertaintyS *float64 `json:"uncertainty_s"`
				}
			}
			require.NoError(t, json.Unmarshal(out.Bytes(), &d))
			require.Len(t, d.Inputs, 2)
			assert.Equal(t, "line", d.Inputs[0].Kind)
			for _, in := range d.Inputs {
				assert.Zero(t, in.Skipped)
			}
			require.NotNil(t, d.Clock.OffsetS, "the steps that both saw give the offset")
			want := 0.0
			if form.begun {
				want = meterFrom - lineFrom
			}
			assert.InDelta(t, want, *d.Clock.OffsetS, *d.Clock.UncertaintyS)
			assert.Less(t, *d.Clock.UncertaintyS, 0.1)
		})
	}
}

// rowsOfDump is a dump of one signal as a CSV, and the time of its first row.
func rowsOfDump(t *testing.T, vcd []byte, stamp func(float64) string) (rows []byte, from float64) {
	t.Helper()
	var out bytes.Buffer
	out.WriteString("time,cc\n")
	at := 0.0
	for text := range strings.Lines(string(vcd)) {
		switch text = strings.TrimSpace(text); {
		case strings.HasPrefix(text, "#"):
			ns, err := strconv.ParseInt(text[1:], 10, 64)
			require.NoError(t, err)
			at = float64(ns) / 1e9
		case strings.HasSuffix(text, "!"):
			if out.Len() == len("time,cc\n") {
				from = at
			}
			fmt.Fprintf(&out, "%s,%c\n", stamp(at), text[0])
		}
	}
	fmt.Fprintf(&out, "%s,1\n", stamp(at)) // the line's end, at rest
	return out.Bytes(), from
}

// restamped is a meter log with its times written anew, and the first of them.
func restamped(t *testing.T, log []byte, stamp func(float64) string) (rows []byte, from float64) {
	t.Helper()
	var out bytes.Buffer
	out.WriteString("time,voltage (V),current (A)\n")
	for i, row := range strings.Split(strings.TrimSpace(string(log)), "\n")[1:] {
		cell, rest, _ := strings.Cut(row, ",")
		at, err := strconv.ParseFloat(cell, 64)
		require.NoError(t, err)
		if i == 0 {
			from = at
		}
		fmt.Fprintf(&out, "%s,%s\n", stamp(at), rest)
	}
	return out.Bytes(), from
}
