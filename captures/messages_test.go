package captures

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// The headers are of USB PD R3.2 V1.1, table 6.1; 0x0041 is a GoodCRC of a
// source that is a UFP, 0x41A1 announces four objects.
func TestMessageRows(t *testing.T) {
	at := time.Second
	goodCRC := []byte{0x41, 0}
	for _, tt := range []struct {
		rule, row string
		want      Message
		skipped   bool
		problem   string
	}{
		{rule: "a message", row: "1,SOP,4100,,,,", want: Message{Set: pd.SOP, Bytes: goodCRC}},
		{rule: "blanks and capitals", row: "1,SOP'',a1 12 2C 91 0108,,,,", want: Message{Set: pd.SOPDoublePrime, Bytes: []byte{0xA1, 0x12, 0x2C, 0x91, 1, 8}}},
		{rule: "everything", row: "1,SOP',4100,1.0005,424f168A,unacknowledged,sink", want: Message{Set: pd.SOPPrime, Bytes: goodCRC, End: at + 500*time.Microsecond, HasEnd: true, CRC: [4]byte{0x42, 0x4F, 0x16, 0x8A}, HasCRC: true, Status: Unacknowledged, By: SinkItself}},
		{rule: "discarded, by the source", row: "1,SOP'_Debug,4100,,,discarded,source", want: Message{Set: pd.SOPPrimeDebug, Bytes: goodCRC, Status: Discarded, By: SourceItself}},
		{rule: "an observer", row: "1,SOP''_Debug,4100,,,,observer", want: Message{Set: pd.SOPDoublePrimeDebug, Bytes: goodCRC, By: Observer}},
		{rule: "an end at the beginning", row: "1,SOP,4100,1,,,", want: Message{Set: pd.SOP, Bytes: goodCRC, End: at, HasEnd: true}},
		{rule: "blanks in the CRC", row: "1,SOP,4100,,42 4f 16 8a,,", want: Message{Set: pd.SOP, Bytes: goodCRC, CRC: [4]byte{0x42, 0x4F, 0x16, 0x8A}, HasCRC: true}},
		{rule: "a hard reset", row: "1,Hard_Reset,,,,,", want: Message{Set: pd.HardReset}},
		{rule: "a cable reset, row cut", row: "1,Cable_Reset", want: Message{Set: pd.CableReset}},
		{rule: "attach", row: "1,Attach,,,,,", want: Message{Marker: Attach}},
		{rule: "detach", row: "1,Detach,,,,,", want: Message{Marker: Detach}},
		{rule: "VBUS on", row: "1,VBUS_On,,,,,", want: Message{Marker: VBUSOn}},
		{rule: "VBUS off", row: "1,VBUS_Off,,,,,", want: Message{Marker: VBUSOff}},
		{rule: "a delimiter at the end of the row", row: "1,SOP,4100,,,,,", want: Message{Set: pd.SOP, Bytes: goodCRC}},
		{rule: "fewer objects than the header says", row: "1,SOP,a1410000,,,,", want: Message{Set: pd.SOP, Bytes: []byte{0xA1, 0x41, 0, 0}}, problem: "4"},
		{rule: "more objects than the header says", row: "1,SOP,410001020304,,,,", want: Message{Set: pd.SOP, Bytes: []byte{0x41, 0, 1, 2, 3, 4}}, problem: "0"},
		{rule: "bytes of a reset", row: "1,Hard_Reset,00,,,,", want: Message{Set: pd.HardReset}, problem: `expected no bytes with Hard_Reset, found "00"; they are left out`},
		{rule: "bytes of a marker", row: "1,Attach,zz,,,,", want: Message{Marker: Attach}, problem: `expected no bytes with Attach, found "zz"`},
		{rule: "an end before the beginning", row: "1,SOP,4100,0.9,,,", want: Message{Set: pd.SOP, Bytes: goodCRC}, problem: `expected an end_s after time_s, found "0.9"`},
		{rule: "an unreadable end", row: "1,SOP,4100,x,,,", want: Message{Set: pd.SOP, Bytes: goodCRC}, problem: `expected an end_s after time_s, found "x"`},
		{rule: "a short CRC", row: "1,SOP,4100,,42,,", want: Message{Set: pd.SOP, Bytes: goodCRC}, problem: "expected four CRC bytes in hexadecimal"},
		{rule: "an unknown status", row: "1,SOP,4100,,,lost,", want: Message{Set: pd.SOP, Bytes: goodCRC}, problem: `expected the status unacknowledged or discarded, found "lost"`},
		{rule: "an unknown recorder", row: "1,SOP,4100,,,,me", want: Message{Set: pd.SOP, Bytes: goodCRC}, problem: `expected by to be observer, source or sink, found "me"`},
		{rule: "no bytes", row: "1,SOP,,,,,", skipped: true, problem: "expected the two bytes of a header or more, found an empty cell"},
		{rule: "one byte", row: "1,SOP,81,,,,", skipped: true, problem: `expected the two bytes of a header or more, found "81"`},
		{rule: "half a byte", row: "1,SOP,810,,,,", skipped: true, problem: `expected bytes in hexadecimal, found "810"`},
		{rule: "a prefix", row: "1,SOP,0x4100,,,,", skipped: true, problem: `expected bytes in hexadecimal, found "0x4100"`},
		{rule: "more bytes than any packet has", row: "1,SOP," + strings.Repeat("00", maxMessageBytes+1) + ",,,,", skipped: true, problem: "expected at most 512 bytes, found 513"},
		{rule: "an unknown ordered set", row: "1,SOP*,4100,,,,", skipped: true, problem: "expected SOP, SOP'"},
		{rule: "another spelling", row: "1,sop,4100,,,,", skipped: true, problem: "expected SOP, SOP'"},
		{rule: "no ordered set", row: "1", skipped: true, problem: "expected SOP, SOP'"},
		{rule: "more cells than headings", row: "1,SOP,4100,,,,,1", skipped: true, problem: "expected 7 cells, found 8"},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			got := read(t, "time_s,sop,bytes,end_s,crc,status,by\n0.5,SOP,4100,,,,\n"+tt.row+"\n2,SOP,4100,,,,\n", Options{})
			require.Equal(t, KindMessages, got.stats.Kind)
			if tt.problem == "" {
				assert.Empty(t, got.stats.Problems)
			} else {
				require.Len(t, got.stats.Problems, 1)
				p := got.stats.Problems[0]
				assert.Equal(t, 3, p.Line)
				assert.Contains(t, p.Text, tt.problem)
				assert.True(t, p.HasAt)
				assert.Equal(t, at, p.At)
			}
			if tt.skipped {
				assert.Equal(t, 1, got.stats.Skipped)
				assert.Len(t, got.messages, 2)
				return
			}
			assert.Zero(t, got.stats.Skipped)
			require.Len(t, got.messages, 3)
			tt.want.At, tt.want.Line = at, 3
			assert.Equal(t, tt.want, got.messages[1])
		})
	}
}

