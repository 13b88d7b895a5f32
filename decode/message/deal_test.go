package message_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/message"
	"portside/pd"
)

// TestDeal reads Requests on each kind of object: USB PD R3.2 V1.1, tables 6.9 to 6.16
// and 6.23 to 6.26.
func TestDeal(t *testing.T) {
	var offers message.Offers
	list := []uint32{
		uint32(pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000}.Encode()),
		uint32(pd.FixedSupply{Voltage: 9000, MaxCurrent: 3000}.Encode()),
		uint32(pd.BatterySupply{MinVoltage: 9000, MaxVoltage: 12_000, MaxPower: 27_000}.Encode()),
		uint32(pd.VariableSupply{MinVoltage: 9000, MaxVoltage: 15_000, MaxCurrent: 2000}.Encode()),
		uint32(pd.PPSSupply{MinVoltage: 5000, MaxVoltage: 11_000, MaxCurrent: 3000}.Encode()),
		uint32(pd.SPRAVSSupply{MaxCurrent15V: 3000, MaxCurrent20V: 2500}.Encode()),
	}
	require.True(t, offers.Take(pd.NewMessage(pd.SOP, pd.HeaderFields{Type: pd.SourceCapabilities, PowerRole: pd.Source}, list...)))
	fixed := func(position int) uint32 {
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position, CapabilityMismatch: position == 2}, OperatingCurrent: 1500, MaxCurrent: 2000}.Encode())
	}
	for _, x := range []struct {
		name string
		rdo  []uint32
		want message.Deal
	}{
		{"fixed", []uint32{fixed(2)}, message.Deal{Known: true, Position: 2, Kind: pd.KindFixed, Voltage: 9000, Current: 1500, Mismatch: true}},
		{
			"battery",
			[]uint32{uint32(pd.BatteryRequest{RequestFlags: pd.RequestFlags{Position: 3}, OperatingPower: 20_000, MaxPower: 27_000}.Encode())},
			message.Deal{Known: true, Position: 3, Kind: pd.KindBattery, Power: 20_000, Minimum: 9000, Maximum: 12_000},
		},
		{"variable", []uint32{fixed(4)}, message.Deal{Known: true, Position: 4, Kind: pd.KindVariable, Current: 1500, Minimum: 9000, Maximum: 15_000}},
		{
			"programmable",
			[]uint32{uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 5}, Voltage: 8240, OperatingCurrent: 1550}.Encode())},
			message.Deal{Known: true, Position: 5, Kind: pd.KindPPS, Voltage: 8240, Current: 1550},
		},
		{
			"adjustable",
			[]uint32{uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: 6}, Voltage: 12_300, OperatingCurrent: 2000}.Encode())},
			message.Deal{Known: true, Position: 6, Kind: pd.KindSPRAVS, Voltage: 12_300, Current: 2000},
		},
		{"a position that was not offered", []uint32{fixed(7)}, message.Deal{Known: true, Position: 7}},
		{"no object", nil, message.Deal{Known: true}},
	} {
		t.Run(x.name, func(t *testing.T) {
			p := pd.NewMessage(pd.SOP, pd.HeaderFields{Type: pd.Request}, x.rdo...)
			got := message.NewDeal(p, &offers, pd.Revision3x)
			assert.Equal(t, x.want, got)
			assert.Equal(t, x.name == "adjustable", got.Adjustable())
		})
	}
}
