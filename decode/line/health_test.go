package line_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
	decode "portside/decode/line"
)

// headerOf builds a header (USB PD R3.2 V1.1, table 6.1).
func headerOf(kind, objects, id int, isSource bool) []byte {
	h := objects<<12 | id<<9 | 2<<6 | kind
	if isSource {
		h |= 1<<8 | 1<<5
	}
	return []byte{byte(h), byte(h >> 8)}
}

const (
	goodCRC  = 1
	accept   = 3
	capsType = 1
	reqType  = 2
)

// talker is a conversation on one line in logic levels.
type talker struct {
	*bench
	source, sink transmitter
}

func newTalker() *talker {
	rng := rand.New(rand.NewPCG(9, 9))
	return &talker{
		bench:  newBench(),
		source: transmitter{rate: 303, jitter: 0.02, rng: rng},
		sink:   transmitter{rate: 296, jitter: 0.05, rng: rng},
	}
}

// say sends a message after a pause and, where acked, its GoodCRC.
func (c *talker) say(pause float64, isSource bool, data []byte, ackAfter float64) {
	c.by(isSource)
	c.put(pause, bitsOf("SOP", data))
	if ackAfter > 0 {
		c.by(!isSource)
		c.put(ackAfter, bitsOf("SOP", headerOf(goodCRC, 0, int(data[1]>>1&7), !isSource)))
	}
}

func (c *talker) by(isSource bool) {
	c.x = c.sink
	if isSource {
		c.x = c.source
	}
}

func offerOf(id int) []byte { return append(headerOf(capsType, 1, id, true), 0x2c, 0x91, 0x01, 0x08) }

func resultOf(signals []line.Signal, events []line.Event) *decode.Result {
	d := decode.NewDecoder(signals, func(*decode.Frame) {})
	d.Add(events)
	d.Finish()
	return d.Result()
}

func (c *talker) result(more float64) *decode.Result {
	c.events = append(c.events, line.Event{At: time.Duration((c.now + more) * 1000), Signal: line.NoSignal})
	return resultOf([]line.Signal{{Name: "cc"}}, c.events)
}

func TestHealthySpeakers(t *testing.T) {
	c := newTalker()
	for i := range 10 {
		c.say(5000, true, offerOf(i%8), 60)
		c.say(5000, false, append(headerOf(reqType, 1, i%8, false), 0x2c, 0xb1, 0x04, 0x13), 180)
	}
	r := c.result(5000)
	assert.Equal(t, 40, r.Frames)
	assert.Zero(t, r.Broken)
	assert.InDelta(t, 299.5e3, *r.BitRateHz, 500)
	assert.InDelta(t, 50, *r.DutyPercent, 0.5)
	assert.Equal(t, 64, *r.PreambleBits)
	assert.InDelta(t, 60, *r.GapUS, 1)
	assert.Equal(t, decode.ByPort{}, r.CRCErrors)
	assert.Equal(t, decode.ByPort{}, r.Unacknowledged)
	assert.Nil(t, r.Rp)
	assert.Nil(t, r.Rd)
	assert.Nil(t, r.Levels.RestV)
	assert.Nil(t, r.SilentPort)
	require.Len(t, r.Speakers, 2)
	source, sink := r.Speakers[0], r.Speakers[1]
	assert.Equal(t, "source", source.Who)
	assert.InDelta(t, 303e3, source.BitRateHz.Mean, 50)
	assert.InDelta(t, 296e3, sink.BitRateHz.Mean, 50)
	assert.InDelta(t, 180, source.GoodCRCUS.Mean, 1)
	assert.InDelta(t, 60, sink.GoodCRCUS.Mean, 1)
	// A uniform spread of half-width w has a standard deviation of w/sqrt(3).
	assert.InDelta(t, 0.0115, *source.JitterUS, 0.002)
	assert.InDelta(t, 0.0289, *sink.JitterUS, 0.004)
	assert.Less(t, *source.DriftPercent, 0.05)

	text, err := json.Marshal(r)
	require.NoError(t, err)
	for _, key := range []string{"frames", "bit_rate_hz", "drift_percent", "jitter_us", "duty_percent", "preamble_bits", "gap_us", "crc_errors", "unacknowledged", "levels", "rp", "rd", "limits"} {
		assert.Contains(t, string(text), `"`+key+`":`)
	}
	// USB PD R3.2 V1.1, tables 5.17, 5.18 and 6.68, 6.70.
	want := decode.Limits{BitRateHz: [2]float64{270e3, 330e3}, DriftPercent: 0.25, EdgeUS: 0.07 / 0.3, PreambleBits: 64, GapUS: 25, GoodCRCUS: 195, SwingV: [2]float64{1.05, 1.2}, Retries: 2}
	assert.InDelta(t, want.EdgeUS, r.Limits.EdgeUS, 1e-9)
	want.EdgeUS = r.Limits.EdgeUS
	assert.InDelta(t, want.GapUS, r.Limits.GapUS, 1e-9)
	want.GapUS = r.Limits.GapUS
	assert.InDelta(t, want.GoodCRCUS, r.Limits.GoodCRCUS, 1e-9)
	want.GoodCRCUS = r.Limits.GoodCRCUS
	assert.Equal(t, want, r.Limits)
}

