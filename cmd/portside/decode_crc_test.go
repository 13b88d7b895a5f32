package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
	"portside/captures/pcapng"
	"portside/pd"
)

// USB PD R3.2 V1.1, appendix A: 01 01 has the CRC 28 13 C5 2F on the wire.
var (
	workedBytes = []byte{0x01, 0x01}
	workedCRC   = [4]byte{0x28, 0x13, 0xC5, 0x2F}
	otherCRC    = [4]byte{0x28, 0x13, 0xC5, 0x2E}
)

// asPackets is a packet file of the worked message.
func asPackets(t *testing.T, p pcapng.MessagePacket) []byte {
	t.Helper()
	p.Set = pd.SOP
	var out bytes.Buffer
	w := pcapng.NewWriter(&out, pcapng.Section{})
	require.NoError(t, w.Message(time.Second, &pcapng.Interface{Link: pcapng.LinkMessages}, &p, workedBytes))
	require.NoError(t, w.Flush())
	return out.Bytes()
}

// asLine is the line while the worked message crosses it at 300 kbit/s.
func asLine(t *testing.T, crc [4]byte) []byte {
	t.Helper()
	const bits = 64 + 5*(4+2*(2+4)+1) // preamble, then symbols: SOP, bytes, EOP
	var out bytes.Buffer
	w := line.NewVCDWriter(&out, "cc", 0)
	end := time.Second + bits*time.Second/300_000
	require.NoError(t, w.Write(line.Frame{At: time.Second, End: end, Set: pd.SOP, Bytes: workedBytes, CRC: crc}))
	require.NoError(t, w.Close(end+time.Second))
	return out.Bytes()
}

// A CRC is told as right, as wrong or as not known, whatever it came in.
func TestCRCInEveryKindOfRecording(t *testing.T) {
	right, wrong := true, false
	list := func(crc string) []byte { return []byte("time_s,sop,bytes,crc\n1,SOP,0101," + crc + "\n") }
	for name, tt := range map[string]struct {
		file []byte
		want *bool
	}{
		"list, right":                       {list("2813c52f"), &right},
		"list, wrong":                       {list("2813c52e"), &wrong},
		"list, none":                        {list(""), nil},
		"packets, right":                    {asPackets(t, pcapng.MessagePacket{HasCRC: true, CRC: workedCRC}), &right},
		"packets, wrong":                    {asPackets(t, pcapng.MessagePacket{HasCRC: true, CRC: otherCRC}), &wrong},
		"packets, called wrong and wrong":   {asPackets(t, pcapng.MessagePacket{HasCRC: true, CRC: otherCRC, CRCWrong: true}), &wrong},
		"packets, called wrong, no bytes":   {asPackets(t, pcapng.MessagePacket{CRCWrong: true}), &wrong},
		"packets, called wrong, but it fit": {asPackets(t, pcapng.MessagePacket{HasCRC: true, CRC: workedCRC, CRCWrong: true}), &wrong},
		"packets, none":                     {asPackets(t, pcapng.MessagePacket{}), nil},
		"line, right":                       {asLine(t, workedCRC), &right},
		"line, wrong":                       {asLine(t, otherCRC), &wrong},
	} {
		var got struct {
			CRCOK    *bool `json:"crc_ok"`
			Problems []string
		}
		out := decoded(t, tt.file)
		require.NoError(t, json.Unmarshal([]byte(out), &got), "%s: %s", name, out)
		assert.Equal(t, tt.want, got.CRCOK, name)
		assert.Equal(t, tt.want == &wrong, strings.Contains(strings.Join(got.Problems, "\n"), "the CRC is wrong"), name)

		page := ran(t, tt.file, "decode", "-")
		assert.Equal(t, tt.want == &wrong, strings.Contains(page, "the CRC is wrong"), "%s: %s", name, page)
	}
	for crc, want := range map[[4]byte]string{workedCRC: `"crc_ok":true`, otherCRC: `"crc_ok":false`} {
		var frame bytes.Buffer
		require.NoError(t, json.Compact(&frame, []byte(ran(t, asLine(t, crc), "decode", "--json", "--frame", "1", "-"))))
		assert.Contains(t, frame.String(), want)
	}
}

// ran is what a command prints of a recording on its standard input.
func ran(t *testing.T, in []byte, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	s := &streams{in: bytes.NewReader(in), out: &out, err: &errs, getenv: func(string) string { return "" }}
	require.Zero(t, run(args, s), errs.String())
	return out.String()
}
