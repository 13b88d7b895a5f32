package captures

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures/pcapng"
	"portside/pd"
)

// millionPackets is a pcapng file of a million messages.
func millionPackets(tb testing.TB) []byte {
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{})
	in := &pcapng.Interface{Link: pcapng.LinkMessages, Name: "CC"}
	offer := []byte{0xa1, 0x11, 0x2c, 0x91, 0x01, 0x08}
	good := []byte{0x41, 0x00}
	for i := range 1_000_000 {
		data := offer
		if i%2 == 1 {
			data = good
		}
		p := &pcapng.MessagePacket{Set: pd.SOP, HasCRC: true}
		require.NoError(tb, w.Message(time.Duration(i)*time.Millisecond, in, p, data))
	}
	require.NoError(tb, w.Flush())
	return b.Bytes()
}

func BenchmarkPackets(b *testing.B) {
	data := millionPackets(b)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		in, err := Open("file", bytes.NewReader(data), Options{})
		require.NoError(b, err)
		for {
			if _, err := in.Next(); err != nil {
				break
			}
			n++
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds()/1e6, "Mpackets/s")
}
