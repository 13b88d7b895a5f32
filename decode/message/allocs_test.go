package message_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// contractMessages is a negotiation as a recorder of the whole line shows it.
func contractMessages() []captures.Message {
	list := []captures.Message{
		sixObjects(), packet(pd.SOP, 0x0041), packet(pd.SOP, 0x1042, 0x2004B12C), packet(pd.SOP, 0x0161),
		packet(pd.SOP, 0x0363), packet(pd.SOP, 0x0241), packet(pd.SOP, 0x0566), packet(pd.SOP, 0x0441),
	}
	for i := range list {
		list[i].At = time.Duration(i) * 1234 * time.Microsecond
		list[i].HasCRC = true
		copy(list[i].CRC[:], pd.AppendCRC(append([]byte{}, list[i].Bytes...))[len(list[i].Bytes):])
	}
	return list
}

// TestNoAllocations: a line and its JSON cost no memory.
func TestNoAllocations(t *testing.T) {
	list := contractMessages()
	d := message.NewDecoder()
	var out []byte
	run := func() {
		for i := range list {
			out = d.Decode(&list[i]).AppendJSON(out[:0])
		}
	}
	run()
	assert.Zero(t, testing.AllocsPerRun(100, run))
}

func BenchmarkAppendJSON(b *testing.B) {
	list := contractMessages()
	d := message.NewDecoder()
	var out []byte
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		for i := range list {
			out = d.Decode(&list[i]).AppendJSON(out[:0])
		}
		n += len(list)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "messages/s")
}
