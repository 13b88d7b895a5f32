package pd_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// longest is more than any block can be, for the layouts without an end.
const longest = 1 << 16

// blockRoundTrips is decode and encode in one for each block; ok is that of the reader.
var blockRoundTrips = []struct {
	name         string
	least, whole int // bytes, USB PD R3.2 V1.1, table 6.53, and R3.0 V1.1; three take all
	do           func([]byte) ([]byte, bool)
}{
	{"SDB", 5, 7, func(b []byte) ([]byte, bool) { s, ok := pd.ParseSDB(b); return s.AppendTo(nil), ok }},
	{"CSDB", 2, 2, func(b []byte) ([]byte, bool) { s, ok := pd.ParseCSDB(b); return s.AppendTo(nil), ok }},
	{"PPSSDB", 4, 4, func(b []byte) ([]byte, bool) { s, ok := pd.ParsePPSSDB(b); return s.AppendTo(nil), ok }},
	{"SCEDB", 24, 25, func(b []byte) ([]byte, bool) { s, ok := pd.ParseSCEDB(b); return s.AppendTo(nil), ok }},
	{"SKEDB", 21, 24, func(b []byte) ([]byte, bool) { s, ok := pd.ParseSKEDB(b); return s.AppendTo(nil), ok }},
	{"ECDB", 2, 2, func(b []byte) ([]byte, bool) { s, ok := pd.ParseECDB(b); return s.AppendTo(nil), ok }},
	{"BCDB", 9, 9, func(b []byte) ([]byte, bool) { s, ok := pd.ParseBCDB(b); return s.AppendTo(nil), ok }},
	{"GBDB", 1, 1, func(b []byte) ([]byte, bool) { s, ok := pd.ParseGBDB(b); return s.AppendTo(nil), ok }},
	{"GMIDB", 2, 2, func(b []byte) ([]byte, bool) { s, ok := pd.ParseGMIDB(b); return s.AppendTo(nil), ok }},
	{"Country_Codes", 2, longest, func(b []byte) ([]byte, bool) { c, ok := pd.ParseCountryCodes(b); return c.AppendTo(nil), ok }},
	{"Country_Info", 4, longest, func(b []byte) ([]byte, bool) { c, ok := pd.ParseCountryInfo(b); return c.AppendTo(nil), ok }},
	{"MIDB", 4, longest, func(b []byte) ([]byte, bool) { s, ok := pd.ParseMIDB(b); return s.AppendTo(nil), ok }},
}

func TestBlockRoundTrips(t *testing.T) {
	const rounds = 20_000
	for _, r := range blockRoundTrips {
		t.Run(r.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(3, 4))
			for range rounds {
				b := make([]byte, random.IntN(min(r.whole+3, pd.MaxExtendedMsgLen)))
				for i := range b {
					b[i] = byte(random.Uint32())
				}
				checkBlock(t, b, r.least, r.whole, r.do)
			}
		})
	}
}

func checkBlock(t *testing.T, b []byte, least, whole int, do func([]byte) ([]byte, bool)) {
	t.Helper()
	out, ok := do(b)
	require.Equal(t, len(b) >= least, ok)
	if ok {
		require.Equal(t, b[:min(len(b), whole)], out)
	}
}

func FuzzBlocks(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte{40, 0x06, 0x10, 0x02, 0x04, 0x20, 0x0B})
	f.Add(make([]byte, 25))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > pd.MaxExtendedMsgLen {
			return
		}
		for _, r := range blockRoundTrips {
			checkBlock(t, b, r.least, r.whole, r.do)
		}
	})
}

