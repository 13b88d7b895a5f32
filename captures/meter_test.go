package captures

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/delimited"
)

// The same capture in every dialect gives the same samples. The forms are
// common practice of meters and of spreadsheets unless a source is named.
func TestMeterDialects(t *testing.T) {
	want := []Sample{plain(0, 5.012, 0.5), plain(100*ms, 5.01, -0.25)}
	for _, tt := range []struct{ rule, source, text string }{
		{"comma", "RFC 4180", "time_s,voltage_V,current_A\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"no line feed at the end", "RFC 4180 section 2 rule 2", "time_s,voltage_V,current_A\n0,5.012,0.5\n0.1,5.01,-0.25"},
		{"CRLF", "RFC 4180 section 2 rule 1", "time_s,voltage_V,current_A\r\n0,5.012,0.5\r\n0.1,5.01,-0.25\r\n"},
		{"quotes", "RFC 4180 section 2 rule 5", "\"time_s\",\"voltage_V\",\"current_A\"\n\"0\",\"5.012\",\"0.5\"\n\"0.1\",\"5.01\",\"-0.25\"\n"},
		{"semicolon", "common practice", "time_s;voltage_V;current_A\n0;5.012;0.5\n0.1;5.01;-0.25\n"},
		{"decimal comma", "common practice", "time_s;voltage_V;current_A\n0;5,012;0,5\n0,1;5,01;-0,25\n"},
		{"decimal comma with tabs", "common practice", "time_s\tvoltage_V\tcurrent_A\n0\t5,012\t0,5\n0,1\t5,01\t-0,25\n"},
		{"decimal comma with pipes", "common practice", "time_s|voltage_V|current_A\n0|5,012|0,5\n0,1|5,01|-0,25\n"},
		{"pipe", "common practice", "time_s|voltage_V|current_A\n0|5.012|0.5\n0.1|5.01|-0.25\n"},
		{"blanks around cells", "common practice", "  time_s , voltage_V , current_A \n 0 , 5.012 , 0.5 \n0.1,  5.01,  -0.25\n"},
		{"a byte order mark", "RFC 3629 section 6", "\uFEFFtime_s,voltage_V,current_A\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"a delimiter at the end of rows", "common practice", "time_s,voltage_V,current_A\n0,5.012,0.5,\n0.1,5.01,-0.25,\n"},
		{"a delimiter at the end of all rows", "common practice", "time_s,voltage_V,current_A,\n0,5.012,0.5,\n0.1,5.01,-0.25,\n"},
		{"comments anywhere", "common practice", "# a log\ntime_s,voltage_V,current_A\n# begin\n0,5.012,0.5\n  # more, \"\n0.1,5.01,-0.25\n# end"},
		{"blank lines", "common practice", "\n\ntime_s,voltage_V,current_A\n\n0,5.012,0.5\n  \n0.1,5.01,-0.25\n\n"},
		{"blank lines between tabs", "common practice", "time_s\tvoltage_V\tcurrent_A\n\n0\t5.012\t0.5\n  \n0.1\t5.01\t-0.25\n"},
		{"a preamble is never parsed", "common practice", "Report;of \"a\" meter\nVoltage range,20 V\n\"an open quote,1,2\ntime_s,voltage_V,current_A\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"a preamble that reads like a header", "common practice", "time, voltage, current of port 1\ntime_ms,voltage_mV,current_mA\n0,5012,500\n100,5010,-250\n"},
		{"a sentence that reads like a header, far above it", "common practice", "time, voltage, current of port 1\n" + strings.Repeat("a line of a report\n", 2*lookAhead) + "time_ms,voltage_mV,current_mA\n0,5012,500\n100,5010,-250\n"},
		{"a header that stands twice", "common practice", "time_s,voltage_V,current_A\ntime_s,voltage_V,current_A\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"a long preamble", "common practice", strings.Repeat("a line of a report\n", 20_000) + "time_s,voltage_V,current_A\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"heading without case", "common practice", "TIME,Voltage,CURRENT\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"elapsed, vbus, ibus", "common practice", "elapsed,vbus,ibus\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"timestamp, volt, amp", "common practice", "timestamp,volt,amp\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"V and A", "common practice", "Time,V,A\n0,5.012,0.5\n0.1,5.01,-0.25\n"},
		{"V and A with a unit in brackets", "common practice", "Time,V [mV],A (mA)\n0,5012,500\n0.1,5010,-250\n"},
		{"units in round brackets", "common practice", "Time (ms),Voltage (mV),Current (mA)\n0,5012,500\n100,5010,-250\n"},
		{"units in square brackets", "common practice", "Time [us],Voltage[V],Current [uA]\n0,5.012,500000\n100000,5.01,-250000\n"},
		{"the micro sign", "ISO 80000-1", "time [µs],voltage [V],current [µA]\n0,5.012,500000\n100000,5.01,-250000\n"},
		{"the greek mu", "common practice", "time [μs],voltage [V],current [μA]\n0,5.012,500000\n100000,5.01,-250000\n"},
		{"units behind a slash", "ISO 80000-1", "time/ns,vbus/mV,ibus/mA\n0,5012,500\n100000000,5010,-250\n"},
		{"units behind an underscore", "common practice", "elapsed_ms,VBUS_mV,IBUS_uA\n0,5012,500000\n100,5010,-250000\n"},
		{"a units row", "common practice", "time;voltage;current\nms;mV;mA\n0;5012;500\n100;5010;-250\n"},
		{"a units row in brackets", "common practice", "time;voltage;current\n[s];(mV);[mA]\n0;5012;500\n0.1;5010;-250\n"},
		{"a units row with gaps", "common practice", "time,voltage,current,cc1,note\nms,mV,mA,,\n0,5012,500,,\n100,5010,-250,,\n"},
		{"a units row under clock times", "common practice", "time,voltage,current\nhh:mm:ss,mV,mA\n00:00:00,5012,500\n00:00:00.1,5010,-250\n"},
		{"a units row behind a comment", "common practice", "time,voltage,current\n# units\ns,mV,mA\n0,5012,500\n0.1,5010,-250\n"},
		{"minutes", "common practice", "time (min),voltage,current\n0,5.012,0.5\n0.00166666666667,5.01,-0.25\n"},
		{"minutes with all the digits of a float64", "common practice", "time (min),voltage,current\n0,5.012,0.5\n0.001666666666666666667,5.01,-0.25\n"},
		{"minutes behind an underscore", "common practice", "time_min,voltage,current\n0,5.012,0.5\n1.66666666667E-3,5.01,-0.25\n"},
		{"exponents and signs", "common practice", "time,voltage,current\n+0.0,5012e-3,+5E-1\n1e-1,.501e1,-25.E-2\n"},
		{"order of columns, and columns that are passed over", "common practice", "n,current,power,time,temperature,voltage,dp\n1,0.5,a,0,,5.012,b\n2,-0.25,\"a,b\",0.1,,5.01,\n"},
		{"a line feed in a quoted cell", "RFC 4180 section 2 rule 6", "time,voltage,current,note\n0,5.012,0.5,\"two\n# lines, \"\"quoted\"\"\"\n0.1,5.01,-0.25,x\n"},
		{"a quote inside a cell is a character", "common practice", "time,voltage,current,note\n0,5.012,0.5,5\" cable\n0.1,5.01,-0.25,6\"\n"},
		{"text behind a quoted note", "common practice", "note,time,voltage,current\n\"5\" cable,0,5.012,0.5\nx,0.1,5.01,-0.25\n"},
		{"a stray quote in a note", "common practice", "time,voltage,current,note\n0,5.012,0.5,\"5 cable\n0.1,5.01,-0.25,\"6 cable\n"},
		{"clock times", "common practice", "time (hh:mm:ss),voltage,current\n00:00:00.000,5.012,0.5\n0:00:00.1,5.01,-0.25\n"},
		{"clock times with a decimal comma", "common practice", "time;voltage;current\n00:00:00,000;5,012;0,5\n00:00:00,1;5,01;-0,25\n"},
		{"more digits than a float holds", "common practice", "time,voltage,current\n0.00000000000000000000000001,5.01200000000000000000000,0.50000000000000000000000\n0.1000000000000000000000001,5.0100000000000000000000000,-0.25\n"},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			require.NotEmpty(t, tt.source)
			got := read(t, tt.text, Options{})
			assert.Empty(t, got.stats.Problems)
			assert.Equal(t, KindMeter, got.stats.Kind)
			assert.Equal(t, 2, got.stats.Records)
			assert.Zero(t, got.stats.Skipped)
			requireSamples(t, want, got.samples)
		})
	}
}

const day = 24 * time.Hour

func TestMeterTimes(t *testing.T) {
	stamp := func(seconds ...string) string {
		var b strings.Builder
		for _, s := range seconds {
			b.WriteString("2024-02-29T10:00:" + s + ",5,1\n")
		}
		return b.String()
	}
	for _, tt := range []struct {
		rule, source, text string
		want               []time.Duration
		skipped            []int // lines
	}{
		{"seconds since the first day's midnight", "common practice", "10:00:00,5,1\n10:00:00.5,5,1\n", []time.Duration{10 * time.Hour, 10*time.Hour + 500*ms}, nil},
		{"past midnight, twice", "common practice", "23:59:59.9,5,1\n00:00:00.1,5,1\n23:00:00,5,1\n00:00:00,5,1\n", []time.Duration{day - 100*ms, day + 100*ms, 2*day - time.Hour, 2 * day}, nil},
		{"a clock that falls by less than half a day is earlier", "common practice", "12:00:00,5,1\n00:30:00,5,1\n12:30:00,5,1\n00:29:59,5,1\n", []time.Duration{12 * time.Hour, 12*time.Hour + 30*time.Minute, 24*time.Hour + 29*time.Minute + 59*time.Second}, []int{3}},
		{"a late row across midnight does not add a day", "common practice", "23:59:59,5,1\n00:00:01,5,1\n23:59:59.5,5,1\n00:00:02,5,1\n", []time.Duration{day - time.Second, day + time.Second, day + 2*time.Second}, []int{4}},
		{"a long pause on the first day is one", "common practice", "00:30:00,5,1\n23:45:00,5,1\n", []time.Duration{30 * time.Minute, 23*time.Hour + 45*time.Minute}, nil},
		{"a damaged row does not move the day", "common practice", "23:59:59,5,1\n00:00:01,x,1\n23:59:59.5,5,1\n00:00:02,5,1\n", []time.Duration{day - time.Second, day - 500*ms, day + 2*time.Second}, []int{3}},
		{"equal times are kept", "common practice", "1,5,1\n1,5,2\n1,5,3\n", []time.Duration{time.Second, time.Second, time.Second}, nil},
		{"earlier rows are skipped", "common practice", "1,5,1\n3,5,1\n2,5,2\n2.5,5,3\n3,5,3\n", []time.Duration{time.Second, 3 * time.Second, 3 * time.Second}, []int{4, 5}},
		{"times below zero", "common practice", "-1.5,5,1\n-1,5,1\n0,5,1\n", []time.Duration{-1500 * ms, -time.Second, 0}, nil},
		{"exact to the nanosecond", "common practice", "1700000000.123456789,5,1\n1700000000.123456790,5,1\n", []time.Duration{1700000000123456789, 1700000000123456790}, nil},
		{"a half is rounded away from zero", "common practice", "-0.0000000005,5,1\n0.0000000004,5,1\n0.00000000050000000000000000000,5,1\n1234567890.1234567895,5,1\n1234567891.12345678949,5,1\n", []time.Duration{-1, 0, 1, 1234567890123456790, 1234567891123456789}, nil},
		{"ninety years, and no more", "common practice", "2838240000,5,1\n2838240000.000000001,5,1\n9223372036.854775808,5,1\n1e30,5,1\n-1e30,5,1\n", []time.Duration{MaxTime}, []int{3, 4, 5, 6}},
		{"an empty time is no record", "common practice", "1,5,1\n,5,1\n2,5,1\n", []time.Duration{time.Second, 2 * time.Second}, []int{3}},
		{"the first record settles the form", "common practice", "12,x,1\n10:00:00,5,1\n36001,5,1\n10:00:02,5,1\n", []time.Duration{10 * time.Hour, 10*time.Hour + 2*time.Second}, []int{2, 4}},
		{"no clock time", "common practice", "10:00:00,5,1\n24:00:00,5,1\n10:60:00,5,1\n10:00:61,5,1\n10:00:1,5,1\n10:00:-1,5,1\n10:00:01e0,5,1\n:00:01,5,1\n10:0:01,5,1\n10:00:01.,5,1\n", []time.Duration{10 * time.Hour}, []int{3, 4, 5, 6, 7, 8, 9, 10, 11}},
		{"a leap second", "RFC 3339 section 5.7", "23:59:59,5,1\n23:59:60,5,1\n00:00:00,5,1\n", []time.Duration{day - time.Second, day, day}, nil},
		{"a leap second in stamps", "RFC 3339 section 5.8", "1990-12-31T23:59:59Z,5,1\n1990-12-31T23:59:60Z,5,1\n1990-12-31T16:00:01-08:00,5,1\n", []time.Duration{0, time.Second, 2 * time.Second}, nil},
		{"stamps", "RFC 3339 section 5.6", stamp("00Z", "00.5Z", "01.000000001+00:00"), []time.Duration{0, 500 * ms, time.Second + 1}, nil},
		{"a small t and z", "RFC 3339 section 5.6, note", "2024-02-29t10:00:00z,5,1\n2024-02-29T10:00:01z,5,1\n2024-02-29t10:00:02.5Z,5,1\n", []time.Duration{0, time.Second, 2500 * ms}, nil},
		{"a blank for the T", "RFC 3339 section 5.6, note", "2024-02-29 10:00:00Z,5,1\n2024-02-29 11:00:01+01:00,5,1\n", []time.Duration{0, time.Second}, nil},
		{"all nine digits and more of a fraction", "RFC 3339 section 5.6", stamp("00.000000001Z", "00.0000000029Z"), []time.Duration{0, 1}, nil},
		{"offsets", "RFC 3339 section 5.8", "1996-12-19T16:39:57-08:00,5,1\n1996-12-20T00:39:58Z,5,1\n", []time.Duration{0, time.Second}, nil},
		{"stamps without an offset", "common practice", stamp("00", "01.5"), []time.Duration{0, 1500 * ms}, nil},
		{"an offset among stamps without one, and the other way", "RFC 3339 section 4.4", stamp("00", "01Z", "02"), []time.Duration{0, 2 * time.Second}, []int{3}},
		{"no offset among stamps with one", "RFC 3339 section 4.4", stamp("00Z", "01", "02Z"), []time.Duration{0, 2 * time.Second}, []int{3}},
		{"stamps count from the first row, damaged or not", "common practice", "2024-01-01T00:00:00Z,x,1\n2024-01-01T00:00:01Z,5,1\n", []time.Duration{time.Second}, []int{2}},
		{"no stamp", "RFC 3339 section 5.6", "2024-01-01T00:00:00Z,5,1\n2024-13-01T00:00:00Z,5,1\n2023-02-29T00:00:00Z,5,1\n2024-01-01T24:00:00Z,5,1\n2024-1-01T00:00:00Z,5,1\n2024-01-01,5,1\n2024-01-01T00:00Z,5,1\n2024-01-01T0:00:00Z,5,1\n\"2024-01-01T00:00:00,5Z\",5,1\n2024-01-01T00:00:00.Z,5,1\n2024-01-01T00:00:00+24:00,5,1\n2024-01-01T00:00:00+00:60,5,1\n2024-01-01T00:00:00+0000,5,1\n2024/01/01T00:00:00Z,5,1\n", []time.Duration{0}, []int{3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15}},
		{"stamps far apart", "common practice", "2024-01-01T00:00:00Z,5,1\n2224-01-01T00:00:00Z,5,1\n9999-01-01T00:00:00Z,5,1\n", []time.Duration{0}, []int{3, 4}},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			require.NotEmpty(t, tt.source)
			got := read(t, "time,voltage,current\n"+tt.text, Options{})
			var times []time.Duration
			for _, s := range got.samples {
				times = append(times, s.At)
			}
			assert.Equal(t, tt.want, times)
			assert.Equal(t, tt.skipped, got.lines())
			assert.Equal(t, len(tt.skipped), got.stats.Skipped)
			assert.Equal(t, strings.Count(tt.text, "\n"), got.stats.Records+got.stats.Skipped, "records and skipped are the data rows")
			assert.Equal(t, tt.want[0], got.stats.Start)
			assert.Equal(t, tt.want[len(tt.want)-1], got.stats.End)
		})
	}
}

