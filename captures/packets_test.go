package captures

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/pcapng"
	"portside/pd"
)

func asPackets(dst io.Writer, in *Input) (Writer, error) { return NewPacketWriter(dst, []*Input{in}) }

// classic makes a pcap file of a packet file: magic and fraction say
// microseconds or nanoseconds, big the byte order.
func classic(t *testing.T, file []byte, big bool, perSecond int64) []byte {
	t.Helper()
	var order binary.AppendByteOrder = binary.LittleEndian
	if big {
		order = binary.BigEndian
	}
	magic := uint32(0xA1B2C3D4)
	if perSecond == 1e9 {
		magic = 0xA1B23C4D
	}
	b := order.AppendUint32(nil, magic)
	b = order.AppendUint16(b, 2)
	b = order.AppendUint16(b, 4)
	for _, word := range []uint32{0, 0, 0xFFFFFFFF, uint32(pcapng.LinkMessages)} {
		b = order.AppendUint32(b, word)
	}
	in, err := Open("file", bytes.NewReader(file), Options{})
	require.NoError(t, err)
	for {
		r, err := in.Next()
		if err != nil {
			return b
		}
		m := r.Message
		p := pcapng.MessagePacket{Set: m.Set, HasCRC: m.HasCRC, CRC: m.CRC, CRCWrong: m.CRCWrong}
		data := p.AppendTo(nil, m.Bytes)
		ns := int64(m.At)
		b = order.AppendUint32(b, uint32(ns/1e9))
		b = order.AppendUint32(b, uint32(ns%1e9/(1e9/perSecond)))
		b = order.AppendUint32(b, uint32(len(data)))
		b = order.AppendUint32(b, uint32(len(data)))
		b = append(b, data...)
	}
}

const plainList = `time_s,sop,bytes,crc
0.25,SOP,a1112c910108,e8a6f73f
0.2509,SOP,4100,
1.5,SOP',c101,11223344
1.5,SOP'',4f 10 01 80 00 ff,
1.600001,Hard_Reset,,
1.7,Cable_Reset,,
1.8,SOP'_Debug,4100,
1.9,SOP''_Debug,4100,
`

// The same capture in every format gives the same timeline.
func TestEveryFormatGivesTheSameTimeline(t *testing.T) {
	want, _ := timeline(t, []byte(plainList))
	require.Len(t, want, 8)
	file, written := rewritten(t, []byte(plainList), asPackets)
	assert.Equal(t, Written{Messages: 8}, written)
	back, _ := rewritten(t, file, asMessages)
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, _ = z.Write(file)
	_ = z.Close()
	for name, capture := range map[string][]byte{
		"pcapng":             file,
		"pcapng, gzip":       packed.Bytes(),
		"CSV of the pcapng":  back,
		"pcap, us, little":   classic(t, file, false, 1e6),
		"pcap, us, big":      classic(t, file, true, 1e6),
		"pcap, ns, little":   classic(t, file, false, 1e9),
		"pcap, ns, big":      classic(t, file, true, 1e9),
		"pcapng of a pcap":   must(rewritten(t, classic(t, file, true, 1e9), asPackets)),
		"pcapng of a pcapng": must(rewritten(t, file, asPackets)),
	} {
		got, in := timeline(t, capture)
		for i := range got {
			// A CSV says it with the bytes alone.
			got[i].CRCWrong = false
		}
		assert.Equal(t, want, got, name)
		assert.Zero(t, in.Stats().Skipped, name)
	}
}

func must(file []byte, _ Written) []byte { return file }

func TestWhatAPacketHasNoPlaceForIsCounted(t *testing.T) {
	file, written := rewritten(t, []byte(fullList), asPackets)
	assert.Equal(t, Written{Messages: 4, Dropped: []Dropped{{"Attach", 1}, {"end_s", 1}, {"by", 3}, {"status", 2}}}, written)
	want, _ := timeline(t, []byte(fullList))
	got, _ := timeline(t, file)
	require.Len(t, got, 4)
	for i := range got {
		w := want[i+1]
		w.End, w.Status, w.By = 0, 0, 0
		w.CRCWrong = w.HasCRC && w.CRC == [4]byte{}
		assert.Equal(t, w, got[i])
	}
}

