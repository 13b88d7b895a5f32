package line_test

import (
	"encoding/hex"
	"encoding/json"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
	decode "portside/decode/line"
)

// vectors are the line's part of the vectors of package pd, each with its source.
type vectors struct {
	Phy struct {
		Frames []struct {
			OrderedSet string  `json:"ordered_set"`
			Payload    string  `json:"payload_hex"`
			CRC        string  `json:"crc_bytes_on_wire"`
			BitsAfter  string  `json:"bits_after_preamble"`
			BitsTotal  int     `json:"bits_total"`
			DurationUS float64 `json:"duration_us_at_300kbps"`
			Name       string  `json:"name"`
			Source     string  `json:"source"`
		} `json:"frames"`
	} `json:"phy"`
}

func readVectors(t *testing.T) (v vectors) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/pd/standard_vectors.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &v))
	require.NotEmpty(t, v.Phy.Frames)
	return v
}

// bench is a line that frames are put on, and what is read of it.
type bench struct {
	x      transmitter
	events []line.Event
	now    float64 // us
	rest   line.Level
}

func newBench() *bench {
	return &bench{
		x:   transmitter{rate: 300, rng: rand.New(rand.NewPCG(1, 1))},
		now: 100, rest: line.High,
		events: []line.Event{{Level: line.High}},
	}
}

// put sends bits after a pause in us.
func (b *bench) put(pause float64, bits string) {
	times, ends := b.x.edges(bits, b.now+pause, int(b.rest-line.Low))
	b.change(times...)
	b.now = ends
}

// change turns the level over at each of the times in us.
func (b *bench) change(times ...float64) {
	level := b.events[len(b.events)-1].Level
	for _, t := range times {
		level = line.Low + line.High - level
		b.events = append(b.events, line.Event{At: time.Duration(t * 1000), Level: level})
	}
}

// read gives the frames, the recording going on for a time in us.
func (b *bench) read(more float64) []*decode.Frame {
	b.events = append(b.events, line.Event{At: time.Duration((b.now + more) * 1000), Signal: line.NoSignal})
	return readAll([]line.Signal{{Name: "cc"}}, b.events)
}

func readAll(signals []line.Signal, events []line.Event) (frames []*decode.Frame) {
	d := decode.NewDecoder(signals, func(f *decode.Frame) { frames = append(frames, f) })
	for len(events) > 0 { // in uneven pieces
		n := min(len(events), 1+len(events)%97)
		d.Add(events[:n])
		events = events[n:]
	}
	d.Finish()
	return frames
}

const preamble = "0101010101010101010101010101010101010101010101010101010101010101"

func TestVectors(t *testing.T) {
	for _, v := range readVectors(t).Phy.Frames {
		t.Run(v.Name, func(t *testing.T) {
			payload, err := hex.DecodeString(v.Payload)
			require.NoError(t, err)
			assert.Equal(t, preamble+v.BitsAfter, bitsOf(v.OrderedSet, payload), "the transmitter itself")
			b := newBench()
			b.put(0, preamble+v.BitsAfter)
			frames := b.read(100)
			require.Len(t, frames, 1)
			f := frames[0]
			assert.True(t, f.Good, f.Reason)
			assert.Equal(t, v.OrderedSet, f.Set.String())
			assert.Equal(t, 4, f.SetMatches)
			assert.Equal(t, v.Payload, hex.EncodeToString(f.Bytes))
			if v.CRC != "" {
				assert.Equal(t, v.CRC, hex.EncodeToString(f.CRC[:]), v.Source)
			}
			assert.Equal(t, 64, f.PreambleBits)
			assert.Equal(t, v.BitsTotal, f.Bits)
			assert.InDelta(t, v.DurationUS, (f.End-f.Start).Seconds()*1e6, 0.1)
			assert.InDelta(t, 100, f.Start.Seconds()*1e6, 0.1)
			assert.InDelta(t, 300e3, f.Measured.BitRateHz, 60)
		})
	}
}

