package pd_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestPDOVectors(t *testing.T) {
	vectors := standard(t).PDOs
	require.Len(t, vectors, 20)
	for _, v := range vectors {
		t.Run(v.Value+" "+v.Kind, func(t *testing.T) {
			require.NotEmpty(t, v.Source)
			role := "source"
			if strings.HasPrefix(v.Kind, "sink") {
				role = "sink"
			}
			got := supplyFields(t, role, v.raw(t))
			for name, want := range v.Fields {
				if name == "frs_current" {
					want = float64(pd.FRS1500) // the vector writes "1.5 A at 5 V (10b)"
				}
				assertField(t, name, want, got[vectorName(name)], v.Source)
			}
		})
	}
}

// vectorName turns the names of the standard's vectors into those of the recorded ones.
func vectorName(name string) string {
	recorded := map[string]string{
		"mA": "current_ma", "mW": "power_mw", "min_mV": "min_voltage_mv", "max_mV": "max_voltage_mv",
		"pdp_W": "pdp_w", "peak": "peak_current", "usb_comm": "usb_communications", "mV": "voltage_mv",
		"op_mA": "operating_ma", "max_mA": "maximum_ma", "op_mW": "operating_mw", "max_mW": "maximum_mw",
		"no_suspend": "no_usb_suspend", "mismatch": "capability_mismatch",
	}
	if r, ok := recorded[name]; ok {
		return r
	}
	return name
}

func assertField(t *testing.T, name string, want, got any, source string) {
	t.Helper()
	require.NotNil(t, got, "no field for %s", name)
	if b, ok := got.(bool); ok {
		assert.Equal(t, fields{"v": want}.flag("v"), b, "%s: %s", name, source)
		return
	}
	assert.Equal(t, want, got, "%s: %s", name, source)
}

// supplyFields reads a supply object through its views, under the names the vectors use.
func supplyFields(t *testing.T, role string, w uint32) fields {
	t.Helper()
	if role == "sink" {
		return sinkSupplyFields(t, pd.SinkPDO(w))
	}
	p := pd.PDO(w)
	out := fields{"kind": p.Kind().String()}
	views := 0
	if f, ok := p.Fixed(); ok {
		views++
		out["voltage_mv"], out["current_ma"] = float64(f.Voltage), float64(f.MaxCurrent)
		out["dual_role_power"], out["usb_suspend"] = f.DualRolePower, f.USBSuspend
		out["unconstrained_power"], out["usb_communications"] = f.UnconstrainedPower, f.USBCommunications
		out["dual_role_data"], out["unchunked"], out["epr_capable"] = f.DualRoleData, f.Unchunked, f.EPRCapable
		out["peak_current"] = float64(f.PeakCurrent)
	}
	if v, ok := p.Variable(); ok {
		views++
		out["max_voltage_mv"], out["min_voltage_mv"] = float64(v.MaxVoltage), float64(v.MinVoltage)
		out["current_ma"] = float64(v.MaxCurrent)
	}
	if b, ok := p.Battery(); ok {
		views++
		out["max_voltage_mv"], out["min_voltage_mv"] = float64(b.MaxVoltage), float64(b.MinVoltage)
		out["power_mw"] = float64(b.MaxPower)
	}
	if s, ok := p.PPS(); ok {
		views++
		out["max_voltage_mv"], out["min_voltage_mv"] = float64(s.MaxVoltage), float64(s.MinVoltage)
		out["current_ma"], out["power_limited"] = float64(s.MaxCurrent), s.PowerLimited
	}
	if s, ok := p.SPRAVS(); ok {
		views++
		out["mA_9_to_15V"], out["mA_15_to_20V"] = float64(s.MaxCurrent15V), float64(s.MaxCurrent20V)
		out["peak_current"] = float64(s.PeakCurrent)
	}
	if s, ok := p.EPRAVS(); ok {
		views++
		out["max_voltage_mv"], out["min_voltage_mv"] = float64(s.MaxVoltage), float64(s.MinVoltage)
		out["pdp_w"], out["peak_current"] = float64(s.PDP), float64(s.PeakCurrent)
	}
	require.Equal(t, 1, views, "one view and no other takes an object")
	return out
}

func sinkSupplyFields(t *testing.T, p pd.SinkPDO) fields {
	t.Helper()
	out := fields{"kind": p.Kind().String()}
	views := 0
	if f, ok := p.Fixed(); ok {
		views++
		out["voltage_mv"], out["current_ma"] = float64(f.Voltage), float64(f.OperatingCurrent)
		out["dual_role_power"], out["higher_capability"] = f.DualRolePower, f.HigherCapability
		out["unconstrained_power"], out["usb_communications"] = f.UnconstrainedPower, f.USBCommunications
		out["dual_role_data"], out["frs_current"] = f.DualRoleData, float64(f.FastRoleSwapCurrent)
	}
	if s, ok := p.EPRAVS(); ok {
		views++
		out["max_voltage_mv"], out["min_voltage_mv"] = float64(s.MaxVoltage), float64(s.MinVoltage)
		out["pdp_w"] = float64(s.PDP)
	}
	require.Equal(t, 1, views)
	return out
}