// A clock that passes midnight at every other row comes to the end of all times.
func TestNinetyYearsOfMidnights(t *testing.T) {
	const days = 2 * int(MaxTime/day)
	got := read(t, "time,voltage,current\n"+strings.Repeat("23:00:00,5,1\n01:00:00,5,1\n", days), Options{})
	assert.Equal(t, 2*days, got.stats.Records+got.stats.Skipped)
	assert.Equal(t, MaxTime-day+23*time.Hour, got.stats.End)
}

// Stamps without an offset may leap by an hour when a clock is put forward or
// back, and nobody can tell: the reader says what it takes them for.
func TestStampsWithoutOffsetAreTold(t *testing.T) {
	head := "time,voltage,current\n"
	assert.Contains(t, read(t, head+"2024-02-29T10:00:00,5,1\n2024-02-29T10:00:01,5,1\n", Options{}).stats.Notes, delimited.LocalNote)
	assert.NotContains(t, read(t, head+"2024-02-29T10:00:00Z,5,1\n", Options{}).stats.Notes, delimited.LocalNote)
}

func TestMeterCells(t *testing.T) {
	for _, tt := range []struct {
		rule, row   string
		volts, amps float64
		problem     string // none: the row is a record
		noTime      bool
	}{
		{rule: "an empty cell is a gap", row: "1,,0.5,", volts: nan, amps: 0.5},
		{rule: "blanks are empty", row: "1, ,0.5,", volts: nan, amps: 0.5},
		{rule: "an empty quoted cell is a gap", row: `1,"",0.5,`, volts: nan, amps: 0.5},
		{rule: "both empty", row: "1,,,", volts: nan, amps: nan},
		{rule: "missing cells that are not read", row: "1,5,0.5", volts: 5, amps: 0.5},
		{rule: "an unreadable cell that is not read", row: "1,5,0.5,x", volts: 5, amps: 0.5},
		{rule: "negative zero", row: "1,-0,0.5,", volts: 0, amps: 0.5},
		{rule: "underflow", row: "1,1e-999,0.5,", volts: 0, amps: 0.5},
		{rule: "the largest reading", row: "1,-1000,1000,", volts: -1000, amps: 1000},
		{rule: "NaN", row: "1,NaN,0.5,", problem: `expected a voltage, found "NaN"`},
		{rule: "inf", row: "1,5,-inf,", problem: `expected a current, found "-inf"`},
		{rule: "infinity", row: "1,+Infinity,1,", problem: `found "+Infinity"`},
		{rule: "hexadecimal", row: "1,0x10,0.5,", problem: `found "0x10"`},
		{rule: "hexadecimal with exponent", row: "1,0x1p4,0.5,", problem: `found "0x1p4"`},
		{rule: "underscores", row: "1,1_0,0.5,", problem: `found "1_0"`},
		{rule: "out of range", row: "1,1e999,0.5,", problem: `expected a voltage of at most 1000, found "1e999"`},
		{rule: "no reading of a port", row: "1,5,1000.1,", problem: `expected a current of at most 1000`},
		{rule: "a unit in the cell", row: "1,5 V,0.5,", problem: `found "5 V"`},
		{rule: "only a sign", row: "1,-,0.5,", problem: `found "-"`},
		{rule: "two signs", row: "1,--5,0.5,", problem: `found "--5"`},
		{rule: "only a point", row: "1,.,0.5,", problem: `found "."`},
		{rule: "two points", row: "1,5.0.1,0.5,", problem: `found "5.0.1"`},
		{rule: "an exponent without digits", row: "1,5e,0.5,", problem: `found "5e"`},
		{rule: "a broken exponent", row: "1,5e1.5,0.5,", problem: `found "5e1.5"`},
		{rule: "a decimal comma under commas", row: `1,"5,1",0.5,`, problem: `found "5,1"`},
		{rule: "a row cut short", row: "1,5", problem: "expected 4 cells, found 2"},
		{rule: "a row moved by decimal commas", row: "1,0,5,0,0,5", problem: `expected 4 cells, found 6`},
		{rule: "one cell too many", row: "1,5,0.5,0,7", problem: `expected 4 cells, found 5`},
		{rule: "a quote that is not closed", row: `1,5,"0.5`, problem: `expected a current, found "\"0.5"`},
		{rule: "a quote closed within the number", row: `1,5,"0"5`, problem: `expected a current, found "\"0\"5"`},
		{rule: "an unreadable time", row: `x,5,1`, problem: `expected a time as a number, found "x"`, noTime: true},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			got := read(t, "time,voltage,current,power\n0,1,1,1\n"+tt.row+"\n2,1,1,1\n", Options{})
			if tt.problem == "" {
				require.Len(t, got.samples, 3)
				assert.Zero(t, got.stats.Skipped)
				requireSamples(t, []Sample{plain(time.Second, tt.volts, tt.amps)}, got.samples[1:2])
				assert.Equal(t, 3, got.samples[1].Line)
				return
			}
			require.Len(t, got.samples, 2)
			assert.Equal(t, 1, got.stats.Skipped)
			require.Len(t, got.stats.Problems, 1)
			p := got.stats.Problems[0]
			assert.Equal(t, 3, p.Line)
			assert.Contains(t, p.Text, tt.problem)
			assert.Equal(t, !tt.noTime, p.HasAt, "a skipped row says its time where that could be read")
			if p.HasAt {
				assert.Equal(t, time.Second, p.At)
			}
		})
	}
}

