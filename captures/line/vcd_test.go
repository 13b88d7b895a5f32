package line_test

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
)

// all reads everything, few events at a time, so that words meet the end of
// the room given.
func all(t testing.TB, r line.Reader) []line.Event {
	t.Helper()
	var out []line.Event
	var room [3]line.Event
	for {
		n, err := r.Read(room[:])
		out = append(out, room[:n]...)
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		require.Positive(t, n)
	}
}

func readVCD(t testing.TB, text string, o line.Options) (*line.VCD, []line.Event) {
	t.Helper()
	v, err := line.NewVCD(strings.NewReader(text), o)
	require.NoError(t, err)
	return v, all(t, v)
}

func names(r line.Reader) []string {
	var out []string
	for _, s := range r.Signals() {
		out = append(out, s.Name)
	}
	return out
}

const us = time.Microsecond

func low(at time.Duration, signal uint8) line.Event {
	return line.Event{At: at, Signal: signal, Level: line.Low}
}

func high(at time.Duration, signal uint8) line.Event {
	return line.Event{At: at, Signal: signal, Level: line.High}
}

func unknown(at time.Duration, signal uint8) line.Event {
	return line.Event{At: at, Signal: signal}
}

func released(at time.Duration, signal uint8) line.Event {
	return line.Event{At: at, Signal: signal, Level: line.Released}
}

func volts(at time.Duration, signal uint8, v float64) line.Event {
	return line.Event{At: at, Signal: signal, Level: line.Voltage, Value: v}
}

func over(at time.Duration) line.Event { return line.Event{At: at, Signal: line.NoSignal} }

// The rules are those of IEEE 1364-2005, clause 18.2.
func TestVCD(t *testing.T) {
	const head = "$timescale 1us $end $var wire 1 ! cc $end $enddefinitions $end\n"
	tests := []struct {
		name, text string
		events     []line.Event
		skipped    int
	}{
		{name: "changes", text: head + "#0\n0!\n#5\n1!\n#7 0! #9\n", events: []line.Event{low(0, 0), high(5*us, 0), low(7*us, 0), over(9 * us)}},
		{name: "values before the first time", text: head + "$dumpvars 1! $end #3 0!", events: []line.Event{high(0, 0), low(3*us, 0), over(3 * us)}},
		{name: "x and z in both cases", text: head + "#1 x! #2 X! #3 z! #4 Z!", events: []line.Event{unknown(1*us, 0), unknown(2*us, 0), released(3*us, 0), released(4*us, 0), over(4 * us)}},
		{name: "recording switched off and on", text: head + "#1 1!\n#2 $dumpoff x! $end #8 $dumpon 0! $end", events: []line.Event{high(1*us, 0), unknown(2*us, 0), unknown(2*us, 0), low(8*us, 0), over(8 * us)}},
		{name: "a one-bit vector", text: head + "#1 b1 ! #2 B0 ! #3 bz !", events: []line.Event{high(1*us, 0), low(2*us, 0), released(3*us, 0), over(3 * us)}},
		{name: "comments", text: head + "#1 $comment 1! #5 $end 0!", events: []line.Event{low(1*us, 0), over(1 * us)}},
		{name: "other signals", text: head + "#1 1\" b101 # r1.5 % 1! sword $", events: []line.Event{high(1*us, 0), over(1 * us)}},
		{name: "carriage returns", text: head + "#1\r\n1!\r\n", events: []line.Event{high(1*us, 0), over(1 * us)}},
		{name: "time going backwards", text: head + "#5 1! #3 0! 1! #6 0!", events: []line.Event{high(5*us, 0), low(6*us, 0), over(6 * us)}, skipped: 3},
		{name: "a time that is no number", text: head + "#5 1! #6.5 0! #-1 #7 0!", events: []line.Event{high(5*us, 0), low(7*us, 0), over(7 * us)}, skipped: 3},
		{name: "a time beyond all", text: head + "#5 1! #99999999999999999999999 0! #9223372036854775807 0! #7 0!", events: []line.Event{high(5*us, 0), low(7*us, 0), over(7 * us)}, skipped: 4},
		{name: "values without a code", text: head + "#5 1 0! 1! bq ! b1", events: []line.Event{low(5*us, 0), high(5*us, 0), over(5 * us)}, skipped: 3},
		{name: "a real value of a logic signal", text: head + "#5 r1.5 ! 1!", events: []line.Event{high(5*us, 0), over(5 * us)}, skipped: 1},
		{name: "words of no meaning", text: head + "#5 hello 1! $scope module a $end 0!", events: []line.Event{high(5*us, 0), low(5*us, 0), over(5 * us)}, skipped: 2},
		{name: "a comment that never ends", text: head + "#5 1! $comment 0! #6", events: []line.Event{high(5*us, 0), over(5 * us)}},
		{name: "no end of the definitions", text: "$timescale 1us $end $var wire 1 ! cc $end #1 1!", events: []line.Event{high(1*us, 0), over(1 * us)}},
		{name: "no end of the definitions, values first", text: "$timescale 1us $end $var wire 1 ! cc $end $dumpvars 0! $end #1 1!", events: []line.Event{low(0, 0), high(1*us, 0), over(1 * us)}},
		{name: "nothing after the definitions", text: head, events: []line.Event{over(0)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v, events := readVCD(t, tt.text, line.Options{})
			assert.Equal(t, tt.events, events)
			assert.Equal(t, tt.skipped, v.Stats().Skipped, v.Stats().Problems)
			assert.Equal(t, len(events)-1, v.Stats().Records)
		})
	}
}

