package message_test

import (
	"encoding/binary"
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
	"portside/testdata/negotiations"
)

// What others published or recorded, from testdata/pd: each entry names its
// source there.

type values = map[string]any

func read(t *testing.T, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/pd/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(raw, into))
}

func word(t *testing.T, s string) uint32 {
	t.Helper()
	v, err := strconv.ParseUint(strings.TrimPrefix(s, "0x"), 16, 32)
	require.NoError(t, err)
	return uint32(v)
}

// asJSON is a line as a reader of the JSON sees it.
func asJSON(t *testing.T, l *message.Line) (header values, objects []values) {
	t.Helper()
	var v struct {
		Header  values
		Objects []values
	}
	require.NoError(t, json.Unmarshal(l.AppendJSON(nil), &v))
	return v.Header, v.Objects
}

// requireFields: every field that is stated reads as stated.
func requireFields(t *testing.T, want, got values, about string) {
	t.Helper()
	for name, v := range want {
		has, ok := got[name]
		require.True(t, ok, "%s: no field %s in %v", about, name, got)
		require.Equal(t, v, has, "%s: %s", about, name)
	}
}

// offering is an offer of n objects of one kind.
func offering(kind string, n int) captures.Message {
	words := map[string]uint32{
		"fixed": 0x0001912C, "battery": 0x4540F03C, "variable": 0x86E17CC8, "pps": 0xC1A43264, "avs": 0xD3C096F0,
	}
	objects := make([]uint32, n)
	for i := range objects {
		objects[i] = words[kind]
	}
	return sourceSays(pd.SourceCapabilities, 0, objects...)
}

// requested decodes a request for an object of a kind; beyond the seventh it is
// an EPR_Request with its copy.
func requested(t *testing.T, raw uint32, kind string) values {
	t.Helper()
	position := int(raw >> 28)
	if position > 7 {
		copied, _ := asJSON(t, last(offering(kind, 1)))
		require.NotNil(t, copied)
		_, objects := asJSON(t, last(sinkSays(pd.EPRRequest, 0, raw, binary.LittleEndian.Uint32(offering(kind, 1).Bytes[2:]))))
		return objects[0]
	}
	_, objects := asJSON(t, last(offering(kind, position), sinkSays(pd.Request, 0, raw)))
	return objects[0]
}

func TestRecordedExamples(t *testing.T) {
	var all struct {
		Objects []struct {
			Raw, Role, For, Source string
			Fields                 values
		}
		Headers []struct {
			Raw, Source string
			Fields      values
		}
	}
	read(t, "recorded_examples.json", &all)
	require.NotEmpty(t, all.Objects)
	for _, o := range all.Objects {
		raw := word(t, o.Raw)
		var got values
		switch o.Role {
		case "source":
			got = objectIn(t, sourceSays(pd.SourceCapabilities, 0, raw))
		case "sink":
			got = objectIn(t, sinkSays(pd.SinkCapabilities, 0, raw))
		case "vdm":
			got = objectIn(t, sinkSays(pd.VendorDefined, 0, raw))
		case "request":
			got = requested(t, raw, o.For)
		default:
			t.Fatalf("role %s", o.Role)
		}
		assert.Equal(t, o.Raw, got["raw"])
		requireFields(t, o.Fields, got, o.Raw+", "+o.Source)
	}
	require.NotEmpty(t, all.Headers)
	for _, h := range all.Headers {
		b := binary.LittleEndian.AppendUint16(nil, uint16(word(t, h.Raw)))
		header, _ := asJSON(t, last(captures.Message{Set: pd.SOP, Bytes: b}))
		requireFields(t, h.Fields, header, h.Raw+", "+h.Source)
	}
}

func objectIn(t *testing.T, m captures.Message) values {
	t.Helper()
	_, objects := asJSON(t, last(m))
	require.Len(t, objects, 1)
	return objects[0]
}

