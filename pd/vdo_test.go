package pd_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// vdoFields reads the objects of a Discover Identity answer under the vectors' names.
func vdoFields(t *testing.T, object string, w uint32) fields {
	t.Helper()
	switch object {
	case "ID Header VDO":
		f := pd.IDHeaderVDO(w).Fields()
		return fields{
			"sop_prime_product_type": f.Plug().String(), "connector": f.Connector.String(),
			"vid": fmt.Sprintf("%04X", f.VID),
		}
	case "Passive Cable VDO":
		f := pd.PassiveCableVDO(w).Fields()
		current, ok := f.MaxCurrent()
		require.True(t, ok)
		latency, ok := f.MaxLatency()
		require.True(t, ok)
		return fields{
			"plug": f.Plug.String(), "speed": f.Speed.String(), "epr": f.EPR(),
			"max_vbus_V": f.MaxVoltage().Volts(), "current_A": current.Amps(),
			"latency": fmt.Sprintf("<%d ns", latency/time.Nanosecond),
		}
	default:
		require.Failf(t, "no reader", "object %s", object)
		return nil
	}
}

// A cable is EPR capable by three fields together (USB PD R3.2 V1.1, section 6.4.10.1);
// each case drops one.
func TestCableEPR(t *testing.T) {
	tests := map[string]struct {
		vdo  pd.PassiveCableVDO
		want bool
	}{
		"all three":      {0x000A2640, true},
		"no EPR bit":     {0x00082640, false},
		"20 V":           {0x000A2040, false},
		"30 V of old":    {0x000A2240, false},
		"3 A":            {0x000A2620, false},
		"current 00":     {0x000A2600, false},
		"nothing at all": {0, false},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) { assert.Equal(t, tt.want, tt.vdo.Fields().EPR()) })
	}
	assert.Equal(t, pd.Millivolts(20000), pd.PassiveCableVDO(0x000A2240).Fields().MaxVoltage())
	_, ok := pd.PassiveCableVDO(0x000A2600).Fields().MaxCurrent()
	assert.False(t, ok, "code 0 tells no current")
	_, ok = pd.ActiveCableVDO1(0x00090000).Fields().MaxLatency()
	assert.False(t, ok, "code 8 means another thing to each cable kind")
}

// Every bit of the objects alone, from USB PD R3.2 V1.1, tables 6.33, 6.39, 6.40 and 6.42
// to 6.44.
func TestVDOBits(t *testing.T) {
	type c = pd.CableFields
	equal := func(want, got any) { t.Helper(); assert.Equal(t, want, got) }
	equal(pd.IDHeaderFields{USBHost: true}, pd.IDHeaderVDO(1<<31).Fields())
	equal(pd.IDHeaderFields{USBDevice: true}, pd.IDHeaderVDO(1<<30).Fields())
	equal(pd.IDHeaderFields{Modal: true}, pd.IDHeaderVDO(1<<26).Fields())
	equal(pd.IDHeaderFields{DFP: pd.DFPPowerBrick}, pd.IDHeaderVDO(0x01800000).Fields())
	equal(pd.UFPPeripheral, pd.IDHeaderVDO(0x10000000).Fields().UFP())

	equal(pd.UFPFields{Version: 3}, pd.UFPVDO(0x60000000).Fields())
	equal(pd.UFPFields{DeviceCapability: 0b1001}, pd.UFPVDO(0x09000000).Fields())
	equal(pd.UFPFields{VCONNPower: 7, VCONNRequired: true}, pd.UFPVDO(0x780).Fields())
	equal(pd.UFPFields{VBUSNotRequired: true, AlternateModes: 0b101, Speed: 3}, pd.UFPVDO(0x6B).Fields())
	equal(pd.DFPFields{Version: 2, HostCapability: 0b110, PortNumber: 17}, pd.DFPVDO(0x46000011).Fields())

	equal(pd.ActiveCable1Fields{SBUNotSupported: true}, pd.ActiveCableVDO1(1<<8).Fields())
	equal(pd.ActiveCable1Fields{SBUActive: true}, pd.ActiveCableVDO1(1<<7).Fields())
	equal(pd.ActiveCable1Fields{VBUSThrough: true}, pd.ActiveCableVDO1(1<<4).Fields())
	equal(pd.ActiveCable1Fields{FarPlugController: true}, pd.ActiveCableVDO1(1<<3).Fields())
	equal(pd.ActiveCable1Fields{CableFields: c{Termination: 3}}, pd.ActiveCableVDO1(0x1800).Fields())

	equal(pd.ActiveCable2Fields{MaxOperatingC: 70, ShutdownC: 85}, pd.ActiveCableVDO2(0x46550000).Fields())
	equal(pd.ActiveCable2Fields{U3Power: 5, ThroughU3S: true}, pd.ActiveCableVDO2(0x5800).Fields())
	equal(pd.ActiveCable2Fields{Optical: true, USB4NotSupported: true, HubHops: 2}, pd.ActiveCableVDO2(0x580).Fields())
	equal(pd.ActiveCable2Fields{ReTimer: true, USB2NotSupported: true, TwoLanes: true}, pd.ActiveCableVDO2(0x228).Fields())
	equal(pd.ActiveCable2Fields{USB3NotSupported: true, OpticallyIsolated: true}, pd.ActiveCableVDO2(0x14).Fields())
	equal(pd.ActiveCable2Fields{USB4Asymmetric: true, Gen2OrHigher: true}, pd.ActiveCableVDO2(0x3).Fields())

	equal(pd.VPDFields{ChargeThrough: true, VBUSMilliohms: 84, GroundMilliohms: 21}, pd.VPDVDO(0x152B).Fields())
	equal(pd.VPDFields{MaxVBUS: 3, ChargeThrough5A: true}, pd.VPDVDO(0x1C000).Fields())
	equal(uint16(0x1234), pd.ProductVDO(0x12340100).PID())
	equal(uint16(0x0100), pd.ProductVDO(0x12340100).Release())
}

