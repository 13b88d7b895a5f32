package pd_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// The places where the standard contradicts itself, or its documents each other, and the
// reading taken here. Each would change a verdict if it were read the other way.
func TestSlipsOfTheStandard(t *testing.T) {
	limits := func(p pd.Parameter, r pd.Revision) [2]float64 {
		l := p.Limits(r)
		return [2]float64{l.MinSI(), l.MaxSI()}
	}
	same := func(t *testing.T, want, got [2]float64) {
		t.Helper()
		for i := range want {
			if math.IsNaN(want[i]) {
				assert.True(t, math.IsNaN(got[i]), "limit %d is %g", i, got[i])
				continue
			}
			assert.InDelta(t, want[i], got[i], 1e-12)
		}
	}
	none := math.NaN()

	t.Run("battery is 01b and variable 10b: R3.2 V1.1 tables 6.11 and 6.12 against 6.7, 6.18, 6.19 and R3.0", func(t *testing.T) {
		_, ok := pd.PDO(0x4540F03C).Battery()
		assert.True(t, ok)
		_, ok = pd.PDO(0x86414064).Variable()
		assert.True(t, ok)
	})
	t.Run("tSenderResponse by revision: R3.0 24 to 30, R3.1 26 to 32, R3.2 27 to 33 ms", func(t *testing.T) {
		same(t, [2]float64{0.024, 0.030}, limits(pd.TSenderResponse, pd.Revision20))
		same(t, [2]float64{0.024, 0.030}, limits(pd.TSenderResponse, pd.Revision30))
		same(t, [2]float64{0.026, 0.032}, limits(pd.TSenderResponse, pd.Revision31))
		same(t, [2]float64{0.027, 0.033}, limits(pd.TSenderResponse, pd.Revision32))
	})
	t.Run("tRetry: 75 µs in R3.0 V1.1 table 6-53, 195 µs in R3.2 V1.1 table 6.68; a pair of R3 gets the 195", func(t *testing.T) {
		same(t, [2]float64{none, 75e-6}, limits(pd.TRetry, pd.Revision30))
		wide := pd.TRetry.Widest(pd.Revision30, pd.Revision31, pd.Revision32)
		assert.InDelta(t, 195e-6, wide.MaxSI(), 1e-12)
	})
	t.Run("tVCONNSourceOn: 100 ms in R3.0 V1.1, 50 ms in R3.2 V1.1", func(t *testing.T) {
		same(t, [2]float64{none, 0.1}, limits(pd.TVCONNSourceOn, pd.Revision30))
		same(t, [2]float64{none, 0.05}, limits(pd.TVCONNSourceOn, pd.Revision32))
	})
	t.Run("tPPSTimeout: up to 15 s in R3.0 V1.1, 12 to 15 s in R3.2 V1.1", func(t *testing.T) {
		same(t, [2]float64{none, 15}, limits(pd.TPPSTimeout, pd.Revision30))
		same(t, [2]float64{12, 15}, limits(pd.TPPSTimeout, pd.Revision32))
	})
	t.Run("PPS steps: 25 ms for every one in R3.0 V1.1 table 7-19, 275 ms for large ones in R3.2 V1.1", func(t *testing.T) {
		same(t, [2]float64{0, 0.025}, limits(pd.TPpsSrcTransLarge, pd.Revision30))
		same(t, [2]float64{0, 0.275}, limits(pd.TPpsSrcTransLarge, pd.Revision32))
	})
	t.Run("PPS minimum: 3 V in R3.0 V1.1 table 10-8, 5 V in R3.2 V1.1 table 10.10, 3.3 V between", func(t *testing.T) {
		w, ok := pd.PPSRange(pd.Revision30, 9000)
		assert.True(t, ok)
		assert.Equal(t, pd.Window{Min: 3, Max: 11}, w)
		w, _ = pd.PPSRange(pd.Revision32, 9000)
		assert.Equal(t, pd.Window{Min: 5, Max: 11}, w)
		assert.Empty(t, pd.PDO(0xC0DC213C).Validate(pd.Revision31), "3.3 V")
	})
	t.Run("sink standby: 2.5 W in R3.0 V1.1, 500 mA in R3.2 V1.1", func(t *testing.T) {
		assert.Equal(t, 2.5, pd.PSnkStdby.Limits(pd.Revision30).MaxSI())
		assert.False(t, pd.PSnkStdby.Limits(pd.Revision32).Max.Given)
		assert.Equal(t, 0.5, pd.ISnkStdby.Limits(pd.Revision32).MaxSI())
		assert.False(t, pd.ISnkStdby.Limits(pd.Revision30).Max.Given)
	})
	t.Run("cSnkBulk: 1 to 10 µF in R3.0 V1.1 table 7-20; R3.2 refers on, 10 µF is left", func(t *testing.T) {
		same(t, [2]float64{none, 10e-6}, limits(pd.CSnkBulk, pd.Revision32))
		same(t, [2]float64{1e-6, 10e-6}, limits(pd.CSnkBulk, pd.Revision30))
	})
	t.Run("cSnkBulkPd: 1 µF at least in R3.0 V1.1, no minimum in R3.2 V1.1", func(t *testing.T) {
		same(t, [2]float64{1e-6, 100e-6}, limits(pd.CSnkBulkPd, pd.Revision30))
		same(t, [2]float64{none, 100e-6}, limits(pd.CSnkBulkPd, pd.Revision32))
	})
	t.Run("tSrcTransient below 60 mA: 5 ms in R3.0 V1.1, 150 ms in R3.2 V1.1; a pair of R3 gets the 150", func(t *testing.T) {
		wide := pd.TSrcTransientLightLoad.Widest(pd.Revision30, pd.Revision32)
		assert.InDelta(t, 0.15, wide.MaxSI(), 1e-12)
	})
	t.Run("sizes of blocks by revision: all are taken", func(t *testing.T) {
		for size, ok := range map[int]bool{23: false, 24: true, 25: true} {
			_, got := pd.ParseSCEDB(make([]byte, size))
			assert.Equal(t, ok, got, "Source_Capabilities_Extended, %d bytes", size)
		}
		for size, ok := range map[int]bool{4: false, 5: true, 6: true, 7: true} {
			_, got := pd.ParseSDB(make([]byte, size))
			assert.Equal(t, ok, got, "Status, %d bytes", size)
		}
		for size, ok := range map[int]bool{20: false, 21: true, 24: true} {
			_, got := pd.ParseSKEDB(make([]byte, size))
			assert.Equal(t, ok, got, "Sink_Capabilities_Extended, %d bytes", size)
		}
	})
	t.Run("nRetryCount: 3 in R2.0, 2 in R3", func(t *testing.T) {
		assert.Equal(t, 3.0, pd.NRetryCount.Limits(pd.Revision20).Nom.Value)
		assert.Equal(t, 2.0, pd.NRetryCount.Limits(pd.Revision3x).Nom.Value)
	})
	t.Run("nCapsCount: 50 in R3.2 V1.1 table 6.70, 33 derived in the Linux headers", func(t *testing.T) {
		assert.Equal(t, 50.0, pd.NCapsCount.Limits(pd.Revision32).Nom.Value)
	})
	t.Run("CC at the sink: the wider ranges of Type-C R2.0, those of R2.4 lie within", func(t *testing.T) {
		for _, edge := range []float64{0.25, 0.277, 0.61} {
			assert.Equal(t, pd.CCDefault, pd.CCMeaning(edge), "%g V", edge)
		}
		for _, edge := range []float64{0.70, 0.746, 1.16} {
			assert.Equal(t, pd.CC1A5, pd.CCMeaning(edge), "%g V", edge)
		}
		for _, edge := range []float64{1.31, 1.369, 2.04} {
			assert.Equal(t, pd.CC3A0, pd.CCMeaning(edge), "%g V", edge)
		}
	})
	t.Run("20 V: 21.55 V in the text of the cable object is damage, 21.5 V of the tables is the window", func(t *testing.T) {
		_, transient := pd.FixedWindow(20_000)
		assert.Equal(t, 21.5, transient.Max)
		assert.Equal(t, 21.55, pd.VCable20V.Limits(pd.Revision32).MaxSI())
	})
	t.Run("5 V: vSrcNew ends at 5.25 V, vSafe5V at 5.5 V; the wider one holds", func(t *testing.T) {
		static, _ := pd.FixedWindow(5000)
		assert.Equal(t, pd.Window{Min: 4.75, Max: 5.5}, static)
	})
	t.Run("EPR capabilities: number of objects of section 6.5.15.1 or of the chunk rule, Data Size counts", func(t *testing.T) {
		for _, header := range []string{"B1CF", "B1DF"} {
			m, err := pd.ParseMessage(pd.SOP, unhex(t, header+"28880000F4C11800F4411B00F4011F00"))
			require.NoError(t, err)
			assert.Len(t, m.Block(), 14)
			assert.Empty(t, m.Validate(0))
		}
	})
	t.Run("EPR with a present PDP up to 100 W: section 10.2.3.3 lets it out, tables 10.13 and 10.14 have offers down to 36 W", func(t *testing.T) {
		r, ok := pd.EPRFixedCurrent(200_000, 72_000, 28_000)
		assert.True(t, ok)
		assert.True(t, r.Contains(2570), "2.57 A in table 10.14")
	})
	t.Run("Data_Reset_Complete: both in table 6.5, the DFP in section 6.3.15; nobody is accused", func(t *testing.T) {
		for _, role := range []pd.PowerRole{pd.Source, pd.Sink} {
			assert.Empty(t, at(pd.Revision3x, pd.DataResetComplete, role).Validate(0))
		}
	})
	t.Run("hot-swappable batteries of an Alert: 4 to 7 in table 6.47, 0 to 3 in section 6.4.6.3", func(t *testing.T) {
		assert.Equal(t, uint8(1), pd.ADO(1<<16).Fields().HotSwappableBatteries, "bit 0 is battery 4")
	})
	t.Run("position of a request: four bits in R3.2 V1.1 table 6.23, three in R3.0 V1.1", func(t *testing.T) {
		assert.Equal(t, 9, pd.RDO(0x90000000).PositionFor(pd.Revision3x))
		assert.Equal(t, 1, pd.RDO(0x90000000).PositionFor(pd.Revision30))
	})
	t.Run("FF01h: another name in table 6.31 than elsewhere, the same value", func(t *testing.T) {
		assert.Equal(t, uint16(0xFF01), pd.SVIDDisplayPort)
	})
}