// vectorNames are the names of the vectors' fields in the JSON.
var vectorNames = map[string]string{
	"mV": "voltage_mv", "mA": "current_ma", "min_mV": "min_voltage_mv", "max_mV": "max_voltage_mv", "mW": "power_mw",
	"dual_role_power": "dual_role_power", "usb_suspend": "usb_suspend", "unconstrained_power": "unconstrained_power",
	"usb_comm": "usb_communications", "dual_role_data": "dual_role_data", "unchunked": "unchunked", "epr_capable": "epr_capable",
	"power_limited": "power_limited", "pdp_W": "pdp_w", "peak": "peak_current", "mA_9_to_15V": "current_15v_ma", "mA_15_to_20V": "current_20v_ma",
	"higher_capability": "higher_capability", "position": "position", "op_mA": "operating_ma", "max_mA": "maximum_ma",
	"no_suspend": "no_usb_suspend", "mismatch": "capability_mismatch", "op_mW": "operating_mw", "max_mW": "maximum_mw",
}

// vectorFields are a vector's fields as the JSON writes them.
func vectorFields(t *testing.T, in, got values, renamed map[string]string) values {
	t.Helper()
	out := values{}
	for name, v := range in {
		if name == "frs_current" {
			out["fast_role_swap_current"] = 2.0 // "1.5 A at 5 V (10b)"
			continue
		}
		to := vectorNames[name]
		if r := renamed[name]; r != "" {
			to = r
		}
		require.NotEmpty(t, to, name)
		if _, flag := got[to].(bool); flag {
			v = v == 1.0
		}
		out[to] = v
	}
	return out
}

func TestStandardVectors(t *testing.T) {
	var all struct {
		PDOs, RDOs []struct {
			Value, Kind, Source string
			Fields              values
		}
		Headers         []struct{ Value, Description string }
		ExtendedHeaders []struct {
			Value, Description string
			Fields             values
		} `json:"extended_headers"`
	}
	read(t, "standard_vectors.json", &all)
	require.NotEmpty(t, all.PDOs)
	for _, p := range all.PDOs {
		m := sourceSays(pd.SourceCapabilities, 0, word(t, p.Value))
		if strings.HasPrefix(p.Kind, "sink") {
			m = sinkSays(pd.SinkCapabilities, 0, word(t, p.Value))
		}
		got := objectIn(t, m)
		requireFields(t, vectorFields(t, p.Fields, got, nil), got, p.Value+", "+p.Source)
	}
	for _, r := range all.RDOs {
		kind := map[string]string{"fixed/variable": "fixed", "battery": "battery", "PPS": "pps", "AVS": "avs"}[r.Kind]
		got := requested(t, word(t, r.Value), kind)
		requireFields(t, vectorFields(t, r.Fields, got, map[string]string{"mA": "operating_ma"}), got, r.Value+", "+r.Source)
	}
	for _, h := range all.Headers {
		m := captures.Message{Set: pd.SOP, Bytes: binary.LittleEndian.AppendUint16(nil, uint16(word(t, h.Value)))}
		header, _ := asJSON(t, last(m))
		name, _, _ := strings.Cut(h.Description, ",")
		name, _, _ = strings.Cut(name, " ")
		assert.Equal(t, name, header["type"], h.Value)
	}
	for _, x := range all.ExtendedHeaders {
		b := binary.LittleEndian.AppendUint16([]byte{0x89, 0x80 | byte(x.Fields["number_of_data_objects"].(float64))<<4}, uint16(word(t, x.Value)))
		header, _ := asJSON(t, last(captures.Message{Set: pd.SOP, Bytes: b}))
		got := header["extended_header"].(values)
		want := values{"chunk_number": x.Fields["chunk_number"], "data_size": x.Fields["data_size"], "chunked": x.Fields["chunked"] == 1.0, "request_chunk": x.Fields["request_chunk"] == 1.0}
		requireFields(t, want, got, x.Value+", "+x.Description)
	}
}

