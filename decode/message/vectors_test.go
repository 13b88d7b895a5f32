package message_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/pd"
)

// objectVector is one of the computed objects of the standard's vectors.
type objectVector struct {
	Value, Object, Source string
	Fields                values
}

// TestStandardObjectFields: each computed object reads in the JSON as stated.
func TestStandardObjectFields(t *testing.T) {
	var all struct{ Objects []objectVector }
	read(t, "standard_vectors.json", &all)
	require.Len(t, all.Objects, 24)
	for _, v := range all.Objects {
		require.NotEmpty(t, v.Fields, v.Value)
		_, objects := asJSON(t, last(carrying(t, v)))
		got := objects[len(objects)-1]
		require.Equal(t, v.Value, got["raw"])
		if major, ok := v.Fields["major"].(float64); ok { // the codes of one version, counted from 1
			v.Fields["version"] = fmt.Sprintf("%.0f.%.0f", major+1, v.Fields["minor"])
			delete(v.Fields, "major")
			delete(v.Fields, "minor")
		}
		for name, stated := range v.Fields {
			field, want := inJSON(t, v.Object, name, stated)
			has, ok := got[field]
			require.True(t, ok, "%s: no field %s in %v", v.Value, field, got)
			assert.Equal(t, want, has, "%s %s: %s, %s", v.Object, v.Value, field, v.Source)
		}
	}
}

// carrying is a message whose last object is the vector's.
func carrying(t *testing.T, v objectVector) captures.Message {
	t.Helper()
	const identityACK = 0xFF00A041
	raw := word(t, v.Value)
	types := map[string]pd.MessageType{
		"EPR_Mode": pd.EPRMode, "Revision": pd.RevisionMessage, "Get_Country_Info (CCDO)": pd.GetCountryInfo,
		"Source_Info": pd.SourceInfo, "Battery_Status": pd.BatteryStatus, "Alert": pd.Alert, "BIST": pd.BIST, "SVDM header": pd.VendorDefined,
	}
	m := captures.Message{}
	switch v.Object {
	case "ID Header VDO":
		m = sinkSays(pd.VendorDefined, 0, identityACK, raw)
	case "Passive Cable VDO":
		const passiveCable = 0x18601234
		m = sinkSays(pd.VendorDefined, 0, identityACK, passiveCable, 0, 0, raw)
	default:
		typ, ok := types[v.Object]
		require.True(t, ok, "nothing asserts %s", v.Object)
		return sourceSays(typ, 0, raw)
	}
	m.Set, m.Bytes[1] = pd.SOPPrime, m.Bytes[1]|1
	return m
}

// inJSON is a field of a vector by its name and in its words of the JSON.
func inJSON(t *testing.T, object, name string, stated any) (field string, want any) {
	t.Helper()
	names := map[string]string{
		"action": "action", "sink_operational_pdp_W": "sink_pdp_w", "cause": "failure",
		"revision": "revision", "version": "version", "country": "country",
		"max_W": "maximum_pdp_w", "present_W": "present_pdp_w", "reported_W": "reported_pdp_w",
		"capacity_Wh": "capacity_wh", "status": "charging_status", "ocp": "ocp_event", "ovp": "ovp_event",
		"svid": "svid", "command": "command_name", "type": "command_type",
		"sop_prime_product_type": "product_type", "connector": "connector", "vid": "usb_vid", "plug": "plug", "speed": "speed",
	}
	switch name {
	case "port_type":
		return "port_type", stated
	case "present":
		return "battery_present", stated == 1.0
	case "epr":
		return "epr_capable", stated == 1.0
	case "ocp", "ovp":
		return names[name], stated == 1.0
	case "svid", "vid":
		return names[name], fmt.Sprintf("0x%s", stated)
	case "mode": // two of the four leave out the word
		return "mode", "BIST " + strings.TrimPrefix(stated.(string), "BIST ")
	case "version":
		if object == "SVDM header" {
			return "vdm_version", stated
		}
	case "max_vbus_V":
		return "max_vbus_mv", 1000 * stated.(float64)
	case "current_A":
		return "current_ma", 1000 * stated.(float64)
	case "latency":
		require.Equal(t, "<10 ns", stated)
		return "latency_us", 0.01
	}
	require.NotEmpty(t, names[name], "%s of %s", name, object)
	return names[name], stated
}