// IEEE 1364-2005, clause 18.2.3.7: 1, 10 or 100 of s, ms, us, ns, ps, fs.
func TestTimescales(t *testing.T) {
	tests := map[string]time.Duration{
		"1 s": 6 * time.Hour, "10s": 60 * time.Hour, "100 s": 600 * time.Hour,
		"1ms": 21600 * time.Millisecond, "10 ms": 216 * time.Second, "100ms": 2160 * time.Second,
		"1us": 21600 * us, "10us": 216 * time.Millisecond, "100 us": 2160 * time.Millisecond,
		"1ns": 21600, "10ns": 216000, "100ns": 2160000,
		"1 ps": 21, "10ps": 216, "100ps": 2160,
		"1fs": 0, "10fs": 0, "100\nfs": 2,
	}
	for scale, at := range tests {
		t.Run(scale, func(t *testing.T) {
			_, events := readVCD(t, "$timescale "+scale+" $end $var reg 1 ! cc $end $enddefinitions $end #21600 1!", line.Options{})
			assert.Equal(t, high(at, 0), events[0])
		})
	}
	_, events := readVCD(t, "$var reg 1 ! cc $end $enddefinitions $end #24 1!", line.Options{RateHz: 24e3})
	assert.Equal(t, time.Millisecond, events[0].At.Round(us), "a stated rate takes the place of a missing timescale")
}