// A row that comes too early says its own time.
func TestEarlierRowSaysItsTime(t *testing.T) {
	got := read(t, "time,voltage,current\n3,5,1\n2,5,1\n", Options{})
	require.Len(t, got.stats.Problems, 1)
	assert.Equal(t, Problem{Line: 3, At: 2 * time.Second, HasAt: true, Text: "expected a time of 3s or later, found 2s: time goes backwards"}, got.stats.Problems[0])
}

// Which way round the meter was is decided from the whole draw, not here.
func TestSignIsKept(t *testing.T) {
	got := read(t, "time,voltage,current\n0,5,-1.5\n1,5,0.5\n", Options{})
	requireSamples(t, []Sample{plain(0, 5, -1.5), plain(time.Second, 5, 0.5)}, got.samples)
}

func TestMeterLevelsOfCC(t *testing.T) {
	got := read(t, "time,cc1 (mV),cc2_v,voltage,current\n0,410,0.02,5,1\n1,x,,5,1\n2,1e999,0.1,5,1\n", Options{})
	requireSamples(t, []Sample{
		{At: 0, Volts: 5, Amps: 1, CC: [2]float64{0.41, 0.02}},
		{At: time.Second, Volts: 5, Amps: 1, CC: [2]float64{nan, nan}},
		{At: 2 * time.Second, Volts: 5, Amps: 1, CC: [2]float64{nan, 0.1}},
	}, got.samples)
	assert.Zero(t, got.stats.Skipped, "a row is a record without its levels")
	require.Equal(t, []int{3, 4}, got.lines(), "but nothing is left out without a word")
	assert.Equal(t, `expected a CC voltage, found "x"; it is left out`, got.stats.Problems[0].Text)
	assert.True(t, got.stats.Problems[0].HasAt)
}