func TestMessageTimes(t *testing.T) {
	for _, tt := range []struct {
		rule, text string
		want       []time.Duration
		skipped    []int
		timed      []bool // whether each problem has a time
	}{
		{"equal times are kept", "1,SOP,4100\n1,Hard_Reset,\n", []time.Duration{time.Second, time.Second}, nil, nil},
		{"earlier rows are skipped", "2,SOP,4100\n1,SOP,4100\n2,SOP,4100\n", []time.Duration{2 * time.Second, 2 * time.Second}, []int{3}, []bool{true}},
		{"a skipped row holds nothing back", "1,SOP,4100\n9,SOP,x\n2,SOP,4100\n", []time.Duration{time.Second, 2 * time.Second}, []int{3}, []bool{true}},
		{"below zero", "-1.5,SOP,4100\n0,SOP,4100\n", []time.Duration{-1500 * ms, 0}, nil, nil},
		{"seconds and nothing else", "1,SOP,4100\n,SOP,4100\n00:00:02,SOP,4100\n2024-01-01T00:00:00Z,SOP,4100\n1e30,SOP,4100\nNaN,SOP,4100\n", []time.Duration{time.Second}, []int{3, 4, 5, 6, 7}, []bool{false, false, false, false, false}},
		{"exponent", "1e-6,SOP,4100\n", []time.Duration{time.Microsecond}, nil, nil},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			got := read(t, "time_s,sop,bytes\n"+tt.text, Options{})
			var times []time.Duration
			for _, m := range got.messages {
				times = append(times, m.At)
			}
			var timed []bool
			for _, p := range got.stats.Problems {
				timed = append(timed, p.HasAt)
			}
			assert.Equal(t, tt.want, times)
			assert.Equal(t, tt.skipped, got.lines())
			assert.Equal(t, tt.timed, timed)
			assert.Equal(t, strings.Count(tt.text, "\n"), got.stats.Records+got.stats.Skipped)
		})
	}
}

// The list is told by three headings, in any order and dialect.
func TestMessageDialects(t *testing.T) {
	want := []Message{
		{At: 500 * ms, Set: pd.SOP, Bytes: []byte{0x41, 0}},
		{At: time.Second, Set: pd.HardReset},
	}
	for _, text := range []string{
		"time_s,sop,bytes\n0.5,SOP,4100\n1,Hard_Reset,\n",
		"BYTES;Time_S;note;Sop\n41 00;0,5;x;SOP\n;1;;Hard_Reset\n",
		"# heard on CC1\nrecorder 7\ntime_s|sop|bytes|\n\n0.5|SOP|\"4100\"|\n# more\n1|Hard_Reset||\n",
		"\ufefftime_s\tsop\tbytes\r\n0.5\tSOP\t4100\r\n1\tHard_Reset\t\r\n",
		"time_s,sop,bytes,note\n0.5,SOP,4100,\"two\nlines\"\n1,Hard_Reset,,\"stray\n",
	} {
		got := read(t, text, Options{})
		require.Empty(t, got.stats.Problems, text)
		require.Len(t, got.messages, len(want), text)
		for i, m := range got.messages {
			m.Line = 0
			assert.Equal(t, want[i], m, text)
		}
	}
}

func TestMessagesWithoutRows(t *testing.T) {
	for _, text := range []string{"time_s,sop,bytes", "# nothing heard\nBytes;SOP;TIME_S\n# end\n"} {
		got := read(t, text, Options{})
		assert.Equal(t, KindMessages, got.stats.Kind)
		assert.Zero(t, got.stats.Records+got.stats.Skipped)
	}
}

func TestForcedKind(t *testing.T) {
	both := "time_s,sop,bytes,voltage,current\n1,SOP,4100,5,1\n"
	assert.Len(t, read(t, both, Options{}).messages, 1)
	assert.Len(t, read(t, both, Options{As: KindMessages}).messages, 1)
	assert.Len(t, read(t, both, Options{As: KindMeter}).samples, 1)
	_, err := Open("log.csv", strings.NewReader("time,voltage,current\n0,5,0\n"), Options{As: KindMessages})
	assert.ErrorContains(t, err, "expected a header row that names time_s, sop and bytes")
	_, err = Open("log.csv", strings.NewReader("time_s,sop,bytes\n0,SOP,4100\n"), Options{As: KindMeter})
	assert.ErrorContains(t, err, "expected a header row that names time, voltage and current")
}
