package pcapng

import (
	"bytes"
	"encoding/hex"
	"errors"
	"io"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// What a file says to the byte, worked out by hand from
// draft-ietf-opsawg-pcapng, sections 4.1 to 4.3.
func TestWrittenFile(t *testing.T) {
	var b bytes.Buffer
	w := NewWriter(&b, Section{Application: "portside"})
	in := &Interface{Link: LinkMessages, Name: "CC1"}
	require.NoError(t, w.Message(1500*time.Millisecond, in, &MessagePacket{Set: pd.SOP}, []byte{0x41, 0x00}))
	require.NoError(t, w.Flush())
	want := blocks(t, `
0a0d0d0a 2c000000 4d3c2b1a 0100 0000 ffffffffffffffff
0400 0800 706f727473696465              # shb_userappl "portside"
0000 0000 2c000000
01000000 28000000 9300 0000 00000000
0200 0300 43433100                      # if_name "CC1"
0900 0100 09000000                      # if_tsresol 9
0000 0000 28000000
06000000 28000000 00000000 00000000 002f6859 06000000 06000000
01000000 4100 0000 28000000`)
	assert.Equal(t, hex.Dump(want), hex.Dump(b.Bytes()))
}

func TestWrittenFileReadsBack(t *testing.T) {
	for _, start := range []time.Duration{0, time.Nanosecond, -time.Nanosecond, -time.Second, -90 * time.Minute, 1_700_000_000 * time.Second} {
		var b bytes.Buffer
		w := NewWriter(&b, Section{})
		cc := &Interface{Link: LinkMessages, Name: "CC", Comments: []string{"one"}}
		meter := &Interface{Link: LinkSamples, Description: "inline"}
		require.NoError(t, w.Sample(start, meter, &SamplePacket{Volts: math.NaN(), Amps: 1e-9}))
		require.NoError(t, w.Message(start+time.Millisecond, cc, &MessagePacket{Set: pd.SOPPrime, HasCRC: true, CRC: [4]byte{1, 2, 3, 4}}, []byte{0x41, 0x00}))
		same := *cc
		require.NoError(t, w.Message(start+time.Hour, &same, &MessagePacket{Set: pd.CableReset}, nil))
		require.NoError(t, w.Flush())
		packets, damage, r, err := readAll(b.Bytes())
		assert.ErrorIs(t, err, io.EOF)
		assert.Empty(t, damage)
		require.Len(t, packets, 3)
		assert.Equal(t, []time.Duration{start, start + time.Millisecond, start + time.Hour}, []time.Duration{packets[0].At, packets[1].At, packets[2].At})
		assert.True(t, math.IsNaN(packets[0].Volts))
		assert.Equal(t, 1e-9, packets[0].Amps)
		assert.Equal(t, "01020304", packets[1].CRC)
		require.Len(t, r.Interfaces(), 2, "an interface that says the same is the same")
		assert.Equal(t, []string{"one"}, r.Interfaces()[1].Comments)
	}
}

func TestWritingToAFullDisk(t *testing.T) {
	w := NewWriter(full{}, Section{})
	in := &Interface{Link: LinkSamples}
	var err error
	for range 1000 {
		if err = w.Sample(0, in, &SamplePacket{}); err != nil {
			break
		}
	}
	assert.ErrorIs(t, err, errFull)
	assert.NoError(t, NewWriter(full{}, Section{}).Flush(), "nothing was begun")
}

var errFull = errors.New("no room")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }
