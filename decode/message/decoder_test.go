package message_test

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

func packet(set pd.OrderedSet, header uint16, objects ...uint32) captures.Message {
	b := binary.LittleEndian.AppendUint16(nil, header)
	for _, o := range objects {
		b = binary.LittleEndian.AppendUint32(b, o)
	}
	return captures.Message{Set: set, Bytes: b}
}

// last decodes a recording, 1 s between its messages, and gives the last line.
func last(list ...captures.Message) *message.Line {
	d := message.NewDecoder()
	var line *message.Line
	for i := range list {
		list[i].At += time.Duration(i) * time.Second
		line = d.Decode(&list[i])
	}
	return line
}

// objectsOf gives the objects of a line as they are written.
func objectsOf(t *testing.T, l *message.Line) (out []string) {
	t.Helper()
	var v struct{ Objects []json.RawMessage }
	require.NoError(t, json.Unmarshal(l.AppendJSON(nil), &v))
	for _, o := range v.Objects {
		out = append(out, string(o))
	}
	return out
}

// sixObjects is a Source_Capabilities with the words one recorded charger sent
// (example log of a sink sample with an external port controller, 2025).
func sixObjects() captures.Message {
	return packet(pd.SOP, 0x61A1, 0x0801912C, 0x0002D12C, 0x0003C12C, 0x0004B12C, 0x0006412C, 0xC8DC213C)
}

func discarded(m captures.Message) captures.Message {
	m.Status = captures.Discarded
	return m
}