func TestNamedColumns(t *testing.T) {
	text := "t;U (V);I;Ch 1: x,y\n0;5;250;4\n"
	for _, tt := range []struct {
		spec        string
		volts, amps float64
	}{
		{"time=T,voltage=U (V),current=I:mA", 5, 0.25},
		{"current= i :uA,voltage=u (v):mV,time=t:min", 0.005, 0.00025},
		{"time=t,voltage=Ch 1: x,y:V,current=I", 4, 250},
	} {
		t.Run(tt.spec, func(t *testing.T) {
			spec, err := ParseColumns(tt.spec)
			require.NoError(t, err)
			got := read(t, text, Options{Columns: spec})
			requireSamples(t, []Sample{plain(0, tt.volts, tt.amps)}, got.samples)
		})
	}
	spec, err := ParseColumns("time=t,voltage=W,current=I")
	require.NoError(t, err)
	_, err = Open("log.csv", strings.NewReader(text), Options{Columns: spec})
	assert.ErrorContains(t, err, `log.csv:1: expected a column named "W", found the columns "t", "U (V)", "I", "Ch 1: x,y"`)

	spec, err = ParseColumns("time=a:ms")
	require.NoError(t, err)
	got := read(t, "a,voltage,current\ns,mV,A\n1,5,1\n", Options{Columns: spec})
	requireSamples(t, []Sample{plain(ms, 0.005, 1)}, got.samples) // the unit that the user names goes before the row's

	spec, err = ParseColumns("voltage=u:mV")
	require.NoError(t, err)
	got = read(t, "time,u,current\ns,digits,mA\n1,5,1\n", Options{Columns: spec})
	requireSamples(t, []Sample{plain(time.Second, 0.005, 0.001)}, got.samples)
}