// A recording that begins before 0 s keeps its times.
func TestTimesBeforeZero(t *testing.T) {
	const log = "time,voltage,current\n-2.000000001,5,0.1\n-1.5,5,0.2\n0,5,0.3\n7,,\n"
	want, _ := timeline(t, []byte(log))
	file, _ := rewritten(t, []byte(log), asPackets)
	got, in := timeline(t, file)
	assert.Equal(t, want, got)
	assert.Equal(t, KindPackets, in.Kind())
}

// Any list survives the way through a packet file: time, set, bytes and CRC.
func TestAnyListSurvivesAPacketFile(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 50 {
		var list bytes.Buffer
		w, err := NewMessageWriter(&list, MessageExtras{})
		require.NoError(t, err)
		at := time.Duration(random.Int64N(2*int64(MaxTime)-1e15)) - MaxTime
		for range 40 {
			at += time.Duration(random.Int64N(1 << random.UintN(40)))
			m := Message{At: at, Set: pd.SOP + pd.OrderedSet(random.UintN(7))}
			if !m.Set.IsReset() {
				m.Bytes = make([]byte, 2+random.IntN(300))
				for i := range m.Bytes {
					m.Bytes[i] = byte(random.Uint32())
				}
				m.HasCRC = random.IntN(2) == 0
				if m.HasCRC {
					binary.LittleEndian.PutUint32(m.CRC[:], random.Uint32())
				}
			}
			require.NoError(t, w.Write(Record{Message: &m}, nil))
		}
		require.NoError(t, w.Close())
		back, _ := rewritten(t, must(rewritten(t, list.Bytes(), asPackets)), asMessages)
		require.Equal(t, list.String(), string(back))
	}
}

// Times are bounded in every format alike.
func TestTimesBeyondTheBound(t *testing.T) {
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{})
	in := &pcapng.Interface{Link: pcapng.LinkMessages}
	for _, at := range []time.Duration{-MaxTime - 1, -MaxTime, MaxTime, MaxTime + 1} {
		require.NoError(t, w.Message(at, in, &pcapng.MessagePacket{Set: pd.HardReset}, nil))
	}
	require.NoError(t, w.Flush())
	records, read := timeline(t, b.Bytes())
	assert.Len(t, records, 2)
	assert.Equal(t, 2, read.Stats().Skipped)
}

// Messages and samples of one file are one recording on one clock, and what
// the file says of itself is told and passed on.
func TestNamesAndCommentsArePassedOn(t *testing.T) {
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{Hardware: "probe", Comments: []string{"dead port"}})
	cc := &pcapng.Interface{Link: pcapng.LinkMessages, Name: "CC1", Description: "at the plug", Comments: []string{"flipped"}}
	meter := &pcapng.Interface{Link: pcapng.LinkSamples, Name: "VBUS"}
	require.NoError(t, w.Sample(time.Second, meter, &pcapng.SamplePacket{Volts: 5}))
	require.NoError(t, w.Message(2*time.Second, cc, &pcapng.MessagePacket{Set: pd.SOP}, []byte{0x41, 0x00}))
	require.NoError(t, w.Sample(3*time.Second, meter, &pcapng.SamplePacket{Volts: 20}))
	require.NoError(t, w.Flush())

	for name, file := range map[string][]byte{"first": b.Bytes(), "passed on": must(rewritten(t, b.Bytes(), asPackets))} {
		got, in := timeline(t, file)
		require.Len(t, got, 3, name)
		assert.Equal(t, []time.Duration{time.Second, 2 * time.Second, 3 * time.Second}, []time.Duration{got[0].At, got[1].At, got[2].At}, name)
		assert.Equal(t, []string{
			"the file says: dead port",
			`interface "VBUS" of meter samples`,
			`interface "CC1" of messages: at the plug (flipped)`,
		}, in.Stats().Notes, name)
	}
}

// An interface without a packet is evidence too: the line was silent.
func TestASilentInterfaceIsKnown(t *testing.T) {
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{})
	_, err := w.Describe(&pcapng.Interface{Link: pcapng.LinkMessages})
	require.NoError(t, err)
	require.NoError(t, w.Sample(0, &pcapng.Interface{Link: pcapng.LinkSamples}, &pcapng.SamplePacket{}))
	require.NoError(t, w.Flush())
	for name, file := range map[string][]byte{"first": b.Bytes(), "passed on": must(rewritten(t, b.Bytes(), asPackets))} {
		records, in := timeline(t, file)
		assert.Len(t, records, 1, name)
		assert.True(t, in.Stats().Messages, name)
		assert.True(t, in.Stats().Samples, name)
	}
	_, in := timeline(t, must(rewritten(t, []byte("time_s,sop,bytes\n"), asPackets)))
	assert.True(t, in.Stats().Messages)
	assert.False(t, in.Stats().Samples)
}