func TestText(t *testing.T) {
	epr := func() captures.Message {
		return packet(pd.SOP, 0x2089, uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: 8}, OperatingCurrent: 5000, MaxCurrent: 5000}.Encode()),
			uint32(pd.FixedSupply{Voltage: 28000, MaxCurrent: 5000}.Encode()))
	}
	avs := uint32(pd.SPRAVSSupply{MaxCurrent15V: 3000, MaxCurrent20V: 2250}.Encode())
	cases := []struct {
		name   string
		in     []captures.Message
		want   string
		source string
	}{
		{"offers", []captures.Message{sixObjects()}, "Source_Capabilities: 5 V 3 A, 9 V 3 A, 12 V 3 A, 15 V 3 A, 20 V 3 A, PPS 3.3 to 11 V 3 A", "recorded words, 2025"},
		{"20 V 3.25 A", []captures.Message{packet(pd.SOP, 0x11A1, 0x00064145)}, "Source_Capabilities: 20 V 3.25 A", "USB PD R3.2 V1.1, table 6.9"},
		{"a Request against its offer", []captures.Message{sixObjects(), packet(pd.SOP, 0x1042, 0x2004B12C)}, "Request: object 2, 9 V 3 A", "table 6.23"},
		{"mismatch", []captures.Message{sixObjects(), packet(pd.SOP, 0x1042, 0x440320C8)}, "Request: object 4, 15 V 2 A, capability mismatch", "recorded Request, 2020"},
		{"PPS", []captures.Message{sixObjects(), packet(pd.SOP, 0x1082, uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 6}, Voltage: 9020, OperatingCurrent: 2050}.Encode()))}, "Request: object 6, PPS 9.02 V 2.05 A", "table 6.25"},
		{"AVS", []captures.Message{packet(pd.SOP, 0x11A1, avs), packet(pd.SOP, 0x1082, uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: 1}, Voltage: 9100, OperatingCurrent: 2200}.Encode()))}, "Request: object 1, AVS 9.1 V 2.2 A", "table 6.26"},
		{"EPR with its copy", []captures.Message{epr()}, "EPR_Request: object 8, 28 V 5 A", "section 6.4.9"},
		{"no offer seen", []captures.Message{packet(pd.SOP, 0x1042, 0x2004B12C)}, "Request: object 2, 0x2004B12C (the offer it answers is not in the recording)", "unknown is unknown"},
		{"the offer before a Hard Reset is void", []captures.Message{sixObjects(), {Set: pd.HardReset}, packet(pd.SOP, 0x1042, 0x2004B12C)}, "Request: object 2, 0x2004B12C (the offer it answers is not in the recording)", "section 6.8.3"},
		{"a discarded offer was never made", []captures.Message{discarded(sixObjects()), packet(pd.SOP, 0x1042, 0x2004B12C)}, "Request: object 2, 0x2004B12C (the offer it answers is not in the recording)", "ours"},
		{"control", []captures.Message{packet(pd.SOP, 0x0566)}, "PS_RDY", "table 6.5"},
		{"Alert and PS_RDY share a number", []captures.Message{packet(pd.SOP, 0x19A6, 0x10000000)}, "Alert: operating condition change", "table 6.47"},
		{"VDM", []captures.Message{packet(pd.SOP, 0x176F, 0xFF008001)}, "Vendor_Defined: Discover Identity REQ, SVID 0xFF00", "table 6.29"},
		{"VDM with objects", []captures.Message{packet(pd.SOPPrime, 0x214F, 0xFF00A041, 0)}, "Vendor_Defined: Discover Identity ACK, SVID 0xFF00, VID 0x0000, not a cable plug", "table 6.29"},
		{"unstructured", []captures.Message{packet(pd.SOP, 0x176F, 0x12340001)}, "Vendor_Defined: vendor 0x1234, unstructured", "table 6.28"},
		{"reserved kind", []captures.Message{packet(pd.SOP, 0x11A1, 0xF0000001)}, "Source_Capabilities: reserved kind 0xF0000001", "table 6.8"},
		{"battery", []captures.Message{packet(pd.SOP, 0x11A1, uint32(pd.BatterySupply{MinVoltage: 9000, MaxVoltage: 12600, MaxPower: 30250}.Encode()))}, "Source_Capabilities: battery 9 to 12.6 V 30.25 W", "table 6.12"},
		{"variable", []captures.Message{packet(pd.SOP, 0x11A1, uint32(pd.VariableSupply{MinVoltage: 9000, MaxVoltage: 12050, MaxCurrent: 1000}.Encode()))}, "Source_Capabilities: variable 9 to 12.05 V 1 A", "table 6.11"},
		{"chunk", []captures.Message{packet(pd.SOP, 0xF1B1, 0x00008024, 0, 0, 0, 0, 0, 0)}, "EPR_Source_Capabilities: chunk 0 of a block of 36 bytes", "table 6.3"},
		{"chunk request", []captures.Message{packet(pd.SOP, 0x9091, 0x00008C00)}, "EPR_Source_Capabilities: asks for chunk 1", "figure 6.9"},
		{"reserved type", []captures.Message{packet(pd.SOP, 0x0000)}, "Reserved_0x00", "two recorded boots, 2024"},
		{"reset", []captures.Message{{Set: pd.HardReset}}, "Hard_Reset", "table 5.11"},
		{"marker", []captures.Message{{Marker: captures.VBUSOn}}, "VBUS_On", "ours"},
		{"unacknowledged", []captures.Message{{Set: pd.SOP, Bytes: []byte{0x66, 0x05}, Status: captures.Unacknowledged}}, "PS_RDY (never acknowledged)", "ours"},
		{"one byte", []captures.Message{{Set: pd.SOP, Bytes: []byte{0x66}}}, "1 bytes without a message header", "ours"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.NotEmpty(t, c.source)
			assert.Equal(t, c.want, last(c.in...).Text())
		})
	}
}