func TestDriftAndDuty(t *testing.T) {
	c := newTalker()
	c.source = transmitter{rate: 300, drift: 0.01, duty: 0.2, rng: c.source.rng}
	for i := range 4 {
		c.say(5000, true, append(headerOf(capsType, 7, i, true), make([]byte, 28)...), 100)
	}
	r := c.result(100)
	source := r.Speakers[0]
	// The rate grows by 1 % in 100 bits. From the middle of the last 32 bits of
	// preamble to the middle of the last 32 bits of 429 it is 365 bits.
	assert.InDelta(t, 3.65, *source.DriftPercent, 0.25)
	// Rising edges 0.2 us late, falling ones 0.2 us early: each high pulse of the
	// preamble, 2.22 us on average, is 0.4 us short of 4.44 us.
	assert.InDelta(t, 50-100*0.4/4.44, *source.DutyPercent, 1)
}

func TestSilentSink(t *testing.T) {
	c := newTalker()
	for i := range 5 {
		c.say(100_000, true, offerOf(0), 0)
		c.say(1000, true, offerOf(0), 0)
		c.say(1000, true, offerOf(0), 0)
		_ = i
	}
	r := c.result(5000)
	assert.Equal(t, 15, r.Frames)
	assert.Equal(t, "sink", *r.SilentPort)
	assert.Equal(t, decode.ByPort{Source: 15}, r.Unacknowledged)
	assert.Equal(t, 15, r.OffersInVain)
	assert.Equal(t, 10, r.Speakers[0].Retries)
	assert.Equal(t, 2, r.Speakers[0].MostRetries)
	assert.Nil(t, r.Speakers[0].GoodCRCUS)

	c = newTalker()
	c.say(1000, true, offerOf(0), 0)
	assert.Equal(t, decode.ByPort{}, c.result(500).Unacknowledged, "the recording ends before its GoodCRC was due")
}

func TestDirectionOfErrors(t *testing.T) {
	c := newTalker()
	for i := range 8 {
		c.say(5000, true, offerOf(i), 60)
		c.say(5000, false, append(headerOf(reqType, 1, i, false), 0x2c, 0xb1, 0x04, 0x13), 60)
	}
	for i := range 6 {
		bits := []byte(bitsOf("SOP", append(headerOf(reqType, 1, i%8, false), 0x2c, 0xb1, 0x04, 0x13)))
		at := 64 + 20 + 11*i%60 // in the header too
		copy(bits[at/5*5+4:], "00000")
		c.by(false)
		c.put(5000, string(bits))
	}
	// The GoodCRC of the sink is garbled: no one else knows, and the source repeats.
	c.say(5000, true, offerOf(1), 0)
	c.by(false)
	ack := []byte(bitsOf("SOP", headerOf(goodCRC, 0, 1, false)))
	copy(ack[124:], "00000")
	c.put(60, string(ack))
	r := c.result(5000)
	assert.Equal(t, decode.ByPort{Sink: 7}, r.CRCErrors)
	assert.Zero(t, r.CRCErrorsUnknown)
	assert.Equal(t, 7, r.Broken)
	assert.Equal(t, 1, r.GarbledAcks)
	assert.Equal(t, decode.ByPort{}, r.Unacknowledged)
}

func TestCutShortIsNoError(t *testing.T) {
	c := newTalker()
	c.by(true)
	c.put(1000, bitsOf("SOP", offerOf(1))[:124])
	c.put(0, bitsOf("Hard_Reset", nil))
	r := c.result(1000)
	assert.Equal(t, 1, r.HardResets)
	assert.Equal(t, 1, r.CutShort)
	assert.Zero(t, r.Broken)
}

// rested is a line in volts at rest, with a frame where told.
func rested(signal uint8, level float64, ms int, frames int) []line.Event {
	rng := rand.New(rand.NewPCG(4, uint64(signal)))
	w := wave{riseUS: 0.4, swing: 1.1, rest: level, noise: 0.02, sampleMS: 4}
	x := transmitter{rate: 300, rng: rng}
	var events []line.Event
	now := 0.0
	for i := range frames {
		edges := driven(x, sent{"SOP", offerOf(i % 8)}, now+2000)
		end := edges[len(edges)-1] + 200
		events = w.samples(events, edges, now, end, rng)
		now = end
	}
	w.sampleMS = 1
	events = w.samples(events, []float64{1e12}, now, now+1000*float64(ms), rng)
	for i := range events {
		events[i].Signal = signal
	}
	return events
}

// The levels are those of 80, 180 and 330 uA into 5.1 kOhm, 0.41, 0.92 and
// 1.68 V (USB Type-C R2.0, tables 4-24, 4-25 and 4-36).
func TestLevelsAtRest(t *testing.T) {
	one := []line.Signal{{Name: "cc"}}
	two := []line.Signal{{Name: "cc1"}, {Name: "cc2"}}
	text := func(s string) *string { return &s }
	yes, no := true, false
	tests := []struct {
		name   string
		signal []line.Signal
		rest   []float64
		frames int
		rp, rd *string
		stuck  *string
		here   *bool // Rd on the first line
	}{
		{name: "default", signal: one, rest: []float64{0.41}, frames: 3, rp: text("default"), here: &yes},
		{name: "1.5 A", signal: one, rest: []float64{0.92}, frames: 3, rp: text("1.5A"), here: &yes},
		{name: "3 A", signal: one, rest: []float64{1.68}, frames: 3, rp: text("3A"), here: &yes},
		{name: "between two levels", signal: one, rest: []float64{1.24}, frames: 3, here: &yes},
		{name: "3 A without a word", signal: one, rest: []float64{1.68}, rp: text("3A"), here: &yes},
		{name: "nothing on the line", signal: one, rest: []float64{0.01}, stuck: text("low")},
		{name: "no Rd on this pin", signal: one, rest: []float64{3.3}, stuck: text("high"), here: &no},
		{name: "Rd on one, the other open", signal: two, rest: []float64{1.68, 3.3}, frames: 2, rp: text("3A"), rd: text("one"), here: &yes},
		{name: "Rd on one, Ra on the other", signal: two, rest: []float64{1.68, 0.33}, frames: 2, rp: text("3A"), rd: text("one"), here: &yes},
		{name: "Rd on one, nothing on the other", signal: two, rest: []float64{0.41, 0.0}, frames: 2, rp: text("default"), rd: text("one"), here: &yes},
		{name: "Rd on both", signal: two, rest: []float64{0.92, 0.90}, rp: text("1.5A"), rd: text("both"), here: &yes},
		{name: "Rd on none", signal: two, rest: []float64{3.3, 3.28}, rd: text("none"), stuck: text("high"), here: &no},
		{name: "both dead", signal: two, rest: []float64{0.02, 0.0}, stuck: text("low")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var events []line.Event
			for i, level := range tt.rest {
				frames := 0
				if i == 0 {
					frames = tt.frames
				}
				events = append(events, rested(uint8(i), level, 600, frames)...)
			}
			sortEvents(events)
			r := resultOf(tt.signal, events)
			assert.Equal(t, tt.frames, r.Frames)
			assert.Equal(t, tt.rp, r.Rp)
			assert.Equal(t, tt.rd, r.Rd)
			assert.Equal(t, tt.stuck, r.Lines[0].Stuck)
			assert.Equal(t, tt.here, r.Lines[0].Rd)
			require.NotNil(t, r.Levels.RestV)
			assert.InDelta(t, tt.rest[0], *r.Levels.RestV, 0.02)
			if tt.frames > 0 {
				assert.InDelta(t, 1.1, *r.Levels.HighV, 0.03)
				assert.InDelta(t, 0, *r.Levels.LowV, 0.03)
				assert.InDelta(t, 1.1, *r.Speakers[0].SwingV, 0.03)
			}
			var s float64
			for _, rest := range r.Lines[0].Rests {
				s += rest.S
			}
			assert.InDelta(t, 0.6, s, 0.03)
		})
	}
}