// out makes a file of two interfaces in which the packets stand as given.
func out(t *testing.T, seconds ...int) []byte {
	t.Helper()
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{})
	cc, meter := &pcapng.Interface{Link: pcapng.LinkMessages}, &pcapng.Interface{Link: pcapng.LinkSamples}
	require.NoError(t, w.Message(0, cc, &pcapng.MessagePacket{Set: pd.HardReset}, nil))
	require.NoError(t, w.Sample(0, meter, &pcapng.SamplePacket{}))
	for i, s := range seconds {
		if i%2 == 0 {
			require.NoError(t, w.Message(time.Duration(s)*time.Second, cc, &pcapng.MessagePacket{Set: pd.SOP}, []byte{byte(s), 0}))
			continue
		}
		require.NoError(t, w.Sample(time.Duration(s)*time.Second, meter, &pcapng.SamplePacket{Volts: float64(s % 20)}))
	}
	require.NoError(t, w.Flush())
	return b.Bytes()
}

func TestInterfacesComeIntoTheOrderOfTime(t *testing.T) {
	records, in := timeline(t, out(t, 5, 3, 6, 1, 7, 9, 8, 2))
	var at []int
	for _, r := range records {
		at = append(at, int(r.At.Seconds()))
		if r.Bytes != "" {
			assert.Equal(t, byte(r.At.Seconds()), r.Bytes[0], "each record keeps its own bytes")
		}
	}
	assert.Equal(t, []int{0, 0, 1, 2, 3, 5, 6, 7, 8, 9}, at)
	assert.Zero(t, in.Stats().Skipped)
}

// What comes later than the reach is named with its place.
func TestBeyondTheReachIsSkipped(t *testing.T) {
	var seconds []int
	for i := range orderReach + 10 {
		seconds = append(seconds, i+2)
	}
	records, in := timeline(t, out(t, append(seconds, 1)...))
	assert.Equal(t, orderReach+12, len(records)) // Len would print them all
	require.Equal(t, 1, in.Stats().Skipped)
	assert.Regexp(t, `^at byte \d+: expected a time of \S+ or later, found 1s: time goes backwards$`, in.Stats().Problems[0].Text)
}

func TestDamagedPacketsAreCountedWithTheirOffset(t *testing.T) {
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{})
	meter := &pcapng.Interface{Link: pcapng.LinkSamples}
	for i, v := range []float64{5, 1001, 20} {
		require.NoError(t, w.Sample(time.Duration(i)*time.Second, meter, &pcapng.SamplePacket{Volts: v}))
	}
	require.NoError(t, w.Flush())
	records, in := timeline(t, b.Bytes())
	assert.Len(t, records, 2)
	st := in.Stats()
	assert.Equal(t, 1, st.Skipped)
	// 28 bytes of section, 32 of interface, 52 of the first packet
	assert.Equal(t, "at byte 112: expected at most 1000 V and A, found 1001 V and 0 A", st.Problems[0].Text)
	assert.False(t, st.Broken)
}

func TestAFileThatBreaksOffKeepsWhatCameBefore(t *testing.T) {
	file, _ := rewritten(t, []byte(plainList), asPackets)
	records, in := timeline(t, file[:len(file)-3])
	assert.Len(t, records, 7)
	st := in.Stats()
	assert.True(t, st.Broken)
	assert.Equal(t, fmt.Sprintf("the file ends early: at byte %d: a block claims 40 bytes, 37 are left in the file", len(file)-40), st.Problems[0].Text)
}

func TestWhatIsNoPacketFile(t *testing.T) {
	for name, tt := range map[string]struct {
		file string
		want string
	}{
		"cut section": {"\x0a\x0d\x0d\x0a\x1c\x00", "the 12 bytes that begin a block"},
		"no order":    {"\x0a\x0d\x0d\x0a\x1c\x00\x00\x00\x01\x02\x03\x04", "byte-order magic"},
		"old pcap":    {"\xd4\xc3\xb2\xa1\x02\x00\x02\x00" + string(make([]byte, 16)), "version 2.2"},
	} {
		_, err := Open("x", bytes.NewReader([]byte(tt.file)), Options{})
		var unusable *UnusableError
		require.ErrorAs(t, err, &unusable, name)
		assert.Contains(t, err.Error(), tt.want, name)
	}
}