func TestJSON(t *testing.T) {
	cases := []struct {
		name string
		in   []captures.Message
		want string
	}{
		{"offer", []captures.Message{packet(pd.SOP, 0x11A1, 0x0801912C)},
			`{"time_s":0,"sop":"SOP","crc_ok":null,"repeat":false,
			  "header":{"raw":"0x11A1","type":"Source_Capabilities","class":"data","message_id":0,"objects":1,"revision":"3.x","power_role":"source","data_role":"dfp","cable_plug":null,"extended":false,"extended_header":null},
			  "objects":[{"raw":"0x0801912C","kind":"fixed","voltage_mv":5000,"current_ma":3000,"peak_current":0,"dual_role_power":false,"usb_suspend":false,"unconstrained_power":true,"usb_communications":false,"dual_role_data":false,"unchunked":false,"epr_capable":false}],
			  "text":"Source_Capabilities: 5 V 3 A","problems":[]}`},
		{"request", []captures.Message{packet(pd.SOP, 0x11A1, 0x0801912C), packet(pd.SOP, 0x1042, 0x1304B12C)},
			`{"time_s":1,"sop":"SOP","crc_ok":null,"repeat":false,
			  "header":{"raw":"0x1042","type":"Request","class":"data","message_id":0,"objects":1,"revision":"2.0","power_role":"sink","data_role":"ufp","cable_plug":null,"extended":false,"extended_header":null},
			  "objects":[{"raw":"0x1304B12C","kind":"rdo-fixed","position":1,"operating_ma":3000,"maximum_ma":3000,"capability_mismatch":false,"give_back":false,"usb_communications":true,"no_usb_suspend":true,"unchunked":false,"epr_capable":false}],
			  "text":"Request: object 1, 5 V 3 A","problems":[]}`},
		{"cable", []captures.Message{packet(pd.SOPPrime, 0x114F, 0xFF00A041)},
			`{"time_s":0,"sop":"SOP'","crc_ok":null,"repeat":false,
			  "header":{"raw":"0x114F","type":"Vendor_Defined","class":"data","message_id":0,"objects":1,"revision":"2.0","power_role":null,"data_role":null,"cable_plug":true,"extended":false,"extended_header":null},
			  "objects":[{"raw":"0xFF00A041","kind":"vdm-header","svid":"0xFF00","structured":true,"vdm_version":"2.0","object_position":0,"command_type":"ACK","command":1,"command_name":"Discover Identity","vendor_data":null}],
			  "text":"Vendor_Defined: Discover Identity ACK, SVID 0xFF00","problems":["wrong number of data objects (USB PD R3.2 V1.1, tables 6.33 to 6.44)"]}`},
		{"sink capabilities", []captures.Message{packet(pd.SOP, 0x1084, 0x118190C8)},
			`{"time_s":0,"sop":"SOP","crc_ok":null,"repeat":false,
			  "header":{"raw":"0x1084","type":"Sink_Capabilities","class":"data","message_id":0,"objects":1,"revision":"3.x","power_role":"sink","data_role":"ufp","cable_plug":null,"extended":false,"extended_header":null},
			  "objects":[{"raw":"0x118190C8","kind":"fixed","voltage_mv":5000,"current_ma":2000,"dual_role_power":false,"higher_capability":true,"unconstrained_power":false,"usb_communications":false,"dual_role_data":false,"fast_role_swap_current":3}],
			  "text":"Sink_Capabilities: 5 V 2 A","problems":[]}`},
		{"reset", []captures.Message{{Set: pd.HardReset}},
			`{"time_s":0,"sop":"Hard_Reset","crc_ok":null,"repeat":false,"header":null,"objects":[],"text":"Hard_Reset","problems":[]}`},
		{"a header no message has", []captures.Message{packet(pd.SOP, 0x8000)},
			`{"time_s":0,"sop":"SOP","crc_ok":null,"repeat":false,
			  "header":{"raw":"0x8000","type":"Reserved_0x00","class":"extended","message_id":0,"objects":0,"revision":"1.0","power_role":"sink","data_role":"ufp","cable_plug":null,"extended":true,"extended_header":null},
			  "objects":[],"text":"Reserved_0x00",
			  "problems":["header 0x8000 announces 2 bytes, 0 follow","header 0x8000: no message has type 0 of the extended messages"]}`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b, err := json.Marshal(last(c.in...))
			require.NoError(t, err)
			assert.JSONEq(t, c.want, string(b))
		})
	}
}