// TestSignals tells which signals are followed.
func TestSignals(t *testing.T) {
	const scoped = `$timescale 1ns $end
$scope module board $end
 $var wire 1 a clk $end
 $scope module port $end
  $var wire 1 b CC1 $end
  $var wire 1 c usb_cc2 $end
  $var wire 1 b alias $end
  $var wire 8 d probes [7:0] $end
  $var reg 1 e \odd.name+cc $end
  $var wire 1 e2 \x[3] $end
  $var wire 4 f4 up[0:3] $end
 $upscope $end
 $var real 64 g VBUS $end
 $var real 64 h ibus_a $end
 $var real 64 i temperature $end
 $var wire 1 j acc $end
$upscope $end
$var wire 1 k clk $end
$enddefinitions $end
#1 1b 0c b00100000 d
#2 b100000 d r5.25 g r1e-1 h r0.40 i b1 d b0100 f4
`
	tests := []struct {
		name, signal string
		want         []string
		fails        string
	}{
		{name: "by name", want: []string{"board.port.CC1", "board.port.usb_cc2", "board.port.odd.name+cc", "board.VBUS", "board.ibus_a"}},
		{name: "asked", signal: "usb_cc2", want: []string{"board.port.usb_cc2", "board.VBUS", "board.ibus_a"}},
		{name: "asked in capitals", signal: "USB_CC2", want: []string{"board.port.usb_cc2", "board.VBUS", "board.ibus_a"}},
		{name: "asked with scope", signal: "port.CC1", want: []string{"board.port.CC1", "board.VBUS", "board.ibus_a"}},
		{name: "escaped", signal: `\odd.name+cc`, want: []string{"board.port.odd.name+cc", "board.VBUS", "board.ibus_a"}},
		{name: "escaped with brackets", signal: `x[3]`, want: []string{"board.port.x[3]", "board.VBUS", "board.ibus_a"}},
		{name: "a bit", signal: "probes[5]", want: []string{"board.port.probes[5]", "board.VBUS", "board.ibus_a"}},
		{name: "a bit outside", signal: "probes[8]", fails: `expected a signal named "probes[8]", found board.clk, board.port.CC1, board.port.usb_cc2, board.port.alias, board.port.probes, board.port.odd.name+cc, board.port.x[3], board.port.up, board.VBUS, board.ibus_a, board.temperature, board.acc and 1 more`},
		{name: "to the letter before all else", signal: "board.clk", want: []string{"board.clk", "board.VBUS", "board.ibus_a"}},
		{name: "twice", signal: "clk", fails: `expected one signal named "clk", found board.clk, clk; give the name with its scopes`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v, err := line.NewVCD(strings.NewReader(scoped), line.Options{Signal: tt.signal})
			if tt.fails != "" {
				var unusable *line.UnusableError
				require.ErrorAs(t, err, &unusable)
				assert.Equal(t, tt.fails, err.Error())
				return
			}
			require.NoError(t, err)
			assert.Equal(t, tt.want, names(v))
		})
	}
	_, events := readVCD(t, scoped, line.Options{Signal: "probes[5]"})
	assert.Equal(t, []line.Event{high(1, 0), high(2, 0), volts(2, 1, 5.25), volts(2, 2, 0.1), low(2, 0), over(2)}, events)
	_, events = readVCD(t, scoped, line.Options{Signal: "up[1]"})
	assert.Equal(t, high(2, 0), events[2], "a range that counts upwards: up[1] is the second from the left")
}

func TestSignalsWithoutNames(t *testing.T) {
	v, events := readVCD(t, "$timescale 1ns $end $var wire 1 ! D0 $end $var wire 1 \" D1 $end $enddefinitions $end #1 1! #2 1\"", line.Options{})
	assert.Equal(t, []string{"D0", "D1"}, names(v), "no name says CC: all are looked at")
	assert.Equal(t, []line.Event{high(1, 0), high(2, 1), over(2)}, events)

	v, events = readVCD(t, "$timescale 1ns $end $var wire 3 ! D [2:0] $end $enddefinitions $end #1 b01x !", line.Options{})
	assert.Equal(t, []string{"D[0]", "D[1]", "D[2]"}, names(v), "no scalar: the bits of vectors")
	assert.Equal(t, []line.Event{unknown(1, 0), high(1, 1), low(1, 2), over(1)}, events)
	_, events = readVCD(t, "$timescale 1ns $end $var wire 3 ! D [2:0] $end $enddefinitions $end #1 b1 ! #2 bx !", line.Options{})
	assert.Equal(t, []line.Event{high(1, 0), low(1, 1), low(1, 2), unknown(2, 0), unknown(2, 1), unknown(2, 2), over(2)}, events, "a value is extended to the left: table 18-1")

	v, events = readVCD(t, "$timescale 1ns $end $var real 64 ! cc $end $enddefinitions $end #1 r0.41 ! #2 rnan ! #3 r1e9 !", line.Options{})
	assert.Equal(t, []line.Event{volts(1, 0, 0.41), over(3)}, events)
	assert.Equal(t, 2, v.Stats().Skipped)

	_, events = readVCD(t, "$timescale 1ns $end $var real 64 ! vbus $end $var wire 32 \" n $end $enddefinitions $end #1 r5.1 !", line.Options{Signal: ""})
	assert.Equal(t, volts(1, 32, 5.1), events[0], "VBUS alone, beside a vector's bits")
}