// R2.0 has four bits of message type and no extended messages (from memory).
func TestHeaderTypeByRevision(t *testing.T) {
	tests := []struct {
		header   pd.Header
		revision pd.Revision
		want     pd.MessageType
	}{
		{0x1042, pd.Revision20, pd.Request},
		{0x0053, pd.Revision20, pd.Accept},             // bit 4 is reserved
		{0x0053, pd.Revision3x, pd.FRSwap},             // and a bit of the type
		{0x9042, pd.Revision20, pd.Request},            // bit 15 is reserved
		{0x9042, pd.Revision30, pd.Status},             // and says extended
		{0x8042, pd.Revision10, pd.GotoMin},            // no objects: control
		{0x5161, pd.Revision20, pd.SourceCapabilities}, // the sink's answer brings R2.0
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, tt.header.TypeFor(tt.revision), "0x%04X at %s", uint16(tt.header), tt.revision)
	}
	for i := range 1 << 16 {
		h := pd.Header(i)
		if h.TypeFor(pd.Revision32) != h.Type() || h.TypeFor(0) != h.Type() || h.TypeFor(pd.Revision20).Class() == pd.Extended {
			require.Fail(t, "type by revision", "0x%04X", i)
		}
	}
}

func TestDefinedIn(t *testing.T) {
	tests := []struct {
		mt    pd.MessageType
		first pd.Revision
	}{
		{pd.SoftReset, pd.Revision10},
		{pd.VendorDefined, pd.Revision10},
		{pd.NotSupported, pd.Revision30}, // USB PD R3.2 V1.1, table 6.5: R3 only
		{pd.Status, pd.Revision30},
		{pd.GetRevision, pd.Revision31},
		{pd.EPRMode, pd.Revision31},
		{pd.EPRSourceCapabilities, pd.Revision31},
	}
	order := []pd.Revision{pd.Revision10, pd.Revision20, pd.Revision30, pd.Revision31, pd.Revision32}
	for _, tt := range tests {
		since := false
		for _, r := range order {
			since = since || r == tt.first
			assert.Equal(t, since, tt.mt.DefinedIn(r), "%s in %s", tt.mt, r)
		}
		assert.True(t, tt.mt.DefinedIn(pd.Revision3x))
		assert.True(t, tt.mt.DefinedIn(0))
	}
	assert.False(t, pd.MessageType(0).DefinedIn(pd.Revision32))
}