// TestKinds names the fields of the other kinds.
func TestKinds(t *testing.T) {
	offers := packet(pd.SOP, 0x61A1,
		uint32(pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000}.Encode()),
		uint32(pd.FixedSupply{Voltage: 9000, MaxCurrent: 3000, PeakCurrent: 2}.Encode()),
		uint32(pd.BatterySupply{MinVoltage: 9000, MaxVoltage: 12000, MaxPower: 30000}.Encode()),
		uint32(pd.VariableSupply{MinVoltage: 9000, MaxVoltage: 12000, MaxCurrent: 2000}.Encode()),
		uint32(pd.SPRAVSSupply{MaxCurrent15V: 3000, MaxCurrent20V: 2250, PeakCurrent: 1}.Encode()),
		uint32(pd.PPSSupply{MinVoltage: 3300, MaxVoltage: 11000, MaxCurrent: 3000, PowerLimited: true}.Encode()))
	line := last(offers)
	want := []string{
		"", `"kind":"fixed","voltage_mv":9000,"current_ma":3000,"peak_current":2}`,
		`"kind":"battery","min_voltage_mv":9000,"max_voltage_mv":12000,"power_mw":30000}`,
		`"kind":"variable","min_voltage_mv":9000,"max_voltage_mv":12000,"current_ma":2000}`,
		`"kind":"spr-avs","current_15v_ma":3000,"current_20v_ma":2250,"peak_current":1}`,
		`"kind":"pps","min_voltage_mv":3300,"max_voltage_mv":11000,"current_ma":3000,"power_limited":true}`,
	}
	require.Len(t, line.Objects, len(want))
	for i, o := range objectsOf(t, line) {
		assert.Contains(t, o, want[i])
	}
	epr := objectsOf(t, last(packet(pd.SOP, 0x11A1, uint32(pd.EPRAVSSupply{MinVoltage: 15000, MaxVoltage: 28000, PDP: 140, PeakCurrent: 3}.Encode()))))[0]
	assert.Contains(t, epr, `"kind":"epr-avs","min_voltage_mv":15000,"max_voltage_mv":28000,"pdp_w":140,"peak_current":3}`)

	flags := `"capability_mismatch":false,"give_back":false,"usb_communications":false,"no_usb_suspend":false,"unchunked":false,"epr_capable":false}`
	requests := []struct {
		word uint32
		want string
	}{
		{uint32(pd.BatteryRequest{RequestFlags: pd.RequestFlags{Position: 3}, OperatingPower: 27000, MaxPower: 30000}.Encode()), `"kind":"rdo-battery","position":3,"operating_mw":27000,"maximum_mw":30000,`},
		{uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: 5}, Voltage: 12000, OperatingCurrent: 2200}.Encode()), `"kind":"rdo-avs","position":5,"voltage_mv":12000,"operating_ma":2200,`},
		{uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 6}, Voltage: 8340, OperatingCurrent: 1050}.Encode()), `"kind":"rdo-pps","position":6,"voltage_mv":8340,"operating_ma":1050,`},
		{uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 7}}.Encode()), `"kind":"rdo","position":7,`},
	}
	for _, c := range requests {
		got := last(offers, packet(pd.SOP, 0x1082, c.word))
		assert.Contains(t, objectsOf(t, got)[0], c.want+flags)
	}
	assert.Equal(t, []string{"asks for object 7 of an offer of 6"}, last(offers, packet(pd.SOP, 0x1082, requests[3].word)).Problems)

	alert := objectsOf(t, last(packet(pd.SOP, 0x19A6, 0x80100001)))[0]
	assert.Contains(t, alert, `"kind":"alert","battery_status_change_event":false`)
	assert.Contains(t, alert, `"extended_alert_event":true,"fixed_battery_0":true,"fixed_battery_1":false`)
}

func TestCRC(t *testing.T) {
	m := packet(pd.SOP, 0x0101)
	m.HasCRC = true
	// Worked value of USB PD R3.2 V1.1, appendix A: 01 01 gives 28 13 C5 2F on the wire.
	m.CRC = [4]byte{0x28, 0x13, 0xC5, 0x2F}
	good := last(m)
	assert.Equal(t, message.RightCRC, good.CRC)
	assert.Contains(t, string(good.AppendJSON(nil)), `"crc_ok":true`)
	assert.Empty(t, good.Problems)

	m.Bytes = []byte{0x01, 0x21}
	bad := last(m)
	assert.Equal(t, message.WrongCRC, bad.CRC)
	assert.Contains(t, string(bad.AppendJSON(nil)), `"crc_ok":false`)
	assert.Contains(t, bad.Problems, "the CRC is wrong")
}

