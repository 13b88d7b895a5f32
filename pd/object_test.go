package pd_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestObjectVectors(t *testing.T) {
	for _, v := range standard(t).Objects {
		t.Run(v.Object+" "+v.Value, func(t *testing.T) {
			require.NotEmpty(t, v.Source)
			got := objectFields(t, v.Object, v.raw(t))
			for name, want := range v.Fields {
				assertField(t, name, want, got[name], v.Source)
			}
		})
	}
}

// objectFields reads an object under the names of the vectors.
func objectFields(t *testing.T, object string, w uint32) fields {
	t.Helper()
	switch object {
	case "EPR_Mode":
		o := pd.EPRMDO(w)
		out := fields{"action": o.Action().String()}
		if p, ok := o.SinkPDP(); ok {
			out["sink_operational_pdp_W"] = float64(p)
		}
		if f, ok := o.Failure(); ok {
			out["cause"] = f.String()
		}
		return out
	case "Revision":
		f := pd.RMDO(w).Fields()
		return fields{
			"revision": fmt.Sprintf("%d.%d", f.RevisionMajor, f.RevisionMinor),
			"version":  fmt.Sprintf("%d.%d", f.VersionMajor, f.VersionMinor),
		}
	case "Get_Country_Info (CCDO)":
		code, ok := pd.CCDO(w).Fields().Code()
		require.True(t, ok)
		return fields{"country": code}
	case "Source_Info":
		f := pd.SIDO(w).Fields()
		port := map[bool]string{true: "guaranteed", false: "managed"}[f.Guaranteed]
		return fields{
			"port_type": port, "max_W": float64(f.MaximumPDP),
			"present_W": float64(f.PresentPDP), "reported_W": float64(f.ReportedPDP),
		}
	case "Battery_Status":
		f := pd.BSDO(w).Fields()
		wh, ok := f.CapacityWh()
		require.True(t, ok)
		return fields{"capacity_Wh": wh, "present": f.Present, "status": f.ChargingStatus.String()}
	case "Alert":
		f := pd.ADO(w).Fields()
		return fields{"ocp": f.OCP, "ovp": f.OVP}
	case "BIST":
		return fields{"mode": bistVectorName(pd.BDO(w).Fields().Mode)}
	case "SVDM header":
		h := pd.VDMHeader(w)
		return fields{
			"svid": fmt.Sprintf("%04X", h.SVID()), "major": float64(h.VersionMajor()),
			"minor": float64(h.VersionMinor()), "command": h.Command().String(), "type": h.CommandType().String(),
		}
	default:
		return vdoFields(t, object, w)
	}
}

// The vectors leave the word BIST out of two of the four.
func bistVectorName(m pd.BISTMode) string {
	switch m {
	case pd.BISTSharedTestEntry:
		return "Shared Test Mode Entry"
	case pd.BISTSharedTestExit:
		return "Shared Test Mode Exit"
	default:
		return m.String()
	}
}

// vdmFields reads a structured header under the names of the recorded vectors.
func vdmFields(h pd.VDMHeader) fields {
	return fields{
		"kind": "vdm-header", "svid": fmt.Sprintf("0x%04X", h.SVID()), "structured": h.Structured(),
		"command_type": h.CommandType().String(), "command": float64(h.Command()),
		"vdm_version": h.Version(), "object_position": float64(h.ObjectPosition()),
	}
}

// Every bit of an Alert object alone (USB PD R3.2 V1.1, table 6.47).
func TestAlertBits(t *testing.T) {
	tests := map[uint32]pd.AlertFields{
		1 << 31:    {ExtendedAlert: true},
		1 << 30:    {OVP: true},
		1 << 29:    {SourceInputChange: true},
		1 << 28:    {OperatingConditionChange: true},
		1 << 27:    {OTP: true},
		1 << 26:    {OCP: true},
		1 << 25:    {BatteryStatusChange: true},
		1 << 24:    {Reserved: 1 << 24},
		0x00900000: {FixedBatteries: 0b1001},
		0x00060000: {HotSwappableBatteries: 0b0110},
		1 << 4:     {Reserved: 1 << 4},
		0x80000002: {ExtendedAlert: true, ExtendedType: pd.PowerButtonPress},
	}
	for raw, want := range tests {
		assert.Equal(t, want, pd.ADO(raw).Fields(), "0x%08X", raw)
	}
}