func TestVCDUnusable(t *testing.T) {
	const cc = "$var wire 1 ! cc $end "
	tests := []struct{ name, text, want string }{
		{"empty", "", "expected a declared signal ($var), found the end of the file"},
		{"no definitions", "#0 1!", `line 1: expected a Value Change Dump that begins with its definitions, found "#0"`},
		{"no signal", "$timescale 1ns $end $enddefinitions $end #0", "expected a declared signal ($var), found none"},
		{"no timescale", cc + "$enddefinitions $end #0 1!", "expected a $timescale of 1, 10 or 100 s, ms, us, ns, ps or fs, found none; give the ticks a second with --rate HZ if the file has no $timescale"},
		{"odd timescale", "$timescale 5 ns $end " + cc + "$enddefinitions $end #0 1!", `expected a $timescale of 1, 10 or 100 s, ms, us, ns, ps or fs, found "5ns"; give the ticks a second with --rate HZ if the file has no $timescale`},
		{"no values", "$timescale 1ns $end " + cc, "expected values after the definitions, found the end of the file"},
		{"only reals of no use", "$timescale 1ns $end $var real 64 ! t $end $enddefinitions $end #0", "expected a one-bit signal or a real one named cc, found t; name the CC line with --signal NAME"},
		{"only broken declarations", "$timescale 1ns $end $var wire 1 $end $var wire q ! cc $end $enddefinitions $end #0", "expected a declared signal ($var), found none"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := line.NewVCD(strings.NewReader(tt.text), line.Options{})
			var unusable *line.UnusableError
			require.ErrorAs(t, err, &unusable)
			assert.Equal(t, tt.want, err.Error())
		})
	}
}

type failing struct{ text io.Reader }

var errCable = errors.New("the disk is gone")

func (f failing) Read(p []byte) (int, error) {
	n, err := f.text.Read(p)
	if err != nil {
		return n, errCable
	}
	return n, nil
}

func TestVCDBreaksOff(t *testing.T) {
	v, err := line.NewVCD(failing{strings.NewReader("$timescale 1ns $end $var wire 1 ! cc $end $enddefinitions $end #1 1! #2 0!")}, line.Options{})
	require.NoError(t, err)
	var room [16]line.Event
	n, err := v.Read(room[:])
	require.NoError(t, err)
	assert.Equal(t, []line.Event{high(1, 0), low(2, 0), over(2)}, room[:n])
	_, err = v.Read(room[:])
	require.ErrorIs(t, err, errCable)
}

// TestVCDSeams reads one text through every size of read, so that words meet
// the end of the buffer.
func TestVCDSeams(t *testing.T) {
	var b strings.Builder
	b.WriteString("$timescale 1ns $end $var wire 1 long_code cc $end $var wire 1 ! other $end $enddefinitions $end\n")
	for i := range 20_000 {
		b.WriteString("#" + strings.Repeat("0", i%17) + itoa(i*7) + "\n" + itoa(i%2) + "long_code\n0!\n")
	}
	v, err := line.NewVCD(&stutter{text: b.String()}, line.Options{})
	require.NoError(t, err)
	events := all(t, v)
	require.Len(t, events, 20_001)
	for i, e := range events[:20_000] {
		require.Equal(t, line.Event{At: time.Duration(i * 7), Level: line.Low + line.Level(i%2)}, e)
	}
	assert.Zero(t, v.Stats().Skipped)
}

// stutter gives its text in pieces of changing length.
type stutter struct {
	text string
	step int
}

func (s *stutter) Read(p []byte) (int, error) {
	if s.text == "" {
		return 0, io.EOF
	}
	s.step = (s.step*7 + 3) % 1013
	n := copy(p[:min(len(p), s.step+1)], s.text)
	s.text = s.text[n:]
	return n, nil
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + itoa(n%10)
}

func TestNaNIsRefused(t *testing.T) {
	_, events := readVCD(t, "$timescale 1ns $end $var real 64 ! cc $end $enddefinitions $end #1 r+Inf ! r0.5 !", line.Options{})
	assert.False(t, math.IsInf(events[0].Value, 0))
}