func TestParseColumns(t *testing.T) {
	for text, want := range map[string]ColumnSpec{
		"time=t":                             {Time: Column{"t", ""}},
		"time=t:MS,voltage=U:v,current=I:ma": {Time: Column{"t", "ms"}, Voltage: Column{"U", "v"}, Current: Column{"I", "ma"}},
		"Current = a,b :µA":                  {Current: Column{"a,b", "µa"}},
		"voltage=x: y:V":                     {Voltage: Column{"x: y", "v"}},
		"time=a=b:s":                         {Time: Column{"a=b", "s"}},
	} {
		got, err := ParseColumns(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "time", "time=", "time=:s", "t=x", "time=a,time=b", "time=t:V", "voltage=U:kV", "current=I:", "time=a,b"[:4] + ",x=y"} {
		_, err := ParseColumns(text)
		assert.ErrorIs(t, err, ErrColumns, text)
	}
}

func TestRateStandsInForTimes(t *testing.T) {
	text := "voltage,current\n5,1\nx,1\n5,2\n5,\n"
	got := read(t, text, Options{RateHz: 4})
	requireSamples(t, []Sample{plain(0, 5, 1), plain(500*ms, 5, 2), plain(750*ms, 5, nan)}, got.samples)
	assert.Equal(t, []int{3}, got.lines())
	assert.Equal(t, 250*ms, got.stats.Problems[0].At)

	timed := read(t, "time,voltage,current\n7,5,1\n", Options{RateHz: 4})
	requireSamples(t, []Sample{plain(7*time.Second, 5, 1)}, timed.samples) // its own times go first

	_, err := Open("log.csv", strings.NewReader(text), Options{})
	assert.ErrorContains(t, err, "expected a time column (or --rate HZ)")
	for _, rate := range []float64{-1, nan, math.Inf(1), 2e9} {
		_, err = Open("log.csv", strings.NewReader(text), Options{RateHz: rate})
		assert.Error(t, err)
	}
	slow := read(t, "voltage,current\n5,1\n5,1\n", Options{RateHz: 1e-10})
	assert.Equal(t, []int{3}, slow.lines(), "300 years on")
}

// A number in a unit that is not read must not pass for one that is.
func TestForeignUnitsAreRefused(t *testing.T) {
	for _, head := range []string{
		"time_h,voltage,current\n", "time (h),voltage,current\n", "time (days),voltage,current\n", "time_ps,voltage,current\n",
		"time,voltage_kV,current\n", "time,voltage (kV),current\n", "time,voltage (%),current\n", "time,vbus/uV,current\n",
		"time,voltage,current_nA\n", "time,voltage,current [mAh]\n",
		"time,voltage,current\ns,kV,A\n", "time,voltage,current\nh,V,A\n", "time,voltage,current\ns,V,%\n",
	} {
		_, err := Open("log.csv", strings.NewReader(head+"0,5,1\n"), Options{})
		assert.ErrorContains(t, err, "in a known unit", head)
	}
}

// A unit of another quantity makes no unit: the lowest voltage of an interval
// is not taken for VBUS where VBUS itself is there.
func TestMinimumIsNoMinute(t *testing.T) {
	got := read(t, "time,voltage_min,voltage,current\n1,4,5,0\n", Options{})
	requireSamples(t, []Sample{plain(time.Second, 5, 0)}, got.samples)
}

func TestMeterSaysWhatItTook(t *testing.T) {
	got := read(t, "time,voltage,vbus,current\n0,5,6,7\n", Options{})
	assert.Equal(t, []string{
		`columns taken: time from "time", voltage from "voltage", current from "current"`,
		`the voltage is from "voltage" and not from "vbus"; name it with --columns if that is wrong`,
	}, got.stats.Notes)
}

// A stray quote costs its own row and no other (RFC 4180 lets a quoted cell run
// over lines; a whole data row behind the quote tells the two apart).
func TestStrayQuoteCostsOneRow(t *testing.T) {
	for _, tt := range []struct{ name, stray, good string }{
		{"in a number", "1,\"5,1,", "1,5,1,"},
		{"in the time", "\"1,5,1,", "1,5,1,"},
		{"closed by the next stray one", "1,5,\"1,\"", "1,5,1,\""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var b strings.Builder
			b.WriteString("time,voltage,current,note\n")
			want := 0
			for i := range 1000 {
				row := tt.good
				if i%10 == 3 {
					row = tt.stray
				} else {
					want++
				}
				b.WriteString(row + "\n")
			}
			got := read(t, b.String(), Options{})
			assert.Equal(t, want, got.stats.Records)
			assert.Equal(t, 1000-want, got.stats.Skipped)
			assert.Equal(t, 1001, got.samples[len(got.samples)-1].Line)
		})
	}
}