// USB PD R3.2 V1.1, table 6.49.
func TestEnterUSBBits(t *testing.T) {
	tests := map[uint32]pd.EnterUSBFields{
		0x20000000: {Mode: 2},
		1 << 26:    {USB4DRD: true},
		1 << 25:    {USB3DRD: true},
		0x00600000: {CableSpeed: 3},
		0x00180000: {CableType: 3},
		0x00060000: {CableCurrent: 3},
		1 << 16:    {PCIe: true},
		1 << 15:    {DisplayPort: true},
		1 << 14:    {Thunderbolt3: true},
		1 << 13:    {HostPresent: true},
		0x89001FFF: {Reserved: 0x89001FFF},
	}
	for raw, want := range tests {
		assert.Equal(t, want, pd.EUDO(raw).Fields(), "0x%08X", raw)
	}
}

// USB PD R3.2 V1.1, tables 6.28 and 6.29.
func TestVDMHeader(t *testing.T) {
	h := pd.VDMHeader(0xFF01A906)
	assert.Equal(t, pd.SVIDDisplayPort, h.SVID())
	assert.Equal(t, "2.1", h.Version())
	assert.Equal(t, 1, h.ObjectPosition())
	assert.Equal(t, pd.Attention, h.Command())
	f, ok := h.Fields()
	assert.True(t, ok)
	assert.Equal(t, h, f.Encode())

	u := pd.VDMHeader(0x18D14001)
	_, ok = u.Fields()
	assert.False(t, ok, "bit 15 clear: the rest is the vendor's")
	assert.Equal(t, uint16(0x4001), u.Vendor())
	assert.Equal(t, u, pd.UnstructuredVDMHeader(0x18D1, 0x4001))

	assert.Equal(t, "1.0", pd.VDMHeader(0xFF008001).Version())
	assert.Equal(t, "reserved", pd.VDMHeader(0xFF00E001).Version())
}

// The words the enumerations print, reserved codes included.
func TestObjectNames(t *testing.T) {
	tests := map[fmt.Stringer]string{
		pd.DiscoverIdentity: "Discover Identity", pd.DiscoverSVIDs: "Discover SVIDs",
		pd.DiscoverModes: "Discover Modes", pd.EnterMode: "Enter Mode", pd.ExitMode: "Exit Mode",
		pd.Attention: "Attention", pd.Command(7): "reserved command 7", pd.Command(16): "SVID command 16",
		pd.REQ: "REQ", pd.ACK: "ACK", pd.NAK: "NAK", pd.BUSY: "BUSY",
		pd.EPREnterFailed: "Enter Failed", pd.EPRAction(9): "reserved action 9",
		pd.EPRFailedVCONN: "source did not become VCONN source", pd.EPRFailure(6): "reserved cause 6",
		pd.BatteryIdle: "idle", pd.ChargingStatus(3): "reserved status 3",
		pd.BISTMode(7): "reserved mode 7", pd.ControllerWake: "controller initiated wake",
		pd.UFPPeripheral: "peripheral", pd.UFPType(4): "reserved type 4", pd.NotUFP: "not a UFP",
		pd.UFPHub: "hub", pd.UFPPowerSink: "power sinking device", pd.UFPAdapter: "alternate mode adapter",
		pd.ActiveCable: "active cable", pd.VPD: "VPD", pd.NotPlug: "not a cable plug", pd.PlugType(1): "reserved type 1",
		pd.DFPHost: "host", pd.DFPHub: "hub", pd.DFPPowerBrick: "power brick", pd.NotDFP: "not a DFP", pd.DFPType(7): "reserved type 7",
		pd.ConnectorReceptacle: "receptacle", pd.ConnectorLegacy: "not stated", pd.ConnectorType(1): "reserved type 1",
		pd.SpeedUSB3Gen1: "USB 3.2 Gen1", pd.SpeedUSB3Gen2: "USB 3.2 Gen2, USB4 Gen2", pd.SpeedUSB4Gen3: "USB4 Gen3",
		pd.SpeedUSB4Gen4: "USB4 Gen4", pd.CableSpeed(5): "reserved speed 5",
		pd.CableCaptive: "captive", pd.CablePlugKind(0): "reserved kind 0",
		pd.PowerStateChange: "power state change", pd.PowerButtonRelease: "power button release",
		pd.BatteryDischarging: "discharging", pd.TemperatureNormal: "normal", pd.TemperatureWarning: "warning",
		pd.DFP: "dfp", pd.UFP: "ufp", pd.DataRole(0): "unknown", pd.EOP: "EOP", pd.Symbol(0): "invalid",
		pd.ExtendedAlertType(9): "reserved type 9", pd.Control: "control", pd.Class(3): "class 3",
	}
	for v, want := range tests {
		assert.Equal(t, want, v.String())
	}
}