func TestStuckInLevels(t *testing.T) {
	r := resultOf([]line.Signal{{Name: "cc"}}, []line.Event{{Level: line.High}, {At: time.Second, Signal: line.NoSignal}})
	require.NotNil(t, r.Lines[0].Stuck)
	assert.Equal(t, "high", *r.Lines[0].Stuck)
	assert.InDelta(t, 1, *r.Lines[0].HighShare, 1e-9)
	r = resultOf([]line.Signal{{Name: "cc"}}, []line.Event{{Level: line.Low}, {At: 100 * time.Millisecond, Signal: line.NoSignal}})
	assert.Nil(t, r.Lines[0].Stuck, "too short to say")
	r = resultOf([]line.Signal{{Name: "cc"}}, []line.Event{{At: 90 * time.Second, Level: line.Low}, {At: 100 * time.Second, Signal: line.NoSignal}})
	assert.InDelta(t, 90, r.Lines[0].StartS, 1e-9)
	assert.InDelta(t, 10, r.Lines[0].SeenS, 1e-9)
}

// What is read of a steady transmitter is the recorder's own step and no more.
func TestGridOfTheRecorder(t *testing.T) {
	tests := []struct {
		sampleMS float64
		grid     float64 // us, 0 for none that is worth a word
	}{{1, 1}, {2, 0.5}, {4, 0.25}, {3, 0}, {100, 0}}
	for _, tt := range tests {
		rng := rand.New(rand.NewPCG(9, 9))
		var events []line.Event
		now := 1000.0
		for i := range 20 {
			x := transmitter{rate: 300.7, rng: rng}
			edges, ends := x.edges(bitsOf("SOP", offerOf(i%8)), now, 1)
			level := line.High
			if i == 0 {
				events = append(events, line.Event{Level: level})
			}
			for _, at := range sample(edges, tt.sampleMS, 0, 1) {
				level = line.Low + line.High - level
				events = append(events, line.Event{At: time.Duration(math.Round(at * 1000)), Level: level})
			}
			now = ends + 137.3
		}
		r := resultOf([]line.Signal{{Name: "cc"}}, events)
		require.Equal(t, 20, r.Frames)
		if tt.grid == 0 {
			assert.Nil(t, r.GridUS, "%g MS/s", tt.sampleMS)
			continue
		}
		require.NotNil(t, r.GridUS, "%g MS/s", tt.sampleMS)
		assert.InDelta(t, tt.grid, *r.GridUS, 1e-9)
		assert.InDelta(t, *r.JitterUS, *r.GridJitterUS, 0.15*tt.grid, "%g MS/s", tt.sampleMS)
	}
}
