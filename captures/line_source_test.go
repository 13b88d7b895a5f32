package captures_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/captures/line"
)

// everyTenth is a decoder that makes a message of each tenth change of level,
// a microsecond after the change before it, and tells it late.
type everyTenth struct {
	levels  int
	ready   []captures.Message
	message captures.Message
	settled time.Duration
	last    time.Duration
	signals []line.Signal
	over    bool
}

func (d *everyTenth) Add(events []line.Event) {
	for _, e := range events {
		if e.Level == line.Low || e.Level == line.High {
			if d.levels++; d.levels%10 == 0 {
				d.ready = append(d.ready, captures.Message{At: d.last + time.Microsecond, Bytes: []byte{1, 1}})
			}
			d.last = e.At
		}
	}
	d.settled = d.last
}

func (d *everyTenth) Finish() { d.over = true }

func (d *everyTenth) Next() *captures.Message {
	if len(d.ready) == 0 {
		return nil
	}
	d.message, d.ready = d.ready[0], d.ready[1:]
	return &d.message
}

func (d *everyTenth) Settled() time.Duration {
	if d.over {
		return math.MaxInt64
	}
	return d.settled
}

func (d *everyTenth) Unread() []captures.Problem { return nil }

func lineOptions(o captures.Options) captures.Options {
	o.Line = func(signals []line.Signal) captures.LineDecoder { return &everyTenth{signals: signals} }
	return o
}

// records reads everything: "m" and "s" with their times in us, and the volts.
func records(t *testing.T, in *captures.Input) []string {
	t.Helper()
	var out []string
	last := time.Duration(math.MinInt64)
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		require.GreaterOrEqual(t, r.At(), last, "the order of time")
		last = r.At()
		us := fmt.Sprintf("%g", float64(r.At())/1e3)
		if r.Message != nil {
			out = append(out, "m"+us)
		} else {
			out = append(out, fmt.Sprintf("s%s:%g,%g", us, r.Sample.Volts, r.Sample.Amps))
		}
	}
}

const dumpHead = "$timescale 1us $end\n$var wire 1 ! cc $end\n$var real 64 v vbus $end\n$var real 64 i ibus $end\n$enddefinitions $end\n"

func TestOpenDump(t *testing.T) {
	var b strings.Builder
	b.WriteString(dumpHead + "#0 1! r5 v r0.5 i\n")
	for i := range 30 {
		fmt.Fprintf(&b, "#%d\n%d!\n", 10*(i+1), i%2)
	}
	b.WriteString("#1000 r5.1 v\n#1010 r5.2 v r0.6 i #5000 r9 v\n#6000\n")
	want := []string{"s0:5,0.5", "m81", "m181", "m281", "s1000:5.1,0.5", "s1010:5.2,0.6", "s4990:5.2,0.6", "s5000:9,0.6"}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, _ = z.Write([]byte(b.String()))
	_ = z.Close()
	for name, text := range map[string]string{"plain": b.String(), "with a mark": "\xef\xbb\xbf\n" + b.String(), "packed": packed.String()} {
		in, err := captures.Open("x", strings.NewReader(text), lineOptions(captures.Options{}))
		require.NoError(t, err, name)
		assert.Equal(t, captures.KindLine, in.Kind())
		got := records(t, in)
		// The first step back in time is held only once an interval is known.
		assert.Equal(t, want, got, name)
		stats := in.Stats()
		assert.Equal(t, 31+6, stats.Records)
		assert.Equal(t, 6*time.Millisecond, stats.End)
		assert.True(t, stats.Messages)
		assert.True(t, stats.Samples)
		assert.Contains(t, stats.Notes, `signals taken as CC: "cc"`)
	}
}

// A dump that holds a meter beside the line gives either part of itself alone.
func TestPartOfADump(t *testing.T) {
	var b strings.Builder
	b.WriteString(dumpHead + "#0 1! r5 v r0.5 i\n")
	for i := range 20 {
		fmt.Fprintf(&b, "#%d\n%d!\n", 10*(i+1), i%2)
	}
	b.WriteString("#1000 r5.1 v\n#1010 r5.2 v\n")
	for kind, want := range map[captures.Kind][]string{
		captures.KindMessages: {"m81", "m181"},
		captures.KindMeter:    {"s0:5,0.5", "s1000:5.1,0.5", "s1010:5.2,0.5"},
		captures.KindLine:     {"s0:5,0.5", "m81", "m181", "s1000:5.1,0.5", "s1010:5.2,0.5"},
	} {
		in, err := captures.Open("x", strings.NewReader(b.String()), lineOptions(captures.Options{As: kind}))
		require.NoError(t, err)
		assert.Equal(t, want, records(t, in), kind)
		assert.Equal(t, kind != captures.KindMeter, in.Stats().Messages)
		assert.Equal(t, kind != captures.KindMessages, in.Stats().Samples)
	}
	_, err := captures.Open("x", strings.NewReader("$timescale 1us $end $var wire 1 ! cc $end $enddefinitions $end #1 1!"), lineOptions(captures.Options{As: captures.KindMeter}))
	require.EqualError(t, err, "x: expected a meter log: real signals named vbus and ibus, found the CC line alone")
}