// TestStandardObjects are the computed objects of the vectors in words, most
// from USB PD R3.2 V1.1, tables 6.27 to 6.52.
func TestStandardObjects(t *testing.T) {
	plug := func(m captures.Message) captures.Message { m.Set, m.Bytes[1] = pd.SOPPrime, m.Bytes[1]|1; return m }
	for want, m := range map[string]captures.Message{
		"EPR_Mode: Enter, sink of 140 W":                sinkSays(pd.EPRMode, 0, 0x018C0000),
		"EPR_Mode: Enter Acknowledged":                  sourceSays(pd.EPRMode, 0, 0x02000000),
		"EPR_Mode: Enter Succeeded":                     sourceSays(pd.EPRMode, 0, 0x03000000),
		"EPR_Mode: Enter Failed, cable not EPR capable": sourceSays(pd.EPRMode, 0, 0x04010000),
		"EPR_Mode: Exit":                                sourceSays(pd.EPRMode, 0, 0x05000000),
		"Revision: 3.2, version 1.1":                    sourceSays(pd.RevisionMessage, 0, 0x32110000),
		"Get_Country_Info: CN":                          sinkSays(pd.GetCountryInfo, 0, 0x434E0000),
		"Source_Info: guaranteed port, maximum 140 W, present 140 W, reported 100 W": sourceSays(pd.SourceInfo, 0, 0x808C8C64),
		"Battery_Status: charging, charge 50 Wh":                                     sinkSays(pd.BatteryStatus, 0, 0x01F40200),
		"Battery_Status: no battery present, charge not given":                       sinkSays(pd.BatteryStatus, 0, 0xFFFF0000),
		"Alert: ocp event":                                sourceSays(pd.Alert, 0, 0x04000000),
		"Alert: ovp event":                                sourceSays(pd.Alert, 0, 0x40000000),
		"BIST: BIST Carrier Mode":                         sourceSays(pd.BIST, 0, 0x50000000),
		"Vendor_Defined: Discover SVIDs NAK, SVID 0xFF00": sinkSays(pd.VendorDefined, 0, 0xFF00A882),
		"Vendor_Defined: Discover SVIDs ACK, SVID 0xFF00, 0xFF01, 0x8087, end of the list, end of the list":                          sinkSays(pd.VendorDefined, 0, 0xFF00A042, 0xFF018087, 0),
		"Vendor_Defined: Discover Modes ACK, SVID 0xFF01, mode 0x00000405":                                                           sinkSays(pd.VendorDefined, 0, 0xFF01A043, 0x00000405),
		"Vendor_Defined: Discover Identity ACK, SVID 0xFF00, VID 0x1234, passive cable, PID 0x0000, 5 A, 50 V, EPR capable, USB 2.0": plug(sinkSays(pd.VendorDefined, 0, 0xFF00A041, 0x18601234, 0, 0, 0x000A2640)),
		"Enter_USB: USB4, cable passive, USB4 Gen3, 5 A, pcie, displayport, thunderbolt 3, host present":                             sourceSays(pd.EnterUSB, 0, 0x2067E000),
	} {
		assert.Equal(t, want, last(m).Text())
	}
}

func TestPublishedMessages(t *testing.T) {
	var all struct {
		Messages []struct {
			SOP, Type, Meaning, Source string
			Bytes, CRC                 *string
			CRCOK                      *bool `json:"crc_ok"`
		}
	}
	read(t, "recorded_examples.json", &all)
	n := 0
	for _, e := range all.Messages {
		if e.Bytes == nil {
			continue
		}
		m := captures.Message{Set: pd.SOP, Bytes: hexBytes(t, *e.Bytes)}
		if e.CRC != nil {
			m.HasCRC = true
			copy(m.CRC[:], hexBytes(t, *e.CRC))
		}
		l := last(m)
		assert.Equal(t, e.Type, l.Header.Type().String(), e.Meaning)
		want := message.NoCRC
		if e.CRCOK != nil {
			want = map[bool]message.CRC{true: message.RightCRC, false: message.WrongCRC}[*e.CRCOK]
		}
		assert.Equal(t, want, l.CRC, e.Meaning)
		n++
	}
	require.Greater(t, n, 10)
}

