package pcapng

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// placed is a packet with where it was found.
type placed struct {
	seen
	Offset int64
}

// found gives the packets of a source with their places.
func found(t *testing.T, src io.Reader) (packets []placed, damage []Damage) {
	t.Helper()
	r, err := NewReader(src, func(d Damage) { damage = append(damage, d) })
	require.NoError(t, err)
	for {
		p, err := r.Next()
		if errors.Is(err, io.EOF) {
			return packets, damage
		}
		require.NoError(t, err)
		packets = append(packets, placed{copied(p), p.Offset})
	}
}

// Packets that are handed on together are those that come one at a time, with
// their places, in the section they stand in. A source of single bytes never
// shows two packets at once.
func TestPacketsTogetherAreThoseOneByOne(t *testing.T) {
	const sample = "06000000 34000000 00000000 00000000 00105e5f 14000000 14000000 01000000 0000000000001440 000000000000d03f 34000000\n"
	later := strings.Replace(good, "00000000 01000000", "00000000 07000000", 1)
	broken := strings.Replace(good, "01000000 4100", "02000000 4100", 1)
	large := "06000000 30200000 00000000 00000000 01000000 06000000 06000000 01000000 4100 0000" + strings.Repeat("00", 0x2008) + "30200000\n"
	for name, text := range map[string]string{
		"many":                  section + messages + strings.Repeat(good+later, 500),
		"of an unknown link":    section + "01000000 14000000 93010000 00000000 14000000\n" + strings.Repeat(good, 5),
		"damaged among them":    section + messages + strings.Repeat(good+broken+later, 300),
		"new sections":          strings.Repeat(section+messages+good+later+section+samples+sample+sample, 100),
		"longer than a buffer":  section + messages + strings.Repeat(good+large+later, 20),
		"a section passed over": section + messages + good + strings.Replace(section, "01000000", "02000000", 1) + good + section + messages + later,
	} {
		data := blocks(t, text)
		together, damage := found(t, bytes.NewReader(data))
		alone, told := found(t, iotest.OneByteReader(bytes.NewReader(data)))
		assert.Equal(t, alone, together, name)
		assert.Equal(t, told, damage, name)
	}
	together, _ := found(t, bytes.NewReader(blocks(t, section+messages+good+later+good)))
	require.Len(t, together, 3)
	for i, p := range together {
		assert.EqualValues(t, afterHead+40*i, p.Offset)
	}
}