func TestOpenLineRows(t *testing.T) {
	levels := func(delimiter string) string {
		var b strings.Builder
		for i := range 12 {
			fmt.Fprintf(&b, "0.%06d%s%d\n", i, delimiter, i%2)
		}
		return b.String()
	}
	tests := []struct {
		name, text string
		options    captures.Options
		kind       captures.Kind
		want       []string
	}{
		{name: "levels", text: "time_s,cc\n" + levels(","), kind: captures.KindLine, want: []string{"m9"}},
		{name: "a preamble and comments", text: "made by hand\n\n# x\nTime [s];CC\n" + levels(";"), kind: captures.KindLine, want: []string{"m9"}},
		{name: "a units row", text: "time,cc\nus,\n" + strings.ReplaceAll(levels(","), "0.0000", ""), kind: captures.KindLine, want: []string{"m9"}},
		{name: "named", text: "time_s,probe 3\n" + levels(","), options: captures.Options{Signal: "Probe 3"}, kind: captures.KindLine, want: []string{"m9"}},
		{name: "clock times", text: "time_s,cc\n" + strings.ReplaceAll(levels(","), "0.0", "00:00:00.0"), kind: captures.KindLine, want: []string{"m9"}},
		{name: "stamps", text: "time,cc\n" + strings.ReplaceAll(levels(","), "0.0", "2024-02-29T10:00:00.0"), kind: captures.KindLine, want: []string{"m9"}},
		{name: "a fast line beside a meter, in clock times", text: "time,voltage,current,cc1\n00:00:00,5,0.1,1\n00:00:00.0000005,5,0.1,0\n", kind: captures.KindLine, want: []string{"s0:5,0.1", "s0.5:5,0.1"}},
		{name: "without times", text: "cc1,cc2\n" + strings.Repeat("0,0\n1,0\n", 3), options: captures.Options{RateHz: 1e6}, kind: captures.KindLine, want: []string{"m5"}},
		{name: "slow levels beside a meter", text: "time_s,voltage,current,cc1\n0,5,0.1,0.4\n0.1,5,0.1,0.4\n", kind: captures.KindMeter, want: []string{"s0:5,0.1", "s100000:5,0.1"}},
		{name: "a fast line beside a meter", text: "time_s,voltage,current,cc1\n0,5,0.1,1\n0.0000005,5,0.1,0\n", kind: captures.KindLine, want: []string{"s0:5,0.1", "s0.5:5,0.1"}},
		{name: "the same as a meter log", text: "time_s,voltage,current,cc1\n0,5,0.1,1\n0.0000005,5,0.1,0\n", options: captures.Options{As: captures.KindMeter}, kind: captures.KindMeter, want: []string{"s0:5,0.1", "s0.5:5,0.1"}},
		{name: "a slow one as a line", text: "time_s,voltage,current,cc1\n0,5,0.1,1\n0.1,5,0.1,0\n", options: captures.Options{As: captures.KindLine}, kind: captures.KindLine, want: []string{"s0:5,0.1", "s100000:5,0.1"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			in, err := captures.Open("x", strings.NewReader(tt.text), lineOptions(tt.options))
			require.NoError(t, err)
			assert.Equal(t, tt.kind, in.Kind())
			assert.Equal(t, tt.want, records(t, in))
			assert.Zero(t, in.Stats().Skipped, in.Stats().Problems)
		})
	}
}

func TestLineUnusable(t *testing.T) {
	tests := []struct {
		name, text string
		options    captures.Options
		want       string
	}{
		{name: "no such signal", text: dumpHead + "#0 1!", options: lineOptions(captures.Options{Signal: "d7"}), want: `x: expected a signal named "d7", found cc, vbus, ibus`},
		{name: "no decoder", text: dumpHead + "#0 1!", want: "x: expected a meter log or a list of messages, found a recording of the CC line"},
		{name: "no values", text: "$timescale 1us $end $var wire 1 ! cc $end", options: lineOptions(captures.Options{}), want: "x: expected values after the definitions, found the end of the file"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := captures.Open("x", strings.NewReader(tt.text), tt.options)
			require.EqualError(t, err, tt.want)
		})
	}
}

func TestLineTimes(t *testing.T) {
	in, err := captures.Open("x", strings.NewReader("$timescale 1s $end $var wire 1 ! cc $end $enddefinitions $end #1 1! #9000000000 0! #9000000001 1!"), lineOptions(captures.Options{}))
	require.NoError(t, err)
	assert.Empty(t, records(t, in))
	assert.NotZero(t, in.Stats().Skipped)
	assert.Contains(t, in.Stats().Problems[0].Text, "expected a time within")
}
