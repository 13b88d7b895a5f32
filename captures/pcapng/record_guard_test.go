package pcapng

import (
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// The four forms of a file header and record, written by hand from
// draft-ietf-opsawg-pcap, sections 4 and 5: a GoodCRC by SOP and 1.5 s.
func TestClassicFiles(t *testing.T) {
	for name, hex := range map[string]string{
		"us, little":                     "d4c3b2a1 02000400 00000000 00000000 00000400 93000000  01000000 20a10700 06000000 06000000 01000000 4100",
		"us, big":                        "a1b2c3d4 00020004 00000000 00000000 00040000 00000093  00000001 0007a120 00000006 00000006 01000000 4100",
		"ns, little":                     "4d3cb2a1 02000400 00000000 00000000 00000400 93000000  01000000 0065cd1d 06000000 06000000 01000000 4100",
		"ns, big":                        "a1b23c4d 00020004 00000000 00000000 00040000 00000093  00000001 1dcd6500 00000006 00000006 01000000 4100",
		"a frame check length":           "d4c3b2a1 02000400 00000000 00000000 00000400 93000044  01000000 20a10700 06000000 06000000 01000000 4100",
		"longer than the snap length is": "d4c3b2a1 02000400 00000000 00000000 04000000 93000000  01000000 20a10700 06000000 06000000 01000000 4100",
	} {
		packets, damage, _, err := readAll(blocks(t, hex))
		assert.ErrorIs(t, err, io.EOF, name)
		assert.Empty(t, damage, name)
		assert.Equal(t, []seen{{At: 1500 * time.Millisecond, Link: LinkMessages, Set: pd.SOP, Data: "4100"}}, packets, name)
	}
}

func TestDamagedRecords(t *testing.T) {
	const record = "01000000 20a10700 06000000 06000000 01000000 4100\n"
	for name, tt := range map[string]struct{ bad, want string }{
		"more kept than there was": {"01000000 20a10700 06000000 05000000 01000000 4100", "6 bytes were kept of a packet of 5"},
		"a fraction over a second": {"01000000 40420f00 06000000 06000000 01000000 4100", "expected a fraction of a second below 1000000, found 1000000"},
		"unknown version":          {"01000000 20a10700 06000000 06000000 02000000 4100", "a packet has an unknown version: expected 1, found 2"},
	} {
		packets, damage, _, err := readAll(blocks(t, pcapHead+record+tt.bad+"\n"+record))
		assert.ErrorIs(t, err, io.EOF, name)
		assert.Len(t, packets, 2, name)
		assert.Equal(t, []Damage{{Offset: 24 + 22, Skipped: true, Text: tt.want}}, damage, name)
	}
	whole := blocks(t, pcapHead+record+record)
	for n := range whole {
		packets, _, _, err := readAll(whole[:n])
		require.Error(t, err)
		switch {
		case n < 24:
			assert.NotErrorIs(t, err, io.EOF, "cut at %d", n)
		case n == 24 || n == 46:
			assert.ErrorIs(t, err, io.EOF, "cut at %d", n)
		default:
			var broken *BrokenError
			require.ErrorAs(t, err, &broken, "cut at %d", n)
			assert.EqualValues(t, 24+22*len(packets), broken.Offset)
		}
	}
}

func TestOtherLinkTypesOfClassicFiles(t *testing.T) {
	// 1 is Ethernet; 65683 is 147 and a bit of the upper half.
	for hex, want := range map[string]int{"01000000": 0, "93000100": 1} {
		packets, damage, _, err := readAll(blocks(t, pcapHead[:len(pcapHead)-9]+hex+"01000000 20a10700 06000000 06000000 01000000 4100"))
		assert.ErrorIs(t, err, io.EOF)
		assert.Empty(t, damage)
		assert.Len(t, packets, want)
	}
}