// TestOnlyTheSecondChunk: what stands whole in a chunk is shown though the first
// one is missing (recorded EPR source, objects 8 to 10).
func TestOnlyTheSecondChunk(t *testing.T) {
	l := last(captures.Message{Set: pd.SOP, Bytes: hexBytes(t, "B1CF28880000F4C11800F4411B00F4011F00")})
	assert.Equal(t, "EPR_Source_Capabilities: chunk 1 of a block of 40 bytes, 8: 28 V 5 A, 36 V 5 A, 48 V 5 A", l.Text())
	assert.Equal(t, 8, l.FirstPosition)
	assert.Equal(t, []string{"chunk 0 of the block is not in the recording"}, l.Problems)
	_, objects := asJSON(t, l)
	require.Len(t, objects, 3)
	assert.Equal(t, 28000.0, objects[0]["voltage_mv"])
}

func hexBytes(t *testing.T, s string) []byte {
	t.Helper()
	out := make([]byte, len(s)/2)
	for i := range out {
		out[i] = byte(word(t, s[2*i:2*i+2]))
	}
	return out
}

// TestRecordedNegotiations: every logged type and object of the recorded
// negotiations reads as logged, requests against the offer they answer, and
// everybody speaks as the log says.
func TestRecordedNegotiations(t *testing.T) {
	logs, err := negotiations.Read()
	require.NoError(t, err)
	checked := 0
	for _, log := range logs {
		list, err := log.Messages(false)
		require.NoError(t, err)
		d := message.NewDecoder()
		for _, e := range log.Events {
			if e.Kind != "reset" && e.Kind != "rx" && e.Kind != "tx" || string(e.OnWire) == "null" {
				continue
			}
			l := d.Decode(&list[0].Message)
			list = list[1:]
			if e.Kind == "reset" {
				continue
			}
			if e.Type != "" {
				assert.Equal(t, e.Type, l.Header.Type().String(), log.ID)
			}
			checkSpeaker(t, log.ID, e, log.Recorder, l)
			checked += checkObjects(t, log.ID, e, l)
		}
		assert.Empty(t, list, log.ID)
	}
	assert.Greater(t, checked, 50)
}

func checkSpeaker(t *testing.T, id string, e negotiations.Event, recorder string, l *message.Line) {
	t.Helper()
	want := map[bool]pd.PowerRole{true: pd.Source, false: pd.Sink}[(recorder == "source") == (e.Kind == "tx")]
	if l.Header.Type().Class() == pd.Data && l.Header.Type() != pd.VendorDefined {
		assert.Equal(t, want, l.From, "%s: %s at %v", id, l.Text(), l.At)
	}
}

func checkObjects(t *testing.T, id string, e negotiations.Event, l *message.Line) (checked int) {
	t.Helper()
	_, objects := asJSON(t, l)
	for i, o := range e.Objects {
		if o == nil || i >= len(objects) {
			continue
		}
		got := objects[i]
		switch {
		case o.Raw != "":
			assert.Equal(t, o.Raw, got["raw"], id)
		case l.Header.Type() == pd.Request:
			assert.Equal(t, float64(o.Position), got["position"], id)
			assert.Equal(t, o.CapabilityMismatch, got["capability_mismatch"], id)
		case o.Kind == "fixed" && l.Header.Type() == pd.SourceCapabilities:
			assert.Equal(t, float64(o.VoltageMV), got["voltage_mv"], id)
			assert.Equal(t, float64(o.CurrentMA), got["current_ma"], id)
		}
		checked++
	}
	return checked
}