// USB PD R3.2 V1.1, tables 6.46, 6.48 and 6.52.
func TestUnknownInObjects(t *testing.T) {
	_, ok := pd.BSDO(0xFFFF0000).Fields().CapacityWh()
	assert.False(t, ok)
	_, ok = pd.CCDO(0x43000000).Fields().Code()
	assert.False(t, ok)
	assert.Equal(t, pd.Revision30, pd.RMDO(0x30110000).Revision())
	assert.Equal(t, pd.Revision31, pd.RMDO(0x31180000).Revision())
	assert.Equal(t, pd.Revision32, pd.RMDO(0x32110000).Revision())
	assert.Zero(t, pd.RMDO(0x41100000).Revision())
	_, ok = pd.EPRMDO(0x05000000).SinkPDP()
	assert.False(t, ok)
	_, ok = pd.EPRMDO(0x018C0000).Failure()
	assert.False(t, ok)
}

// roundTrips is decode and encode in one for each kind of object. A list and no map, so
// that the fuzzer sees the same path for the same input.
var roundTrips = []struct {
	name string
	do   func(uint32) uint32
}{
	{"PDO fixed", ofKind(0b0000, 2, roundTripPDO)},
	{"PDO battery", ofKind(0b0100, 2, roundTripPDO)},
	{"PDO variable", ofKind(0b1000, 2, roundTripPDO)},
	{"PDO PPS", ofKind(0b1100, 4, roundTripPDO)},
	{"PDO EPR AVS", ofKind(0b1101, 4, roundTripPDO)},
	{"PDO SPR AVS", ofKind(0b1110, 4, roundTripPDO)},
	{"PDO", roundTripPDO},
	{"SinkPDO fixed", ofKind(0b0000, 2, roundTripSinkPDO)},
	{"SinkPDO battery", ofKind(0b0100, 2, roundTripSinkPDO)},
	{"SinkPDO variable", ofKind(0b1000, 2, roundTripSinkPDO)},
	{"SinkPDO PPS", ofKind(0b1100, 4, roundTripSinkPDO)},
	{"SinkPDO EPR AVS", ofKind(0b1101, 4, roundTripSinkPDO)},
	{"SinkPDO SPR AVS", ofKind(0b1110, 4, roundTripSinkPDO)},
	{"SinkPDO", roundTripSinkPDO},
	{"RDO fixed", func(w uint32) uint32 { return uint32(pd.RDO(w).Fixed().Encode()) }},
	{"RDO battery", func(w uint32) uint32 { return uint32(pd.RDO(w).Battery().Encode()) }},
	{"RDO pps", func(w uint32) uint32 { return uint32(pd.RDO(w).PPS().Encode()) }},
	{"RDO avs", func(w uint32) uint32 { return uint32(pd.RDO(w).AVS().Encode()) }},
	{"EPRMDO", func(w uint32) uint32 { return uint32(pd.EPRMDO(w).Fields().Encode()) }},
	{"ADO", func(w uint32) uint32 { return uint32(pd.ADO(w).Fields().Encode()) }},
	{"BSDO", func(w uint32) uint32 { return uint32(pd.BSDO(w).Fields().Encode()) }},
	{"SIDO", func(w uint32) uint32 { return uint32(pd.SIDO(w).Fields().Encode()) }},
	{"RMDO", func(w uint32) uint32 { return uint32(pd.RMDO(w).Fields().Encode()) }},
	{"CCDO", func(w uint32) uint32 { return uint32(pd.CCDO(w).Fields().Encode()) }},
	{"EUDO", func(w uint32) uint32 { return uint32(pd.EUDO(w).Fields().Encode()) }},
	{"BDO", func(w uint32) uint32 { return uint32(pd.BDO(w).Fields().Encode()) }},
	{"VDMHeader", roundTripVDMHeader},
	{"VDMHeader structured", func(w uint32) uint32 {
		const vdmType = 1 << 15
		return roundTripVDMHeader(w|vdmType) ^ (w | vdmType) ^ w
	}},
	{"CertStat", func(w uint32) uint32 { return uint32(pd.CertStatVDO(w)) }},
	{"IDHeader", func(w uint32) uint32 { return uint32(pd.IDHeaderVDO(w).Fields().Encode()) }},
	{"Product", func(w uint32) uint32 {
		p := pd.ProductVDO(w)
		return uint32(pd.NewProductVDO(p.PID(), p.Release()))
	}},
	{"UFP", func(w uint32) uint32 { return uint32(pd.UFPVDO(w).Fields().Encode()) }},
	{"DFP", func(w uint32) uint32 { return uint32(pd.DFPVDO(w).Fields().Encode()) }},
	{"passive cable", func(w uint32) uint32 { return uint32(pd.PassiveCableVDO(w).Fields().Encode()) }},
	{"active cable1", func(w uint32) uint32 { return uint32(pd.ActiveCableVDO1(w).Fields().Encode()) }},
	{"active cable2", func(w uint32) uint32 { return uint32(pd.ActiveCableVDO2(w).Fields().Encode()) }},
	{"VPD", func(w uint32) uint32 { return uint32(pd.VPDVDO(w).Fields().Encode()) }},
	{"SVIDs", func(w uint32) uint32 {
		s := pd.SVIDsVDO(w).SVIDs()
		return uint32(pd.NewSVIDsVDO(s[0], s[1]))
	}},
	{"R2.0 cable", func(w uint32) uint32 { return uint32(pd.R20CableVDO(w).Fields().Encode()) }},
	{"AMA", func(w uint32) uint32 { return uint32(pd.AMAVDO(w).Fields().Encode()) }},
}

