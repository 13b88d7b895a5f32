package pd_test

import (
	"bytes"
	"errors"
	"testing"

	"portside/pd"
)

// Whatever comes, ParseMessage does not panic, loses no byte, and a message it accepts
// parses the same again; what a view takes apart comes back bit by bit.
func FuzzParseMessage(f *testing.F) {
	// Recorded messages; sources in testdata/pd of the module.
	f.Add(uint8(pd.SOP), []byte{0xA1, 0x11, 0x2C, 0x91, 0x01, 0x27})
	f.Add(uint8(pd.SOP), []byte{0xB0, 0x95, 0x02, 0x80, 0x04, 0x00})
	f.Add(uint8(pd.SOP), []byte{0xA2, 0x82, 0x07, 0x00, 0xAA})
	f.Add(uint8(pd.SOPPrime), []byte{0x8F, 0x10, 0x01, 0xA8, 0x00, 0xFF})
	f.Add(uint8(pd.HardReset), []byte{})
	f.Add(uint8(0), []byte{0x01})
	f.Fuzz(func(t *testing.T, set uint8, b []byte) {
		m, err := pd.ParseMessage(pd.OrderedSet(set), b)
		if errors.Is(err, pd.ErrNoHeader) {
			return
		}
		out := m.Bytes()
		if !bytes.Equal(out, b) {
			t.Fatalf("%x came back as %x", b, out)
		}
		_ = m.Type().String()
		if len(m.Block()) > len(m.Body) {
			t.Fatal("block longer than body")
		}
		if err == nil {
			if !m.Set.IsReset() && m.Header.Class() == pd.Data && m.NumObjects() != m.Header.Objects() {
				t.Fatal("accepted with another number of objects")
			}
			if n := len(m.AppendSymbols(nil)); set >= uint8(pd.SOP) && set <= uint8(pd.CableReset) && pd.PreambleBits+5*n != m.LineBits() {
				t.Fatalf("%d symbols, %d bits", n, m.LineBits())
			}
		}
		for _, o := range m.Objects() {
			checkRoundTrips(t, o)
		}
	})
}

func FuzzObjectRoundTrips(f *testing.F) {
	for _, w := range []uint32{0, 0xFFFFFFFF, 0x0801912C, 0x4540F03C, 0x86E17CC8, 0xC9A43264, 0xD3C096F0, 0xE004B145, 0xFF00A041} {
		f.Add(w)
	}
	f.Fuzz(checkRoundTrips)
}

func checkRoundTrips(t *testing.T, w uint32) {
	for _, r := range roundTrips {
		if got := r.do(w); got != w {
			t.Fatalf("%s: 0x%08X came back as 0x%08X", r.name, w, got)
		}
	}
}