// A quote that is closed in the middle of a cell is no quoted cell that runs
// over lines, even where a later line would close it.
func TestQuoteClosedWithinACell(t *testing.T) {
	got := read(t, "time,voltage,current,note\n1,5,1,\"a\nx,\"b\nc\"\n2,5,1,d\n", Options{})
	assert.Len(t, got.samples, 2)
	assert.Equal(t, []int{3}, got.lines(), "the cell that begins there takes two lines")
}

// dialect renders a meter log in one of the forms that are read.
type dialect struct {
	rng                *rand.Rand
	delim, point, end  string
	quoted, padded     bool
	timeUnit, ampsUnit string
	timeExp, ampsExp   int
	columns            []string // t, v, a or x
}

func pick[T any](rng *rand.Rand, of ...T) T { return of[rng.IntN(len(of))] }

func newDialect(rng *rand.Rand) dialect {
	d := dialect{rng: rng, delim: pick(rng, ",", ";", "\t", "|"), point: ".", end: pick(rng, "\n", "\r\n"), quoted: rng.IntN(4) == 0, padded: rng.IntN(4) == 0}
	if d.delim != "," {
		d.point = pick(rng, ".", ",")
	}
	d.timeUnit = pick(rng, "s", "ms", "us", "ns")
	d.timeExp = map[string]int{"s": 9, "ms": 6, "us": 3, "ns": 0}[d.timeUnit]
	d.ampsUnit = pick(rng, "A", "mA", "uA")
	d.ampsExp = map[string]int{"A": 0, "mA": 3, "uA": 6}[d.ampsUnit]
	d.columns = []string{"t", "v", "a", "x", "x"}
	rng.Shuffle(len(d.columns), func(i, j int) { d.columns[i], d.columns[j] = d.columns[j], d.columns[i] })
	return d
}