// TestRepeats: same ID, header and bytes from the same side, as a retry or with
// a first one of unknown fate (USB PD R3.2 V1.1, section 6.7.1).
func TestRepeats(t *testing.T) {
	accept := func(at time.Duration) captures.Message {
		return captures.Message{Set: pd.SOP, At: at, Bytes: []byte{0x63, 0x03}, HasEnd: true, End: at + 500*time.Microsecond}
	}
	ack := func(at time.Duration) captures.Message {
		return captures.Message{Set: pd.SOP, At: at, Bytes: []byte{0x41, 0x02}, HasEnd: true, End: at + 500*time.Microsecond}
	}
	softReset := func(at time.Duration) captures.Message {
		return captures.Message{Set: pd.SOP, At: at + 1, Bytes: []byte{0x8D, 0x00}}
	}
	const us, ms = time.Microsecond, time.Millisecond
	damaged := func(m captures.Message) captures.Message { m.HasCRC = true; return m }
	failed := accept(0)
	failed.Status = captures.Unacknowledged
	cases := []struct {
		name string
		in   []captures.Message
		want bool
	}{
		{"a retry", []captures.Message{accept(0), accept(1700 * us)}, true},
		{"a retry whose GoodCRC was not heard", []captures.Message{accept(0), ack(600 * us), accept(1700 * us)}, true},
		{"of unknown fate", []captures.Message{accept(0), accept(150001 * us)}, true},
		{"a recorder that hears the cable shows every GoodCRC", []captures.Message{{Set: pd.SOPPrime, Bytes: []byte{0x41, 0x01}}, accept(10 * ms), accept(150001 * us)}, false},
		{"after its GoodCRC", []captures.Message{accept(0), ack(600 * us), accept(150001 * us)}, false},
		{"known to have failed", []captures.Message{failed, accept(150001 * us)}, false},
		{"after a Hard Reset", []captures.Message{accept(0), {Set: pd.HardReset, At: 100 * us}, accept(1700 * us)}, false},
		{"another MessageID", []captures.Message{accept(0), {Set: pd.SOP, At: 1700 * us, Bytes: []byte{0x63, 0x05}}}, false},
		{"on another set", []captures.Message{accept(0), {Set: pd.SOPPrime, At: 1700 * us, Bytes: []byte{0x63, 0x03}}}, false},
		{"a second Soft_Reset after an answer", []captures.Message{softReset(0), accept(3 * ms), softReset(100 * ms)}, false},
		{"a Soft_Reset again without an answer", []captures.Message{softReset(0), softReset(100 * ms)}, true},
		{"the counters begin anew with a Soft_Reset", []captures.Message{softReset(0), accept(3 * ms), softReset(100 * ms), accept(103 * ms)}, false},
		{"a retry after a damaged one", []captures.Message{accept(0), ack(600 * us), damaged(accept(1700 * us)), accept(3400 * us)}, true},
		{"too long after a damaged one", []captures.Message{accept(0), ack(600 * us), damaged(accept(1700 * us)), accept(3600 * us)}, false},
		{"the damaged one itself", []captures.Message{accept(0), damaged(accept(1700 * us))}, false},
		{"past the window", []captures.Message{accept(0), ack(600 * us), accept(1900 * us)}, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d := message.NewDecoder()
			var line *message.Line
			for i := range c.in {
				line = d.Decode(&c.in[i])
			}
			assert.Equal(t, c.want, line.Repeat)
		})
	}
}

