package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// contractRows are the rows of one contract as a recorder of the whole line
// writes them; the time goes in front.
var contractRows = []string{
	",SOP,a1612c9101082cd102002cc103002cb104002c4106003c21dcc8",
	",SOP,4100",
	",SOP,42102cb10420",
	",SOP,6101",
	",SOP,6303",
	",SOP,4102",
	",SOP,6605",
	",SOP,4104",
}

// millisecondList is a CSV of n messages, one each millisecond.
func millisecondList(n int) []byte {
	var b bytes.Buffer
	b.WriteString("time_s,sop,bytes\n")
	for i := range n {
		fmt.Fprintf(&b, "%d.%03d%s\n", i/1000, i%1000, contractRows[i%len(contractRows)])
	}
	return b.Bytes()
}

// Lines of the same shape, as a program would hand them to encoding/json.
type shapeLine struct {
	TimeS    float64      `json:"time_s"`
	SOP      string       `json:"sop"`
	CRCOK    *bool        `json:"crc_ok"`
	Repeat   bool         `json:"repeat"`
	Header   *shapeHeader `json:"header"`
	Objects  []any        `json:"objects"`
	Text     string       `json:"text"`
	Problems []string     `json:"problems"`
}

type shapeHeader struct {
	Raw            string  `json:"raw"`
	Type           string  `json:"type"`
	Class          string  `json:"class"`
	MessageID      int     `json:"message_id"`
	Objects        int     `json:"objects"`
	Revision       string  `json:"revision"`
	PowerRole      *string `json:"power_role"`
	DataRole       *string `json:"data_role"`
	CablePlug      *bool   `json:"cable_plug"`
	Extended       bool    `json:"extended"`
	ExtendedHeader *int    `json:"extended_header"`
}

type shapeFixed struct {
	Raw         string `json:"raw"`
	Kind        string `json:"kind"`
	VoltageMV   int    `json:"voltage_mv"`
	CurrentMA   int    `json:"current_ma"`
	PeakCurrent int    `json:"peak_current"`
}

type shapeFirst struct {
	shapeFixed
	DualRolePower      bool `json:"dual_role_power"`
	USBSuspend         bool `json:"usb_suspend"`
	UnconstrainedPower bool `json:"unconstrained_power"`
	USBCommunications  bool `json:"usb_communications"`
	DualRoleData       bool `json:"dual_role_data"`
	Unchunked          bool `json:"unchunked"`
	EPRCapable         bool `json:"epr_capable"`
}

type shapePPS struct {
	Raw          string `json:"raw"`
	Kind         string `json:"kind"`
	MinVoltageMV int    `json:"min_voltage_mv"`
	MaxVoltageMV int    `json:"max_voltage_mv"`
	CurrentMA    int    `json:"current_ma"`
	PowerLimited bool   `json:"power_limited"`
}

type shapeRequest struct {
	Raw                string `json:"raw"`
	Kind               string `json:"kind"`
	Position           int    `json:"position"`
	OperatingMA        int    `json:"operating_ma"`
	MaximumMA          int    `json:"maximum_ma"`
	CapabilityMismatch bool   `json:"capability_mismatch"`
	GiveBack           bool   `json:"give_back"`
	USBCommunications  bool   `json:"usb_communications"`
	NoUSBSuspend       bool   `json:"no_usb_suspend"`
	Unchunked          bool   `json:"unchunked"`
	EPRCapable         bool   `json:"epr_capable"`
}

// shapes reads the program's own lines of one contract into the structs above.
func shapes(tb testing.TB) []shapeLine {
	tb.Helper()
	var out []shapeLine
	for _, raw := range strings.SplitAfter(strings.TrimSpace(decoded(tb, millisecondList(len(contractRows)))), "\n") {
		var line struct {
			shapeLine
			Objects []json.RawMessage `json:"objects"`
		}
		require.NoError(tb, json.Unmarshal([]byte(raw), &line))
		line.shapeLine.Objects = []any{}
		for i, o := range line.Objects {
			var kind struct{ Kind string }
			require.NoError(tb, json.Unmarshal(o, &kind))
			var v any
			switch {
			case kind.Kind == "fixed" && i == 0:
				v = &shapeFirst{}
			case kind.Kind == "fixed":
				v = &shapeFixed{}
			case kind.Kind == "pps":
				v = &shapePPS{}
			case kind.Kind == "rdo-fixed":
				v = &shapeRequest{}
			}
			require.NoError(tb, json.Unmarshal(o, v))
			line.shapeLine.Objects = append(line.shapeLine.Objects, v)
		}
		again, err := json.Marshal(line.shapeLine)
		require.NoError(tb, err)
		require.Equal(tb, strings.TrimSpace(raw), string(again), "the shape is not the program's")
		out = append(out, line.shapeLine)
	}
	return out
}

// decoded is what decode --json prints.
func decoded(tb testing.TB, list []byte) string {
	tb.Helper()
	var out, errs bytes.Buffer
	s := &streams{in: bytes.NewReader(list), out: &out, err: &errs, getenv: func(string) string { return "" }}
	require.Zero(tb, run([]string{"decode", "--json", "-"}, s), errs.String())
	return out.String()
}

func TestShapesAreTheProgramsOwn(t *testing.T) {
	require.Len(t, shapes(t), len(contractRows))
}

// BenchmarkDecodeJSON reads, decodes and prints a million messages beside
// encoding/json, which only prints as many lines of the same shape. Compare the
// processor times: the machine may be shared.
func BenchmarkDecodeJSON(b *testing.B) {
	const n = 1_000_000
	list := millisecondList(n)
	b.Run("decode", func(b *testing.B) {
		begun := processorTime()
		for b.Loop() {
			s := &streams{in: bytes.NewReader(list), out: io.Discard, err: io.Discard, getenv: func(string) string { return "" }}
			if status := run([]string{"decode", "--json", "-"}, s); status != 0 {
				b.Fatal(status)
			}
		}
		reportEach(b, n, begun)
	})
	b.Run("encoding-json", func(b *testing.B) {
		lines := shapes(b)
		begun := processorTime()
		for b.Loop() {
			e := json.NewEncoder(io.Discard)
			e.SetEscapeHTML(false)
			for i := range n {
				l := &lines[i%len(lines)]
				l.TimeS = float64(i) / 1000
				if err := e.Encode(l); err != nil {
					b.Fatal(err)
				}
			}
		}
		reportEach(b, n, begun)
	})
}

func reportEach(b *testing.B, n int, begun time.Duration) {
	b.ReportMetric(float64(processorTime()-begun)/float64(n*b.N), "cpu-ns/message")
}

func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
