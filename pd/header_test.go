package pd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestHeaderVectors(t *testing.T) {
	vectors := standard(t).Headers
	require.Len(t, vectors, 13)
	revisions := map[int]string{0: "1.0", 1: "2.0", 2: "3.x", 3: "reserved"}
	for _, v := range vectors {
		t.Run(v.Description, func(t *testing.T) {
			h := pd.Header(v.raw(t))
			assert.Equal(t, v.Fields.number(t, "type"), h.Type().Code(), v.Source)
			assert.Equal(t, v.Fields.number(t, "id"), h.MessageID(), v.Source)
			assert.Equal(t, revisions[v.Fields.number(t, "rev")], h.Revision().String(), v.Source)
			if _, cable := v.Fields["cable_plug"]; cable {
				assert.Equal(t, v.Fields.flag("cable_plug"), h.CablePlug(), v.Source)
				return
			}
			assert.Equal(t, v.Fields.number(t, "ndo"), h.Objects(), v.Source)
			assert.Equal(t, v.Fields.flag("ext"), h.Extended(), v.Source)
			assert.Equal(t, v.Fields["power"], h.PowerRole().String(), v.Source)
			assert.Equal(t, v.Fields["data"] == "DFP", h.DataRole() == pd.DFP, v.Source)
		})
	}
}

func TestRecordedHeaders(t *testing.T) {
	vectors := recorded(t).Headers
	require.Len(t, vectors, 53)
	for _, v := range vectors {
		t.Run(v.Raw, func(t *testing.T) {
			require.NotEmpty(t, v.Source)
			h := pd.Header(parseWord(t, v.Raw))
			got := fields{
				"type":       h.Type().String(),
				"objects":    float64(h.Objects()),
				"message_id": float64(h.MessageID()),
				"power_role": h.PowerRole().String(),
				"data_role":  h.DataRole().String(),
				"revision":   h.Revision().String(),
				"extended":   h.Extended(),
			}
			for name, want := range v.Fields {
				assert.Equal(t, want, got[name], "%s: %s", name, v.Source)
			}
		})
	}
}

// Every header there can be, taken apart and put together again as on SOP and as to a
// cable.
func TestHeaderRoundTrip(t *testing.T) {
	for i := range 1 << 16 {
		h := pd.Header(i)
		if got := h.Fields().Encode(); got != h {
			require.Equal(t, h, got, "SOP 0x%04X", i)
		}
		if got := h.CableFields().Encode(); got != h {
			require.Equal(t, h, got, "cable 0x%04X", i)
		}
	}
}

func TestHeaderFieldsEncode(t *testing.T) {
	// Values printed by PD_HEADER of the Linux 6.12 headers, layout of USB PD R3.2 V1.1,
	// table 6.1.
	tests := []struct {
		name   string
		fields pd.HeaderFields
		want   pd.Header
	}{
		{"offer", pd.HeaderFields{Type: pd.SourceCapabilities, Objects: 5, Revision: pd.Revision3x, PowerRole: pd.Source, DataRole: pd.DFP}, 0x51A1},
		{"request", pd.HeaderFields{Type: pd.Request, Objects: 1, Revision: pd.Revision20, PowerRole: pd.Sink, DataRole: pd.UFP}, 0x1042},
		{"status", pd.HeaderFields{Type: pd.Status, Objects: 3, MessageID: 4, Revision: pd.Revision32, PowerRole: pd.Source, DataRole: pd.DFP}, 0xB9A2},
		{"plug", pd.HeaderFields{Type: pd.VendorDefined, Objects: 5, MessageID: 2, Revision: pd.Revision3x, CablePlug: true}, 0x558F},
		{"zero", pd.HeaderFields{}, 0x0000},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, tt.fields.Encode()) })
	}
}

func TestExtendedHeaderVectors(t *testing.T) {
	vectors := standard(t).ExtendedHeaders
	require.Len(t, vectors, 14)
	for _, v := range vectors {
		t.Run(v.Description, func(t *testing.T) {
			x := pd.ExtendedHeader(v.raw(t))
			assert.Equal(t, v.Fields.flag("chunked"), x.Chunked(), v.Source)
			assert.Equal(t, v.Fields.number(t, "chunk_number"), x.ChunkNumber(), v.Source)
			assert.Equal(t, v.Fields.flag("request_chunk"), x.RequestChunk(), v.Source)
			assert.Equal(t, v.Fields.number(t, "data_size"), x.DataSize(), v.Source)
		})
	}
}

func TestExtendedHeaderRoundTrip(t *testing.T) {
	for i := range 1 << 16 {
		x := pd.ExtendedHeader(i)
		if got := x.Fields().Encode(); got != x {
			require.Equal(t, x, got)
		}
	}
}

