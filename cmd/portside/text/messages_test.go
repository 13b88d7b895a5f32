package text

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/message"
)

func listed(t *testing.T, lines ...MessageLine) string {
	t.Helper()
	var out bytes.Buffer
	m := NewMessages(&out, Look{})
	for _, l := range lines {
		require.NoError(t, m.Add(l))
	}
	require.NoError(t, m.Close())
	for _, line := range strings.Split(out.String(), "\n") {
		assert.LessOrEqual(t, columns(line), DefaultWidth, line)
	}
	return out.String()
}

func TestMessagesRestartAtAttach(t *testing.T) {
	const s = time.Second
	text := listed(t,
		MessageLine{At: 5 * s, End: 5 * s, Text: "one"},
		MessageLine{At: 7 * s, End: 7 * s, Attach: true, Text: "Attach"},
		MessageLine{At: 7250 * time.Millisecond, Who: "source", Text: "two", Problems: []string{"cut short"}})
	assert.Contains(t, text, "Times count from the first message, at 5.000000 s")
	assert.Contains(t, text, "Times count from Attach, at 7.000000 s")
	assert.Contains(t, text, "0.2500 s +250.00 ms  source     two")
	assert.Contains(t, text, "problem: cut short.")
}

func TestLimitWords(t *testing.T) {
	const ms = time.Millisecond
	cases := []struct {
		in   message.Limited
		want string
	}{
		{message.Limited{Name: "tTransmit", Measured: 80 * time.Microsecond, Max: 195 * time.Microsecond, Verdict: message.Kept}, "tTransmit max 0.195 ms: kept"},
		{message.Limited{Name: "tSrcTransReq (SPR)", Since: "the Accept", Measured: 210100 * time.Microsecond, Max: 325 * ms, Verdict: message.Kept}, "tSrcTransReq (SPR) 210.1 ms after the Accept, max 325 ms: kept"},
		{message.Limited{Name: "tSinkRequest", Since: "the Wait", Measured: 50 * ms, Min: 100 * ms, Verdict: message.Broken}, "tSinkRequest 50 ms after the Wait, min 100 ms"},
		{message.Limited{Name: "tTypeCSendSourceCap", Measured: 150 * ms, Min: 100 * ms, Max: 200 * ms, Verdict: message.TooClose}, "tTypeCSendSourceCap 100 to 200 ms: too close to call"},
		{message.Limited{Name: "tReceiverResponse", Since: "its GoodCRC", Measured: 2 * ms, Max: 15 * ms, Verdict: message.NotObserved}, "tReceiverResponse 2 ms after its GoodCRC, max 15 ms: not observed"},
		{message.Limited{Name: "tPPSTimeout", Measured: 13 * time.Second, Min: 12 * time.Second, Max: 15 * time.Second, Verdict: message.Kept}, "tPPSTimeout 12 to 15 s: kept"},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, limitWords(&c.in))
	}
	text := listed(t, MessageLine{Text: "one"}, MessageLine{At: ms, Text: "two", Limit: &cases[2].in})

	assert.Contains(t, text, "broken: tSinkRequest 50 ms after the Wait, min\n")
	assert.Contains(t, text, " 100 ms.\n", "the figure goes with its unit")
}

func TestBitsOfABlock(t *testing.T) {
	for want, f := range map[string]message.Field{
		"byte 3: 1":         {High: 25, Low: 25},
		"byte 4: 2-1":       {High: 34, Low: 33},
		"byte 2":            {High: 23, Low: 16},
		"bytes 0-1":         {High: 15, Low: 0},
		"bytes 14-15: 10-5": {High: 122, Low: 117},
		"bytes 4-7":         {High: 63, Low: 32},
		"byte 15: 7":        {High: 127, Low: 127},
		"bytes 4-11":        {High: 95, Low: 32},
		"byte 23: 6-0":      {High: 190, Low: 184},
	} {
		assert.Equal(t, want, byteWords(f))
	}
}

// TestEveryRowOfADetail: a long table is not cut at the rows of a report.
func TestEveryRowOfADetail(t *testing.T) {
	block := make([]byte, 25)
	o := message.Object{Kind: message.KindSourceCapabilitiesExtended, Block: block}
	fields := o.AppendDetail(nil)
	text := listed(t, MessageLine{Text: "x", Parts: []MessagePart{{Name: "block of 25 bytes", Block: true, Fields: fields}}})
	for _, f := range fields {
		assert.Contains(t, text, f.Name)
	}
}

func TestSequencesPage(t *testing.T) {
	var out bytes.Buffer
	s := NewSequences(&out, Look{})
	s.Origin(2*time.Second, false)
	require.NoError(t, s.Add(&message.Sequence{Name: "power negotiation", Start: 2 * time.Second, End: 2100 * time.Millisecond, Tries: 3, Outcome: "contract: 9 V 3 A", Complete: true}))
	s.Origin(3*time.Second, false)
	s.Origin(4*time.Second, true)
	require.NoError(t, s.Close())
	text := out.String()
	assert.Contains(t, text, "   0.0000 s  100.00 ms  power negotiation: contract: 9 V 3 A (3 tries)\n")
	assert.Contains(t, text, "Times count from Attach, at 4.000000 s")
	assert.NotContains(t, text, "3.000000")
}