// ofKind puts code into the top bits of the word before it is taken apart, so that every
// word is of the kind; the rest must come back as it was.
func ofKind(code, bits uint32, do func(uint32) uint32) func(uint32) uint32 {
	keep := uint32(1)<<(32-bits) - 1
	return func(w uint32) uint32 {
		kind := w&keep | code<<28
		return do(kind) ^ kind ^ w
	}
}

func roundTripPDO(w uint32) uint32 {
	p := pd.PDO(w)
	if v, ok := p.Fixed(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.Variable(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.Battery(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.PPS(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.SPRAVS(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.EPRAVS(); ok {
		return uint32(v.Encode())
	}
	return onlyIf(p.Kind() == pd.KindReserved, w)
}

func roundTripSinkPDO(w uint32) uint32 {
	p := pd.SinkPDO(w)
	if v, ok := p.Fixed(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.Variable(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.Battery(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.PPS(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.SPRAVS(); ok {
		return uint32(v.Encode())
	}
	if v, ok := p.EPRAVS(); ok {
		return uint32(v.Encode())
	}
	return onlyIf(p.Kind() == pd.KindReserved, w)
}

func roundTripVDMHeader(w uint32) uint32 {
	h := pd.VDMHeader(w)
	if f, ok := h.Fields(); ok {
		return uint32(f.Encode())
	}
	return uint32(pd.UnstructuredVDMHeader(h.SVID(), h.Vendor()))
}

// onlyIf is w where the condition holds, else a word that differs.
func onlyIf(condition bool, w uint32) uint32 {
	if condition {
		return w
	}
	return ^w
}

func TestObjectRoundTrips(t *testing.T) {
	words := 100_000
	if *long {
		words = 10_000_000
	}
	for _, r := range roundTrips {
		t.Run(r.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(1, 2))
			for range words {
				w := random.Uint32()
				if got := r.do(w); got != w {
					require.Equal(t, fmt.Sprintf("0x%08X", w), fmt.Sprintf("0x%08X", got))
				}
			}
		})
	}
}