// Every flag alone, from USB PD R3.2 V1.1, table 6.55.
func TestStatusBlock(t *testing.T) {
	const size = 7
	tests := []struct {
		name  string
		block [size]byte
		want  pd.SDB
	}{
		{"temperature", [size]byte{41}, pd.SDB{InternalTemperature: 41}},
		{"external", [size]byte{1: 0x02}, pd.SDB{ExternalPower: true}},
		{"AC", [size]byte{1: 0x04}, pd.SDB{ExternalAC: true}},
		{"battery", [size]byte{1: 0x08}, pd.SDB{InputBattery: true}},
		{"internal", [size]byte{1: 0x10}, pd.SDB{InternalSource: true}},
		{"batteries", [size]byte{2: 0x21}, pd.SDB{Batteries: 0x21}},
		{"OCP", [size]byte{3: 0x02}, pd.SDB{OCP: true}},
		{"OTP", [size]byte{3: 0x04}, pd.SDB{OTP: true}},
		{"OVP", [size]byte{3: 0x08}, pd.SDB{OVP: true}},
		{"CL", [size]byte{3: 0x10}, pd.SDB{CurrentLimit: true}},
		{"over temperature", [size]byte{4: 0x06}, pd.SDB{Temperature: pd.TemperatureOver}},
		{"warning", [size]byte{4: 0x04}, pd.SDB{Temperature: pd.TemperatureWarning}},
		{"cable", [size]byte{5: 0x02}, pd.SDB{LimitedByCable: true}},
		{"other ports", [size]byte{5: 0x04}, pd.SDB{LimitedByOtherPorts: true}},
		{"input", [size]byte{5: 0x08}, pd.SDB{LimitedByInput: true}},
		{"events", [size]byte{5: 0x10}, pd.SDB{LimitedByEvents: true}},
		{"temperature limit", [size]byte{5: 0x20}, pd.SDB{LimitedByTemperature: true}},
		{"S3, blinking", [size]byte{6: 0x13}, pd.SDB{PowerState: pd.PowerStateS3, Indicator: 2}},
		{"reserved", [size]byte{5: 0x80}, pd.SDB{Reserved: [7]byte{5: 0x80}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := pd.ParseSDB(tt.block[:])
			require.True(t, ok)
			tt.want.Size = size
			assert.Equal(t, tt.want, got)
		})
	}
	old, ok := pd.ParseSDB([]byte{41, 0x02, 0, 0x02, 0x02}) // USB PD R3.0 V1.1 has five bytes
	require.True(t, ok)
	assert.Equal(t, 5, old.Size)
	assert.True(t, old.OCP && old.ExternalPower)
	assert.Equal(t, pd.TemperatureNormal, old.Temperature)
}

// USB PD R3.2 V1.1, tables 6.56 and 6.62.
func TestSmallStatusBlocks(t *testing.T) {
	c, ok := pd.ParseCSDB([]byte{60, 1})
	require.True(t, ok)
	assert.Equal(t, pd.CSDB{InternalTemperature: 60, ThermalShutdown: true}, c)

	p, ok := pd.ParsePPSSDB([]byte{0xC2, 0x01, 0x3C, 0x0A})
	require.True(t, ok)
	v, ok := p.Voltage()
	assert.True(t, ok)
	assert.Equal(t, pd.Millivolts(9000), v, "450 steps of 20 mV")
	i, ok := p.Current()
	assert.True(t, ok)
	assert.Equal(t, pd.Milliamps(3000), i, "60 steps of 50 mA")
	assert.True(t, p.CurrentLimit)
	assert.Equal(t, pd.TemperatureNormal, p.Temperature)

	p, _ = pd.ParsePPSSDB([]byte{0xFF, 0xFF, 0xFF, 0})
	_, ok = p.Voltage()
	assert.False(t, ok)
	_, ok = p.Current()
	assert.False(t, ok)
}

// USB PD R3.2 V1.1, table 6.54, byte by byte.
func TestSourceCapabilitiesExtended(t *testing.T) {
	b := []byte{
		0x34, 0x12, 0x78, 0x56, 0x04, 0x03, 0x02, 0x01, 7, 8, 0x05, 3, 0x01, 0x07,
		0x2F, 0xA0, 0x1A, 0x00, 0x00, 0x00, 1, 0x03, 0x21, 100, 140,
	}
	s, ok := pd.ParseSCEDB(b)
	require.True(t, ok)
	assert.Equal(t, pd.SCEDB{
		Size: 25, VID: 0x1234, PID: 0x5678, XID: 0x01020304, FirmwareVersion: 7, HardwareVersion: 8,
		VoltageRegulation: 5, HoldUpMs: 3, Compliance: 1, TouchCurrent: 7,
		PeakCurrents:     [3]pd.OverloadField{0xA02F, 0x001A, 0},
		TouchTemperature: 1, Inputs: 3, Batteries: 0x21, SPRPDP: 100, EPRPDP: 140,
	}, s)
	slew, ok := s.LoadStepSlewMilliampsPerMicrosecond()
	assert.True(t, ok)
	assert.Equal(t, 500, slew)
	assert.Equal(t, 90, s.LoadStepPercent())

	peak := s.PeakCurrents[0] // 1 0100 000001 01111b
	assert.Equal(t, 150, peak.Percent())
	assert.Equal(t, 20*time.Millisecond, peak.Period())
	assert.Equal(t, 20, peak.DutyPercent())
	assert.True(t, peak.Droop())
	assert.Equal(t, 250, s.PeakCurrents[1].Percent(), "codes over 25 are 250 %")
	full := pd.OverloadField(0x7FE0) // every bit of period and duty set
	assert.Equal(t, 1260*time.Millisecond, full.Period())
	assert.Equal(t, 75, full.DutyPercent())
	assert.Zero(t, full.Percent())
}

