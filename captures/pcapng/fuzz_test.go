package pcapng

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzReader holds the reader to: no crash, an end, offsets inside the file in
// the order of the file, and a prefix of the packets for a prefix of the file.
func FuzzReader(f *testing.F) {
	names, err := filepath.Glob("testdata/*.hex")
	require.NoError(f, err)
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(blocks(f, string(text)))
	}
	f.Add(blocks(f, section+messages+good))
	f.Add(blocks(f, section+samples+messages+"05000000 18000000 00000000 00000000 05000000 18000000"))
	f.Add(blocks(f, pcapHead+"01000000 20a10700 06000000 06000000 01000000 4100"))
	f.Add(blocks(f, "a1b23c4d 00020004 00000000 00000000 00040000 00000094 00000001 1dcd6500 00000014 00000014 01000000 0000000000001440 000000000000d03f"))
	f.Fuzz(func(t *testing.T, data []byte) {
		packets, offsets := fuzzed(t, data)
		cut := len(data)
		if cut > 0 {
			cut = rand.New(rand.NewPCG(uint64(len(data)), 0)).IntN(cut)
		}
		fewer, _ := fuzzed(t, data[:cut])
		if len(fewer) > len(packets) {
			t.Fatalf("%d packets of a part, %d of the whole", len(fewer), len(packets))
		}
		for i := range fewer {
			if !same(fewer[i], packets[i]) {
				t.Fatalf("packet %d: %v of a part, %v of the whole", i, fewer[i], packets[i])
			}
		}
		for i, at := range offsets {
			if at < 0 || at >= int64(len(data)) || i > 0 && at <= offsets[i-1] {
				t.Fatalf("packet %d lies at %d after %v, the file has %d bytes", i, at, offsets[:i], len(data))
			}
		}
	})
}

// fuzzed reads a file to its end.
func fuzzed(t *testing.T, data []byte) (packets []seen, offsets []int64) {
	damage := 0
	r, err := NewReader(bytes.NewReader(data), func(d Damage) {
		damage++
		if d.Offset < 0 || d.Offset >= int64(len(data)) || d.Text == "" {
			t.Fatalf("damage %+v in %d bytes", d, len(data))
		}
	})
	for err == nil {
		var p *Packet
		if p, err = r.Next(); err == nil {
			packets, offsets = append(packets, copied(p)), append(offsets, p.Offset)
		}
	}
	var broken *BrokenError
	var format *FormatError
	switch {
	case errors.Is(err, io.EOF):
	case errors.As(err, &broken) && broken.Offset >= 0 && broken.Offset < int64(len(data)):
	case errors.As(err, &format):
	default:
		t.Fatalf("an end that is not told apart: %v", err)
	}
	if most := len(data) / 12; len(packets) > most || damage > 3*most+8 {
		t.Fatalf("%d packets and %d pieces of damage in %d bytes", len(packets), damage, len(data))
	}
	return packets, offsets
}

// same compares, a gap being equal to itself.
func same(a, b seen) bool {
	bits := func(s *seen) (v, c bool) {
		v, c = s.Volts != s.Volts, s.Amps != s.Amps
		if v {
			s.Volts = 0
		}
		if c {
			s.Amps = 0
		}
		return v, c
	}
	av, ac := bits(&a)
	bv, bc := bits(&b)
	return av == bv && ac == bc && a == b
}