// The adjustable supplies' ranges and currents: USB PD R3.2 V1.1, tables 10.2 with note 5,
// 10.9 and 10.15, and the worked offers of section 10.2.3 (50 W: 3 A and 2.5 A).
func TestAdjustableSupplyRanges(t *testing.T) {
	wide, _ := pd.PDO(0xE004B0FA).SPRAVS()
	lowest, highest := wide.Range()
	assert.Equal(t, [2]pd.Millivolts{9000, 20_000}, [2]pd.Millivolts{lowest, highest})
	narrow, _ := pd.PDO(0xE0042C00).SPRAVS()
	_, highest = narrow.Range()
	assert.Equal(t, pd.Millivolts(15_000), highest)

	for v, want := range map[pd.Millivolts]pd.Milliamps{9000: 3000, 14_900: 3000, 15_000: 2500, 20_000: 2500} {
		got, ok := wide.CurrentAt(v)
		assert.True(t, ok)
		assert.Equal(t, want, got, "%d mV", v)
	}
	for _, v := range []pd.Millivolts{0, 8900, 20_100} {
		_, ok := wide.CurrentAt(v)
		assert.False(t, ok, "%d mV", v)
	}
	epr := pd.EPRAVSSupply{MinVoltage: 15_000, MaxVoltage: 48_000, PDP: 240}
	for v, want := range map[pd.Millivolts]pd.Milliamps{15_000: 5000, 48_000: 5000} {
		got, ok := epr.CurrentAt(v)
		assert.True(t, ok)
		assert.Equal(t, want, got)
	}
	_, ok := epr.CurrentAt(14_900)
	assert.False(t, ok)
	_, ok = pd.EPRAVSSupply{}.CurrentAt(0)
	assert.False(t, ok)
}