// USB PD R3.2 V1.1, table 6.65.
func TestSinkCapabilitiesExtended(t *testing.T) {
	b := make([]byte, 24)
	copy(b[10:], []byte{1, 0, 0x2F, 0xA0, 2, 3, 1, 0x22, 15, 65, 100, 0, 140, 180})
	s, ok := pd.ParseSKEDB(b)
	require.True(t, ok)
	assert.Equal(t, pd.SKEDB{
		Size: 24, Version: 1, LoadCharacteristics: 0xA02F, Compliance: 2, TouchTemperature: 3, Batteries: 1,
		Modes: 0x22, SPRMin: 15, SPROp: 65, SPRMax: 100, EPROp: 140, EPRMax: 180,
	}, s)
	slew, ok := s.LoadStepSlewMilliampsPerMicrosecond()
	assert.True(t, ok)
	assert.Equal(t, 150, slew)
	_, ok = pd.SKEDB{LoadStep: 3}.LoadStepSlewMilliampsPerMicrosecond()
	assert.False(t, ok)
}

// USB PD R3.2 V1.1, tables 6.59 to 6.61.
func TestBatteryAndManufacturerBlocks(t *testing.T) {
	c, ok := pd.ParseBCDB([]byte{0x34, 0x12, 0x78, 0x56, 0xF4, 0x01, 0xFF, 0xFF, 0x01})
	require.True(t, ok)
	assert.Equal(t, pd.BCDB{VID: 0x1234, PID: 0x5678, DesignCapacity: 500, LastFullCapacity: 0xFFFF, InvalidReference: true}, c)
	wh, ok := pd.CapacityWh(c.DesignCapacity)
	assert.True(t, ok)
	assert.Equal(t, 50.0, wh)
	_, ok = pd.CapacityWh(c.LastFullCapacity)
	assert.False(t, ok)

	m, ok := pd.ParseMIDB([]byte{0x34, 0x12, 0x78, 0x56, 'a', 'b', 0, 'c'})
	require.True(t, ok)
	assert.Equal(t, "ab", m.String())
	codes, ok := pd.ParseCountryCodes([]byte{2, 0, 'C', 'N', 'D', 'E'}) // table 6.63
	require.True(t, ok)
	assert.Equal(t, pd.CountryCodesBlock{Count: 2, Codes: []byte("CNDE")}, codes)
	info, ok := pd.ParseCountryInfo([]byte{'C', 'N', 0, 0, 9}) // table 6.64
	require.True(t, ok)
	assert.Equal(t, pd.CountryInfoBlock{First: 'C', Second: 'N', Data: []byte{9}}, info)
	g, ok := pd.ParseGBDB([]byte{4})
	assert.True(t, ok)
	assert.Equal(t, pd.GBDB(4), g)
	r, ok := pd.ParseGMIDB([]byte{1, 2})
	assert.True(t, ok)
	assert.Equal(t, pd.GMIDB{Target: 1, Reference: 2}, r)
}

func TestExtendedControlTypes(t *testing.T) {
	list := standard(t).MessageTypes.ExtendedControl
	require.Len(t, list, 4)
	for _, want := range list {
		assert.Equal(t, want.Name, pd.ExtendedControlType(want.Code).String(), want.Source)
	}
	assert.Equal(t, "Reserved_0x05", pd.ExtendedControlType(5).String())

	// Recorded: Extended_Control EPR_KeepAlive_Ack.
	m, err := pd.ParseMessage(pd.SOP, unhex(t, "B09502800400"))
	require.NoError(t, err)
	e, ok := pd.ParseECDB(m.Block())
	require.True(t, ok)
	assert.Equal(t, pd.EPRKeepAliveAck, e.Type)
}

func TestBlockNames(t *testing.T) {
	assert.Equal(t, "over temperature", pd.TemperatureOver.String())
	assert.Equal(t, "not supported", pd.TemperatureStatus(0).String())
	assert.Equal(t, "modern standby", pd.PowerStateModernStandby.String())
	assert.Equal(t, "reserved state 7", pd.PowerState(7).String())
}