// Product objects of R2.0, each field alone, at the bits of the Linux 6.1 headers.
func TestLegacyVDOBits(t *testing.T) {
	equal := func(want, got any) { t.Helper(); assert.Equal(t, want, got) }
	equal(pd.R20CableFields{Plug: 3, Latency: 1}, pd.R20CableVDO(0x000C2000).Fields())
	equal(pd.R20CableFields{Directionality: 0b1001, Termination: 2}, pd.R20CableVDO(0x1480).Fields())
	equal(pd.R20CableFields{VBUSThrough: true, Signalling: 2}, pd.R20CableVDO(0x12).Fields())
	equal(pd.AMAFields{VCONNPower: 6, VCONNRequired: true}, pd.AMAVDO(0xD0).Fields())
	equal(pd.AMAFields{VBUSRequired: true, Signalling: 3, Directionality: 8}, pd.AMAVDO(0x80B).Fields())
	equal([2]uint16{0xFF01, 0}, pd.SVIDsVDO(0xFF010000).SVIDs())

	current, ok := pd.R20CableVDO(0x40).Fields().MaxCurrent()
	assert.True(t, ok)
	equal(pd.Milliamps(5000), current)
}

// A cable of R2.0 with every pair configurable sets the bits in which R3 states the highest
// VBUS: the reader must choose the view by the Structured VDM Version.
func TestR20CableReadAsR3(t *testing.T) {
	w := pd.R20CableFields{Directionality: 0b1111, Current: 1}.Encode()
	assert.Equal(t, pd.Millivolts(50_000), pd.PassiveCableVDO(w).Fields().MaxVoltage(), "table 6.41, bits 10 and 9")
	assert.False(t, pd.PassiveCableVDO(w).Fields().EPR())
}

// USB PD R3.2 V1.1, table 6.49.
func TestEnterUSB(t *testing.T) {
	f := pd.EUDO(0x22876000).Fields() // 010b at 30, 25, 100b at 23, 00b at 20, 11b at 18, 16 and below
	assert.Equal(t, pd.EnterUSBFields{
		Mode: pd.USBMode4, USB3DRD: true, CableSpeed: pd.SpeedUSB4Gen4, CableCurrent: 3,
		PCIe: true, Thunderbolt3: true, HostPresent: true,
	}, f)
	current, ok := f.MaxCableCurrent()
	assert.True(t, ok)
	assert.Equal(t, pd.Milliamps(5000), current)
	_, ok = pd.EnterUSBFields{CableCurrent: 1}.MaxCableCurrent()
	assert.False(t, ok)
	none, ok := pd.EnterUSBFields{}.MaxCableCurrent()
	assert.True(t, ok)
	assert.Zero(t, none, "0 says that the cable has no VBUS")
	assert.Equal(t, "USB4", f.Mode.String())
	assert.Equal(t, "reserved mode 5", pd.USBMode(5).String())
	assert.Equal(t, "active re-timer", pd.USBCableReTimer.String())
	assert.Equal(t, "optically isolated", pd.USBCableOptical.String())
}