func TestEPRCapabilitiesAreAssembled(t *testing.T) {
	block := make([]byte, 0, 36)
	for i := range 9 {
		block = binary.LittleEndian.AppendUint32(block, uint32(i+1))
	}
	part := func(n int, b []byte) pd.Message {
		x := pd.ExtendedHeaderFields{Chunked: true, ChunkNumber: n, DataSize: len(block)}.Encode()
		body := append(binary.LittleEndian.AppendUint16(nil, uint16(x)), b...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
		h := pd.HeaderFields{Type: pd.EPRSourceCapabilities, Objects: len(body) / 4}.Encode()
		return pd.Message{Set: pd.SOP, Header: h, Body: body}
	}
	var o message.Offers
	for range 4 {
		assert.False(t, o.Take(part(1, block[26:])), "its first chunk is missing")
	}
	assert.True(t, o.Take(part(0, block[:26])), "the order of the chunks does not matter")
	assert.Equal(t, 9, o.Len())
	for i := range 9 {
		got, ok := o.At(i + 1)
		assert.True(t, ok)
		assert.Equal(t, pd.PDO(i+1), got)
	}
	_, ok := o.At(10)
	assert.False(t, ok)
}

// FuzzDecode cuts the input into messages and follows them with everything that
// follows a recording.
func FuzzDecode(f *testing.F) {
	f.Add(byte(1), []byte{0xA1, 0x11, 0x2C, 0x91, 0x01, 0x08}, []byte{0x42, 0x10, 0x2C, 0xB1, 0x04, 0x13})
	f.Add(byte(1), []byte{0xB1, 0xF1, 0x24, 0x80, 0, 0}, []byte{0x00, 0x80})
	f.Add(byte(6), []byte{}, []byte{1})
	f.Add(byte(2), []byte{0x8F, 0x50, 0x41, 0xA0, 0x00, 0xFF, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}, []byte{0x81, 0x01})
	f.Fuzz(func(t *testing.T, set byte, first, second []byte) {
		d, timing := message.NewDecoder(), message.NewTiming()
		var sequences message.Sequences
		shown, want := 0, 0
		for i, b := range [][]byte{first, second, first, second, first} {
			m := captures.Message{Set: pd.OrderedSet(set % 9), Bytes: b, At: time.Duration(i) * time.Duration(1+set) * 17 * time.Millisecond, HasCRC: len(b)%2 == 0}
			m.Status, m.Marker = captures.Status(set/9%3), captures.Marker(set/27%5*byte(i%2))
			line := d.Decode(&m)
			if line.Text() == "" {
				t.Fatalf("a line without words: %+v", line)
			}
			if out := line.AppendJSON(nil); !json.Valid(out) {
				t.Fatalf("no JSON: %s", out)
			}
			if m.Marker == 0 && m.Set.IsReset() == line.Header.Present && len(b) >= 2 {
				t.Fatalf("header %v of a %s", line.Header, m.Set)
			}
			for i := range line.Objects {
				line.Objects[i].AppendDetail(nil)
			}
			if lim, ok := timing.Add(line, &m); ok && (lim.Name == "" || lim.Verdict == 0) {
				t.Fatalf("a limit without name or verdict: %+v", lim)
			}
			shown += messagesIn(sequences.Add(line, &m))
			if m.Marker == 0 && (m.Set.IsReset() || line.Header.Present && line.CRC != message.WrongCRC && m.Status != captures.Discarded && line.Header.Type() != pd.GoodCRC) {
				want++
			}
		}
		if shown += messagesIn(sequences.Close()); shown != want {
			t.Fatalf("%d messages in sequences, %d in the recording", shown, want)
		}
	})
}

func messagesIn(list []message.Sequence) (n int) {
	for _, q := range list {
		n += q.Messages
	}
	return n
}

func BenchmarkDecode(b *testing.B) {
	list := contractMessages()
	d := message.NewDecoder()
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		for i := range list {
			d.Decode(&list[i])
		}
		n += len(list)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "messages/s")
}

func ExampleDecoder_Decode() {
	d := message.NewDecoder()
	offer := packet(pd.SOP, 0x21A1, 0x0801912C, 0x00064145)
	request := packet(pd.SOP, 0x1082, 0x23051545)
	fmt.Println(d.Decode(&offer).Text())
	fmt.Println(d.Decode(&request).Text())
	// Output:
	// Source_Capabilities: 5 V 3 A, 20 V 3.25 A
	// Request: object 2, 20 V 3.25 A
}

// TestTimes keeps the digits of the recorder.
func TestTimes(t *testing.T) {
	m := captures.Message{Set: pd.HardReset, At: 6089248 * time.Microsecond}
	assert.Contains(t, string(message.NewDecoder().Decode(&m).AppendJSON(nil)), `"time_s":6.089248,`)
}

// TestEnds: the end of a line is End of its message.
func TestEnds(t *testing.T) {
	d := message.NewDecoder()
	for n := range 60 {
		m := captures.Message{Set: pd.SOP, Bytes: make([]byte, n), At: time.Second}
		assert.Equal(t, message.End(&m), d.Decode(&m).End, "%d bytes", n)
	}
}
