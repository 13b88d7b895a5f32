package pcapng

import (
	"bytes"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// blocks makes bytes of hexadecimal with comments behind #.
func blocks(t testing.TB, text string) []byte {
	t.Helper()
	var digits strings.Builder
	for line := range strings.Lines(text) {
		code, _, _ := strings.Cut(line, "#")
		digits.WriteString(strings.Join(strings.Fields(code), ""))
	}
	b, err := hex.DecodeString(digits.String())
	require.NoError(t, err)
	return b
}

// file reads one of the hand-written files in testdata.
func file(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return blocks(t, string(text))
}

// seen is a packet copied out of the reader's memory.
type seen struct {
	At       time.Duration
	Link     LinkType
	Name     string
	Set      pd.OrderedSet
	Data     string
	CRC      string
	CRCWrong bool
	Volts    float64
	Amps     float64
	Cut      int
}

func copied(p *Packet) seen {
	s := seen{At: p.At, Link: p.Interface.Link, Name: p.Interface.Name, Cut: p.Cut}
	if m := p.Message; m != nil {
		s.Set, s.Data, s.CRCWrong = m.Set, hex.EncodeToString(m.LayerPayload()), m.CRCWrong
		if m.HasCRC {
			s.CRC = hex.EncodeToString(m.CRC[:])
		}
	}
	if p.Sample != nil {
		s.Volts, s.Amps = p.Sample.Volts, p.Sample.Amps
	}
	return s
}

// readAll gives the packets, the damage and what the file ended with.
func readAll(data []byte) (packets []seen, damage []Damage, r *Reader, err error) {
	r, err = NewReader(bytes.NewReader(data), func(d Damage) { damage = append(damage, d) })
	if err != nil {
		return nil, damage, nil, err
	}
	for {
		p, err := r.Next()
		if err != nil {
			return packets, damage, r, err
		}
		packets = append(packets, copied(p))
	}
}

// The two files say the same in either byte order; the packets' own bytes are
// the same in both, as their layout does not follow the file's.
func TestBothByteOrders(t *testing.T) {
	want := []seen{
		{At: 1500 * time.Millisecond, Link: LinkMessages, Name: "CC1", Set: pd.SOP, Data: "a1112c910108", CRC: "e8a6f73f"},
		{At: 1500900 * time.Microsecond, Link: LinkMessages, Name: "CC1", Set: pd.SOP, Data: "4100"},
		{At: 1600 * time.Millisecond, Link: LinkSamples, Name: "VBUS", Volts: 5, Amps: 0.25},
		{At: 2 * time.Second, Link: LinkMessages, Name: "CC1", Set: pd.HardReset},
	}
	for _, name := range []string{"little.hex", "big.hex"} {
		packets, damage, r, err := readAll(file(t, name))
		assert.ErrorIs(t, err, io.EOF, name)
		assert.Equal(t, want, packets, name)
		assert.Empty(t, damage, name)
		assert.Equal(t, Section{Hardware: "bench", Comments: []string{"first", "second"}}, r.Section(), name)
		require.Len(t, r.Interfaces(), 2, name)
		assert.Equal(t, "at the plug", r.Interfaces()[0].Description, name)
		assert.Equal(t, []string{"flipped"}, r.Interfaces()[0].Comments, name)
	}
}