// worked is the frame of the standard's own example: payload 01 01, CRC
// 2FC51328h (USB PD R3.2 V1.1, appendix A).
var worked = sent{"SOP", []byte{1, 1}}

func TestFrames(t *testing.T) {
	good := bitsOf("SOP", worked.data)
	hard := bitsOf("Hard_Reset", nil)
	offer := bitsOf("SOP", []byte{0xa1, 0x11, 0x2c, 0x91, 0x01, 0x08})
	type want struct {
		set   string
		why   decode.Reason
		bytes string
	}
	tests := []struct {
		name string
		send func(b *bench)
		more float64 // us of silence recorded after it
		want []want
	}{
		{name: "either polarity", send: func(b *bench) { b.rest = line.Low; b.events[0].Level = line.Low; b.put(0, good) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "inverted", send: func(b *bench) {
			b.put(0, good)
			for i := range b.events {
				b.events[i].Level = line.Low + line.High - b.events[i].Level
			}
		}, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "40 bits of preamble lost", send: func(b *bench) { b.put(0, good[40:]) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "an odd number lost", send: func(b *bench) { b.put(0, good[33:]) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "preamble of 128 bits", send: func(b *bench) { b.put(0, preamble+good) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "one symbol of the ordered set wrong", send: func(b *bench) { b.put(0, preamble+"00011"+"00111"+"00011"+"10001"+good[84:]) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "the first symbol wrong", send: func(b *bench) { b.put(0, preamble+"01011"+good[69:]) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "two symbols wrong", send: func(b *bench) { b.put(0, preamble+"00011"+"00111"+"00111"+"10001"+good[84:]) }, more: 50, want: []want{{"unknown", decode.NoOrderedSet, ""}}},
		{name: "a wrong CRC", send: func(b *bench) { b.put(0, good[:84]+"01111"+good[89:]) }, more: 50, want: []want{{"SOP", decode.CRCWrong, "0001"}}},
		{name: "five bits that are no symbol", send: func(b *bench) { b.put(0, good[:104]+"00000"+good[109:]) }, more: 50, want: []want{{"SOP", decode.BadSymbol, "0101"}}},
		{name: "silence in the packet", send: func(b *bench) { b.put(0, good[:116]) }, more: 50, want: []want{{"SOP", decode.FellSilent, "010128"}}},
		{name: "an EOP before the CRC", send: func(b *bench) { b.put(0, offer[:124]+"10110"); b.put(30, hard) }, more: 50, want: []want{{"SOP", decode.CutShort, "a1112c91"}, {"Hard_Reset", decode.Whole, ""}}},
		{name: "cut by a Hard Reset", send: func(b *bench) { b.put(0, offer[:124]); b.put(0, hard) }, more: 50, want: []want{{"SOP", decode.CutShort, "a1112c91"}, {"Hard_Reset", decode.Whole, ""}}},
		{name: "cut by a Hard Reset, off the bit clock", send: func(b *bench) { b.put(0, offer[:126]); b.put(1, hard) }, more: 50, want: []want{{"SOP", decode.CutShort, "a1112c91"}, {"Hard_Reset", decode.Whole, ""}}},
		{name: "two frames touching", send: func(b *bench) { b.put(0, good); b.put(0, offer) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}, {"SOP", decode.Whole, "a1112c910108"}}},
		{name: "three frames 5 us apart", send: func(b *bench) { b.put(0, good); b.put(5, offer); b.put(5, good) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}, {"SOP", decode.Whole, "a1112c910108"}, {"SOP", decode.Whole, "0101"}}},
		{name: "data that looks like a preamble", send: func(b *bench) {
			b.put(0, bitsOf("SOP", append([]byte{0x34, 0x34}, []byte(strings.Repeat("\x34", 12))...)))
		}, more: 50, want: []want{{"SOP", decode.Whole, strings.Repeat("34", 14)}}},
		{name: "such data broken off", send: func(b *bench) {
			b.put(0, bitsOf("SOP", append([]byte{0x34, 0x34}, []byte(strings.Repeat("\x34", 12))...))[:204])
		}, more: 50, want: []want{{"SOP", decode.FellSilent, strings.Repeat("34", 12)}}},
		{name: "a Hard Reset", send: func(b *bench) { b.put(0, hard) }, more: 30, want: []want{{"Hard_Reset", decode.Whole, ""}}},
		{name: "a Cable Reset", send: func(b *bench) { b.put(0, bitsOf("Cable_Reset", nil)) }, more: 30, want: []want{{"Cable_Reset", decode.Whole, ""}}},
		{name: "a reset after 32 bits of preamble", send: func(b *bench) { b.put(0, hard[32:]) }, more: 30, want: []want{{"Hard_Reset", decode.Whole, ""}}},
		{name: "a reset after 30", send: func(b *bench) { b.put(0, hard[34:]) }, more: 30, want: []want{{"Hard_Reset", decode.ShortPreamble, ""}}},
		{name: "three symbols of a reset", send: func(b *bench) { b.put(0, hard[:64]+"01111"+hard[69:]) }, more: 30, want: []want{{"Hard_Reset", decode.Whole, ""}}},
		{name: "two symbols of a reset", send: func(b *bench) { b.put(0, hard[:64]+"01111"+"11100"+"01111"+"10011") }, more: 30, want: []want{{"unknown", decode.NoOrderedSet, ""}}},
		{name: "a reset with traffic after it", send: func(b *bench) { b.put(0, hard+"0101010101") }, more: 30, want: []want{{"Hard_Reset", decode.NotQuiet, ""}}},
		{name: "a reset at the end of the recording", send: func(b *bench) { b.put(0, hard) }, more: 15, want: []want{{"Hard_Reset", decode.RecordingEnds, ""}}},
		{name: "a packet at the end of the recording", send: func(b *bench) { b.put(0, good[:116]); b.events = b.events[:len(b.events)-2]; b.now -= 5 }, want: []want{{"SOP", decode.RecordingEnds, "010128"}}},
		{name: "carrier of a test mode", send: func(b *bench) { b.put(0, strings.Repeat("01", 10_000)); b.put(100, good) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "a preamble and nothing", send: func(b *bench) { b.put(0, preamble) }, more: 50, want: []want{{"unknown", decode.FellSilent, ""}}},
		{name: "longer than any message", send: func(b *bench) { b.put(0, bitsOf("SOP", make([]byte, 300))) }, more: 50, want: []want{{"SOP", decode.TooLong, strings.Repeat("00", 268)}}},
		{name: "the longest message", send: func(b *bench) { b.put(0, bitsOf("SOP", make([]byte, 264))) }, more: 50, want: []want{{"SOP", decode.Whole, strings.Repeat("00", 264)}}},
		{name: "a spike of 0.2 us in the preamble, one of 0.6 us in the data", send: func(b *bench) {
			b.put(0, good)
			b.spike(130, 0.2)
			b.spike(420.5, 0.6)
		}, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
		{name: "nothing recorded for 10 us", send: func(b *bench) { b.put(0, offer); b.blank(440, 450) }, more: 50, want: []want{{"SOP", decode.RecordingEnds, "a1"}}},
		{name: "an edge that is unknown for 0.2 us", send: func(b *bench) { b.put(0, good); b.smear(0.2) }, more: 50, want: []want{{"SOP", decode.Whole, "0101"}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench()
			tt.send(b)
			var got []want
			for _, f := range b.read(tt.more) {
				assert.Equal(t, f.Reason == decode.Whole, f.Good)
				got = append(got, want{f.Set.String(), f.Reason, hex.EncodeToString(f.Bytes)})
			}
			assert.Equal(t, tt.want, got)
		})
	}
}

// spike turns the level over for a short while.
func (b *bench) spike(at, width float64) {
	var out []line.Event
	from, to := time.Duration(at*1000), time.Duration((at+width)*1000)
	done := false
	for i, e := range b.events {
		if !done && e.At > from {
			level := b.events[i-1].Level
			out = append(out, line.Event{At: from, Level: line.Low + line.High - level}, line.Event{At: to, Level: level})
			done = true
		}
		out = append(out, e)
	}
	b.events = out
}

// blank makes the level unknown between two times.
func (b *bench) blank(from, to float64) {
	var out []line.Event
	begun := false
	for _, e := range b.events {
		at := e.At.Seconds() * 1e6
		if at >= from && !begun {
			begun = true
			out = append(out, line.Event{At: time.Duration(from * 1000)})
		}
		if at < from || at > to {
			out = append(out, e)
		}
	}
	b.events = out
}

// smear puts a short time of unknown level before each change.
func (b *bench) smear(width float64) {
	var out []line.Event
	for i, e := range b.events {
		if i > 0 {
			out = append(out, line.Event{At: e.At - time.Duration(width*1000)})
		}
		out = append(out, e)
	}
	b.events = out
}

func TestPicture(t *testing.T) {
	b := newBench()
	bits := bitsOf("SOP", worked.data)
	b.put(0, bits)
	b.events = append(b.events, line.Event{At: time.Millisecond, Signal: line.NoSignal})
	var frame *decode.Frame
	d := decode.NewDecoder([]line.Signal{{Name: "cc"}}, func(f *decode.Frame) { frame = f })
	d.Pictures()
	d.Add(b.events)
	d.Finish()
	require.NotNil(t, frame)
	p := frame.Picture
	require.NotNil(t, p)
	for i, bit := range bits {
		require.Equal(t, byte(bit-'0'), p.Bits[i])
		require.InDelta(t, 100+float64(i)/0.3, p.Starts[i].Seconds()*1e6, 0.01)
	}
	assert.Len(t, p.Starts, len(bits))
	assert.Equal(t, 64, p.SetAt)
	assert.False(t, p.High, "the driver starts with a low level")
	var symbols []string
	for _, s := range p.Symbols() {
		symbols = append(symbols, s.String())
	}
	assert.Equal(t, "Sync-1 Sync-1 Sync-1 Sync-2 1 0 1 0 8 2 3 1 5 C F 2 EOP", strings.Join(symbols, " "))
}

func TestTwoLines(t *testing.T) {
	signals := []line.Signal{{Name: "vbus", Kind: line.VBUS}, {Name: "cc1"}, {Name: "cc2"}}
	on := func(signal uint8, pause float64, s sent) []line.Event {
		b := newBench()
		b.put(pause, bitsOf(s.set, s.data))
		for i := range b.events {
			b.events[i].Signal = signal
		}
		return b.events
	}
	merge := func(lists ...[]line.Event) (all []line.Event) {
		for _, l := range lists {
			all = append(all, l...)
		}
		all = append(all, line.Event{At: 10 * time.Millisecond, Signal: line.NoSignal})
		sortEvents(all)
		return all
	}
	other := sent{"SOP", []byte{0x41, 0x02}}
	frames := readAll(signals, merge(on(1, 0, worked), on(2, 2000, other)))
	require.Len(t, frames, 2, "one line after the other: the plug was turned")
	assert.Equal(t, 1, frames[0].Signal)
	assert.Equal(t, 2, frames[1].Signal)

	frames = readAll(signals, merge(on(1, 0, worked), on(2, 0.3, worked)))
	require.Len(t, frames, 1, "crosstalk: one frame, seen twice")

	broken := on(2, 0, worked)
	broken = broken[:len(broken)-8]
	frames = readAll(signals, merge(broken, on(1, 0.2, worked)))
	require.Len(t, frames, 1, "crosstalk, and broken there")
	assert.Equal(t, 1, frames[0].Signal)
	assert.True(t, frames[0].Good)
}
