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

// Judging does not panic, takes nothing away and names a rule, a clause and an object that
// is there; what breaks a rule of R3.0 to R3.2 alike breaks it for a header's 3.x.
func FuzzValidate(f *testing.F) {
	f.Add(uint8(pd.SOP), uint8(pd.Revision3x), []byte{0xA1, 0x21, 0x2C, 0x91, 0x01, 0x08, 0x3C, 0x21, 0xDC, 0xC0})
	f.Add(uint8(pd.SOP), uint8(0), []byte{0xA9, 0x20, 0xF4, 0xD1, 0x07, 0x83, 0xF4, 0xC1, 0x08, 0x00})
	f.Add(uint8(pd.SOPPrime), uint8(pd.Revision32), []byte{0x8F, 0x51, 0x41, 0xA0, 0x00, 0xFF, 0x34, 0x12, 0x60, 0x18})
	f.Add(uint8(pd.SOP), uint8(pd.Revision20), []byte{0xB0, 0x95, 0x02, 0x80, 0x04, 0x00})
	f.Add(uint8(pd.CableReset), uint8(0), []byte{})
	f.Fuzz(func(t *testing.T, set, revision uint8, b []byte) {
		m, err := pd.ParseMessage(pd.OrderedSet(set), b)
		if errors.Is(err, pd.ErrNoHeader) {
			return
		}
		list := m.Validate(pd.Revision(revision))
		checkViolations(t, list, max(m.NumObjects(), len(m.Block())/4, 7))
		if err != nil && !hasRule(list, pd.RuleLength) {
			t.Fatalf("%v, but no violation", err)
		}
		if list := m.Validate(pd.Revision3x); len(list) > 0 {
			for _, r := range []pd.Revision{pd.Revision30, pd.Revision31, pd.Revision32} {
				if len(m.Validate(r)) == 0 {
					t.Fatalf("%v in 3.x, nothing in %s", list, r)
				}
			}
		}
	})
}

// Whole data blocks of every extended message, known to the standard or not.
func FuzzValidateBlock(f *testing.F) {
	f.Add(uint8(pd.EPRSourceCapabilities), false, objectBytes(0x0081912C, 0, 0, 0, 0, 0, 0, 0x0008C1F4, 0xD230968C))
	f.Add(uint8(pd.EPRSinkCapabilities), false, objectBytes(0x0001912C, 0, 0, 0, 0, 0, 0, 0xD3C096F0))
	f.Add(uint8(pd.Status), true, []byte{41, 1})
	f.Add(uint8(pd.ManufacturerInfo), false, []byte{1, 2, 3, 4, 'a', 0})
	f.Add(uint8(pd.CountryCodes), false, []byte{1, 0, 'C', 'N'})
	f.Add(uint8(pd.SourceCapabilitiesExtended), false, make([]byte, 25))
	f.Fuzz(func(t *testing.T, mt uint8, plug bool, block []byte) {
		checkViolations(t, pd.ValidateBlock(pd.MessageType(mt), block, plug, 0), len(block)/4)
	})
}

// A request against any offer.
func FuzzValidateRequest(f *testing.F) {
	f.Add(uint32(0x1304B12C), uint32(0x0801912C), true, uint8(0))
	f.Add(uint32(0x5203843C), uint32(0xC0DC213C), false, uint8(pd.Revision32))
	f.Add(uint32(0x9384C064), uint32(0xD230968C), true, uint8(pd.Revision32))
	f.Add(uint32(0x1B0960FA), uint32(0xE004B0FA), false, uint8(pd.Revision30))
	f.Fuzz(func(t *testing.T, request, offered uint32, epr bool, revision uint8) {
		r, rev := pd.RDO(request), pd.Revision(revision)
		offer := make([]pd.PDO, 15)
		for i := range offer {
			offer[i] = pd.PDO(offered)
		}
		alone, against := r.Validate(epr, rev), r.ValidateFor(offer, epr, rev)
		checkViolations(t, against, 0)
		if len(against) < len(alone) {
			t.Fatalf("%v alone, %v against an offer", alone, against)
		}
		checkViolations(t, pd.PDO(offered).Validate(rev), 0)
		checkViolations(t, pd.SinkPDO(offered).Validate(rev), 0)
		checkViolations(t, pd.VDMHeader(request).Validate(), 0)
	})
}

func checkViolations(t *testing.T, list []pd.Violation, objects int) {
	for _, v := range list {
		switch {
		case v.Rule.String() == "unknown rule" || v.Clause == "":
			t.Fatalf("%+v says nothing", v)
		case v.Object > objects:
			t.Fatalf("%v, of %d objects", v, objects)
		case v.Rule == pd.RuleReservedBits && v.Bits == 0:
			t.Fatalf("%v without bits", v)
		}
	}
}

func hasRule(list []pd.Violation, r pd.Rule) bool {
	for _, v := range list {
		if v.Rule == r {
			return true
		}
	}
	return false
}