func TestRecordedObjects(t *testing.T) {
	vectors := recorded(t).Objects
	require.Len(t, vectors, 45)
	for _, v := range vectors {
		t.Run(v.Raw+" "+v.Role, func(t *testing.T) {
			require.NotEmpty(t, v.Source)
			w := parseWord(t, v.Raw)
			var got fields
			switch v.Role {
			case "request":
				got = requestFields(pd.RDO(w), v.For)
			case "vdm":
				got = vdmFields(pd.VDMHeader(w))
			default:
				got = supplyFields(t, v.Role, w)
			}
			for name, want := range v.Fields {
				assertField(t, name, want, got[name], v.Source)
			}
		})
	}
}

// The kinds by table 6.7 of USB PD R3.2 V1.1. Its tables 6.11 and 6.12 print battery and
// variable the other way round: a known slip, against the same document's running text,
// tables 6.18 and 6.19 and USB PD R3.0 V1.1.
func TestPDOKinds(t *testing.T) {
	tests := []struct {
		raw  uint32
		kind string
	}{
		{0x0001912C, "fixed"},
		{0x40000000, "battery"},
		{0x80000000, "variable"},
		{0xC0000000, "pps"},
		{0xD0000000, "epr-avs"},
		{0xE0000000, "spr-avs"},
		{0xF0000000, "reserved"},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.kind, pd.PDO(tt.raw).Kind().String())
		assert.Equal(t, tt.kind, pd.SinkPDO(tt.raw).Kind().String())
	}
	assert.Equal(t, "unknown", pd.PDOKind(0).String())
	assert.Equal(t, "unknown", pd.PDOKind(99).String())
}

// Sink objects of the kinds no public recording shows: words built bit by bit from USB PD
// R3.2 V1.1, tables 6.18 to 6.21.
func TestSinkPDOViews(t *testing.T) {
	v, ok := pd.SinkPDO(0x86E17CC8).Variable()
	require.True(t, ok)
	assert.Equal(t, pd.SinkVariableSupply{MaxVoltage: 5500, MinVoltage: 4750, OperatingCurrent: 2000}, v)
	b, ok := pd.SinkPDO(0x4540F03C).Battery()
	require.True(t, ok)
	assert.Equal(t, pd.SinkBatterySupply{MaxVoltage: 4200, MinVoltage: 3000, OperatingPower: 15000}, b)
	s, ok := pd.SinkPDO(0xC8DC213C).PPS()
	require.True(t, ok)
	assert.Equal(t, pd.SinkPPSSupply{Reserved: 1 << 27, MaxVoltage: 11000, MinVoltage: 3300, MaxCurrent: 3000}, s)
	a, ok := pd.SinkPDO(0xE004B145).SPRAVS()
	require.True(t, ok)
	assert.Equal(t, pd.SinkSPRAVSSupply{MaxCurrent15V: 3000, MaxCurrent20V: 3250}, a)
}

// Values too fine for their field round down, too large ones lose their upper bits and
// never reach a neighbour.
func TestEncodeStaysInItsField(t *testing.T) {
	f, _ := pd.FixedSupply{Voltage: 5049, MaxCurrent: 3009}.Encode().Fixed()
	assert.Equal(t, pd.Millivolts(5000), f.Voltage)
	assert.Equal(t, pd.Milliamps(3000), f.MaxCurrent)
	f, ok := pd.FixedSupply{Voltage: 1 << 30, MaxCurrent: -1, PeakCurrent: 7, Reserved: 0xFFFFFFFF}.Encode().Fixed()
	assert.True(t, ok)
	assert.Equal(t, pd.FixedSupply{Voltage: f.Voltage, Reserved: 1 << 22, PeakCurrent: 3, MaxCurrent: f.MaxCurrent}, f)
}

// USB PD R3.2 V1.1, table 6.10.
func TestPeakCurrent(t *testing.T) {
	_, ok := pd.PeakCurrent(0).Overloads()
	assert.False(t, ok)
	want := map[pd.PeakCurrent][3][2]int{
		1: {{150, 97}, {125, 97}, {110, 90}},
		2: {{200, 95}, {150, 94}, {125, 75}},
		3: {{200, 95}, {175, 92}, {150, 50}},
	}
	for code, rows := range want {
		o, ok := code.Overloads()
		require.True(t, ok)
		for i, r := range rows {
			assert.Equal(t, r, [2]int{o[i].PeakPercent, o[i].RestPercent})
		}
	}
}

func TestUnits(t *testing.T) {
	assert.Equal(t, 4.75, pd.Millivolts(4750).Volts())
	assert.Equal(t, 3.25, pd.Milliamps(3250).Amps())
	assert.Equal(t, 2.5, pd.Milliwatts(2500).Watts())
}