// R3.0 V1.1, table 10-2: 3 A exactly below the highest voltage; R3.2 V1.1, table 10.2: at
// least 3 A. 18 W at 5 V is the worked range of 3.00 to 3.60 A.
func TestSPRFixedCurrentByRevision(t *testing.T) {
	r32, ok := pd.SPRFixedCurrentFor(pd.Revision32, 18_000, 18_000, 5000)
	assert.True(t, ok)
	assert.Equal(t, pd.CurrentRange{Min: 3000, Max: 3600}, r32)
	r30, ok := pd.SPRFixedCurrentFor(pd.Revision30, 18_000, 18_000, 5000)
	assert.True(t, ok)
	assert.Equal(t, pd.CurrentRange{Min: 3000, Max: 3000}, r30)
	top, ok := pd.SPRFixedCurrentFor(pd.Revision30, 20_000, 20_000, 9000)
	assert.True(t, ok)
	assert.Equal(t, pd.CurrentRange{Min: 2220, Max: 2230}, top)
}

// GiveBack, R3.0 V1.1: the lower bits are a minimum.
func TestGiveBack(t *testing.T) {
	f := pd.RDO(0x18032032).Fixed()
	i, ok := f.MinCurrent()
	assert.True(t, ok)
	assert.Equal(t, pd.Milliamps(500), i)
	_, ok = pd.RDO(0x10032032).Fixed().MinCurrent()
	assert.False(t, ok)
	p, ok := pd.RDO(0x1800503C).Battery().MinPower()
	assert.True(t, ok)
	assert.Equal(t, pd.Milliwatts(15_000), p)
}

// Codes of R2.0 as the Linux 6.1 headers have them.
func TestBISTModeByRevision(t *testing.T) {
	assert.Equal(t, "BIST Eye Pattern", pd.BISTMode(7).NameFor(pd.Revision20))
	assert.Equal(t, "BIST Carrier Mode 2", pd.BISTCarrier.NameFor(pd.Revision20))
	assert.Equal(t, "BIST Carrier Mode", pd.BISTCarrier.NameFor(pd.Revision32))
	assert.Equal(t, "reserved mode 7", pd.BISTMode(7).NameFor(pd.Revision3x))
	assert.Equal(t, "BIST Test Data", pd.BISTTestData.NameFor(pd.Revision20))
}
