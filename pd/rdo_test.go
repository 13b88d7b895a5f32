package pd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestRDOVectors(t *testing.T) {
	vectors := standard(t).RDOs
	require.Len(t, vectors, 7)
	offered := map[string]string{"fixed/variable": "fixed", "battery": "battery", "PPS": "pps", "AVS": "avs"}
	for _, v := range vectors {
		t.Run(v.Value, func(t *testing.T) {
			got := requestFields(pd.RDO(v.raw(t)), offered[v.Kind])
			for name, want := range v.Fields {
				name = vectorName(name)
				if name == "current_ma" { // of PPS and AVS
					name = "operating_ma"
				}
				assertField(t, name, want, got[name], v.Source)
			}
		})
	}
}

// requestFields reads a request through the view of the kind offered.
func requestFields(r pd.RDO, offered string) fields {
	out := fields{
		"position": float64(r.Position()), "give_back": r.GiveBack(),
		"capability_mismatch": r.CapabilityMismatch(), "usb_communications": r.USBCommunications(),
		"no_usb_suspend": r.NoUSBSuspend(), "unchunked": r.Unchunked(), "epr_capable": r.EPRCapable(),
	}
	switch offered {
	case "battery":
		b := r.Battery()
		out["kind"] = "rdo-battery"
		out["operating_mw"], out["maximum_mw"] = float64(b.OperatingPower), float64(b.MaxPower)
	case "pps":
		p := r.PPS()
		out["kind"] = "rdo-pps"
		out["voltage_mv"], out["operating_ma"] = float64(p.Voltage), float64(p.OperatingCurrent)
	case "avs":
		a := r.AVS()
		out["kind"] = "rdo-avs"
		out["voltage_mv"], out["operating_ma"] = float64(a.Voltage), float64(a.OperatingCurrent)
	default:
		f := r.Fixed()
		out["kind"] = "rdo-fixed"
		out["operating_ma"], out["maximum_ma"] = float64(f.OperatingCurrent), float64(f.MaxCurrent)
	}
	return out
}

// USB PD R3.0 V1.1 has three position bits and reserves bit 31; R3.2 V1.1 has four.
func TestRDOPositionByRevision(t *testing.T) {
	const r = pd.RDO(0xB04B4064)
	want := map[pd.Revision]int{
		pd.Revision20: 3, pd.Revision30: 3,
		pd.Revision31: 11, pd.Revision32: 11, pd.Revision3x: 11, 0: 11,
	}
	for rev, position := range want {
		assert.Equal(t, position, r.PositionFor(rev), rev.String())
	}
	assert.Equal(t, 11, r.Position())
}

// A request for 9 V from a programmable supply, as the Linux 6.12 headers print it.
func TestRDOEncode(t *testing.T) {
	r := pd.PPSRequest{
		RequestFlags:     pd.RequestFlags{Position: 5, USBCommunications: true},
		Voltage:          9000,
		OperatingCurrent: 3000,
	}.Encode()
	require.Equal(t, pd.RDO(0x5203843C), r)
	assert.Equal(t, 5, r.Flags().Position)
}