func (d dialect) row(b *strings.Builder, cell func(column string) string) {
	for i, column := range d.columns {
		if i > 0 {
			b.WriteString(d.delim)
		}
		text := cell(column)
		if d.padded && !d.quoted {
			text = " " + text + " "
		}
		if d.quoted {
			text = `"` + text + `"`
		}
		b.WriteString(text)
	}
	b.WriteString(d.end)
}

// decimal moves the point of an integer exp places to the left, as a string: no
// floating point is involved.
func (d dialect) decimal(n int64, exp int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	text := strconv.FormatInt(n, 10)
	if d.rng.IntN(6) == 0 {
		return sign + text + "e-" + strconv.Itoa(exp)
	}
	if len(text) <= exp {
		text = strings.Repeat("0", exp-len(text)+1) + text
	}
	if exp == 0 {
		return sign + text
	}
	return sign + text[:len(text)-exp] + d.point + text[len(text)-exp:]
}

// reading writes a float64 so that it reads back, scaled by a power of ten.
func (d dialect) reading(v float64, exp int) string {
	if math.IsNaN(v) {
		return ""
	}
	mantissa, e, _ := strings.Cut(strconv.FormatFloat(v, 'e', -1, 64), "e")
	n, _ := strconv.Atoi(e)
	if n+exp == 0 {
		return strings.Replace(mantissa, ".", d.point, 1)
	}
	return strings.Replace(mantissa, ".", d.point, 1) + pick(d.rng, "e", "E") + strconv.Itoa(n+exp)
}