// The worked chunks of USB PD R3.2 V1.1, figures 6.5 to 6.11: how much of a block each
// packet carries.
func TestExtendedHeaderBytesHere(t *testing.T) {
	tests := []struct {
		name string
		x    pd.ExtendedHeader
		want int
	}{
		{"7 bytes unchunked", 0x0007, 7},
		{"30 bytes unchunked", 0x001E, 30},
		{"7 bytes in chunk 0", 0x8007, 7},
		{"30 bytes, chunk 0", 0x801E, 26},
		{"request for chunk 1", 0x8C00, 0},
		{"30 bytes, chunk 1", 0x881E, 4},
		{"request that states a size", 0x8C1E, 0}, // table 6.3: a request carries no data
		{"chunk beyond the block", 0x901E, 0},     // arithmetic
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, tt.x.BytesHere()) })
	}
}

func TestMessageTypes(t *testing.T) {
	v := standard(t).MessageTypes
	classes := []struct {
		class    pd.Class
		defined  []namedCode
		reserved []int
	}{
		{pd.Control, v.Control, v.Reserved.Control},
		{pd.Data, v.Data, v.Reserved.Data},
		{pd.Extended, v.Extended, v.Reserved.Extended},
	}
	for _, c := range classes {
		t.Run(c.class.String(), func(t *testing.T) {
			require.Len(t, append(c.reserved, codes(c.defined)...), 32, "every code is in the list")
			for _, want := range c.defined {
				mt := pd.NewMessageType(c.class, want.Code)
				assert.Equal(t, trimDeprecated(want.Name), mt.String(), want.Source)
				assert.Equal(t, c.class, mt.Class())
				back, ok := pd.ParseMessageType(mt.String())
				assert.True(t, ok)
				assert.Equal(t, mt, back)
			}
			for _, code := range c.reserved {
				mt := pd.NewMessageType(c.class, code)
				assert.False(t, mt.Defined(), "%s code %d", c.class, code)
				assert.Regexp(t, `^Reserved_0x[01][0-9A-F]$`, mt.String())
			}
		})
	}
}

func codes(list []namedCode) (out []int) {
	for _, c := range list {
		out = append(out, c.Code)
	}
	return out
}

func trimDeprecated(name string) string {
	const mark = " (deprecated)"
	if len(name) > len(mark) && name[len(name)-len(mark):] == mark {
		return name[:len(name)-len(mark)]
	}
	return name
}

// The Go names of the constants, spot-checked by hand against USB PD R3.2 V1.1, tables 6.5,
// 6.6 and 6.53: a constant on the wrong line of the table would pass the vectors above.
func TestMessageTypeConstants(t *testing.T) {
	tests := map[pd.MessageType]string{
		pd.GoodCRC: "GoodCRC", pd.GotoMin: "GotoMin", pd.Accept: "Accept", pd.Reject: "Reject",
		pd.Ping: "Ping", pd.PSRDY: "PS_RDY", pd.GetSourceCap: "Get_Source_Cap",
		pd.GetSinkCap: "Get_Sink_Cap", pd.DRSwap: "DR_Swap", pd.PRSwap: "PR_Swap",
		pd.VCONNSwap: "VCONN_Swap", pd.Wait: "Wait", pd.SoftReset: "Soft_Reset",
		pd.DataReset: "Data_Reset", pd.NotSupported: "Not_Supported", pd.FRSwap: "FR_Swap",
		pd.GetRevision: "Get_Revision", pd.SourceCapabilities: "Source_Capabilities",
		pd.Request: "Request", pd.BIST: "BIST", pd.VendorDefined: "Vendor_Defined",
		pd.EPRMode: "EPR_Mode", pd.EPRRequest: "EPR_Request", pd.RevisionMessage: "Revision",
		pd.EPRSourceCapabilities: "EPR_Source_Capabilities", pd.PPSStatus: "PPS_Status",
		pd.VendorDefinedExtended: "Vendor_Defined_Extended", pd.ExtendedControl: "Extended_Control",
		0: "Reserved_0x00",
	}
	for mt, want := range tests {
		assert.Equal(t, want, mt.String())
	}
	_, ok := pd.ParseMessageType("")
	assert.False(t, ok)
	_, ok = pd.ParseMessageType("Reserved_0x00")
	assert.False(t, ok)
}

func TestHeaderThatNoMessageHas(t *testing.T) {
	assert.Equal(t, "Reserved_0x00", pd.Header(0).Type().String())
	assert.Equal(t, "control", pd.Header(0).Class().String())
}

func TestRevisionNames(t *testing.T) {
	want := map[pd.Revision]string{
		0: "unknown", pd.Revision10: "1.0", pd.Revision20: "2.0", pd.Revision3x: "3.x",
		pd.RevisionReserved: "reserved", pd.Revision30: "3.0", pd.Revision31: "3.1", pd.Revision32: "3.2",
		99: "unknown",
	}
	for r, name := range want {
		assert.Equal(t, name, r.String())
	}
	assert.True(t, pd.Revision31.Is3())
	assert.False(t, pd.RevisionReserved.Is3())
}