func randomReading(rng *rand.Rand) float64 {
	switch rng.IntN(4) {
	case 0:
		return nan
	case 1:
		return rng.NormFloat64() * 20
	case 2:
		return float64(rng.IntN(500000)) / 10000
	default:
		return (rng.Float64() - 0.5) * math.Pow(10, float64(rng.IntN(28)-25))
	}
}

// Random values in random dialects come back to the last bit.
func TestEveryDialectReadsBack(t *testing.T) {
	logs := uint64(500)
	if *long {
		logs *= 100
	}
	for seed := range logs {
		rng := rand.New(rand.NewPCG(seed, 7))
		d := newDialect(rng)
		at := rng.Int64N(int64(MaxTime)) - int64(MaxTime)/2
		var want []Sample
		var b strings.Builder
		heading := map[string]string{"t": "time [" + d.timeUnit + "]", "v": "Voltage", "a": "Current_" + d.ampsUnit, "x": "note"}
		d.row(&b, func(c string) string { return heading[c] })
		for range 1 + rng.IntN(20) {
			at += rng.Int64N(1 << 40)
			s := plain(time.Duration(at), randomReading(rng), randomReading(rng))
			want = append(want, s)
			cell := map[string]string{"t": d.decimal(at, d.timeExp), "v": d.reading(s.Volts, 0), "a": d.reading(s.Amps, d.ampsExp), "x": pick(rng, "", "x", "7", "'")}
			d.row(&b, func(c string) string { return cell[c] })
			if rng.IntN(5) == 0 {
				b.WriteString(pick(rng, "# a comment", "", "  ") + d.end)
			}
		}
		got := read(t, b.String(), Options{})
		require.Empty(t, got.stats.Problems, "seed %d:\n%s", seed, b.String())
		requireSamples(t, want, got.samples)
	}
}

func TestHundredThousandDamagedRows(t *testing.T) {
	const damaged = 100_000
	for _, row := range []string{"1,??,1\n", "x,y,z\n", "1,\"5,1\n", "1,2,3,4,5\n"} {
		got := read(t, "time,voltage,current\n0,5,1\n"+strings.Repeat(row, damaged)+"2,5,1\n", Options{})
		assert.Equal(t, 2, got.stats.Records, row)
		assert.Equal(t, damaged, got.stats.Skipped, row)
		assert.Len(t, got.stats.Problems, MaxProblems)
		assert.Equal(t, fmt.Sprintf("%d more problems are not listed", damaged-MaxProblems), got.stats.Notes[len(got.stats.Notes)-1])
	}
	got := read(t, "time,voltage,current\n"+strings.Repeat("x,y,z\n", damaged), Options{})
	assert.Equal(t, damaged, got.stats.Skipped, "even where no row can be read")
}
