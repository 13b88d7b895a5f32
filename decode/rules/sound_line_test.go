package rules_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/captures/bench"
	cc "portside/captures/line"
	"portside/decode"
	"portside/decode/line"
	"portside/decode/rules"
)

// link is what lies between two sound speakers and a recorder, all of it inside the
// standard. Times in us.
type link struct {
	jitter   float64 // each edge is off by up to this
	duty     float64 // rising edges late by this, falling ones early
	drift    float64 // of the rate over a frame, as a part of it
	sampleMS float64
	rise     float64 // 10 to 90 %, of a single pole
	noise    float64 // standard deviation in volts
	rest     float64 // V between frames
	shift    float64 // V by which the load lifts the sink's ground over the recorder's
	swing    float64 // V
	other    float64 // V on the pin that does not speak; NaN where it was not recorded
	random   *rand.Rand
}

// soundLink draws one: edges within 0.07 UI in all, drift of 0.25 % (USB PD R3.2 V1.1,
// tables 5.16 and 5.18), rise times from 300 ns on, noise of 165 mVpp, a ground shift of
// 250 mV (tables 5.18 and 5.19), and the levels that Rp and Rd leave (USB Type-C R2.0,
// tables 4-24, 4-25 and 4-36).
func soundLink(seed uint64) *link {
	r := rand.New(rand.NewPCG(seed, 11))
	const ui, mask = 1000.0 / 300, 0.07
	// 80 uA within 20 %, 180 and 330 uA within 8 %, into 5.1 kOhm within 10 %.
	rests := [][2]float64{{0.29, 0.54}, {0.76, 1.09}, {1.39, 2.0}}
	rest := rests[r.IntN(len(rests))]
	level := rest[0] + (rest[1]-rest[0])*r.Float64()
	// Rd without Rp; the same Rp against a cable's Ra of 0.8 to 1.2 kOhm; Rp alone; VCONN.
	others := []float64{math.NaN(), 0, level * (0.15 + 0.1*r.Float64()), 3.3, 5}
	return &link{
		jitter: 0.7 * mask * ui * r.Float64(), duty: 0.3 * mask * ui * (2*r.Float64() - 1), drift: 0.0025 * (2*r.Float64() - 1),
		sampleMS: []float64{2, 3, 4, 5, 8, 10}[r.IntN(6)], rise: 0.3 + 0.3*r.Float64(), noise: 0.165 / 6 * r.Float64(),
		rest: level, other: others[r.IntN(len(others))],
		shift: 0.25 * r.Float64() * float64(r.IntN(2)), swing: 1.05 + 0.15*r.Float64(), random: r,
	}
}

// frameEdges are the edges of one frame: it begins to be driven at the first
// and is let go at the last.
type frameEdges []float64

// framesOf reads the edges of a dump; a pause of 10 us lies between two frames.
func framesOf(t *testing.T, dump []byte) (frames []frameEdges, from, to float64) {
	t.Helper()
	v, err := cc.NewVCD(bytes.NewReader(dump), cc.Options{})
	require.NoError(t, err)
	events := make([]cc.Event, 4096)
	var last float64
	begun := false
	for {
		n, err := v.Read(events)
		for _, e := range events[:n] {
			at := float64(e.At) / 1000
			switch {
			case e.Signal == cc.NoSignal:
				to = at
			case !begun: // the line at rest
				from, begun = at, true
			default:
				if len(frames) == 0 || at-last > 10 {
					frames = append(frames, nil)
				}
				frames[len(frames)-1] = append(frames[len(frames)-1], at)
			}
			last = at
		}
		if errors.Is(err, io.EOF) {
			return frames, from, to
		}
		require.NoError(t, err)
	}
}

// pass is what the link makes of a frame.
func (l *link) pass(f frameEdges) frameEdges {
	out := make(frameEdges, len(f))
	from, long := f[0], f[len(f)-1]-f[0]
	for i, at := range f {
		part := (at - from) / long
		off := l.duty
		if i%2 == 0 { // it falls
			off = -off
		}
		out[i] = at + l.drift/2*part*part*long + off + l.jitter*(2*l.random.Float64()-1)
	}
	slices.Sort(out)
	return out
}

// levels writes what a logic recorder shows, as a Value Change Dump in ns.
func (l *link) levels(frames []frameEdges, from, to float64) []byte {
	var out bytes.Buffer
	fmt.Fprintf(&out, "$timescale 1 ns $end\n$var wire 1 ! cc $end\n$enddefinitions $end\n#%.0f\n1!\n", from*1000)
	level := byte('1')
	at, pending := 0.0, false
	put := func() {
		if pending {
			fmt.Fprintf(&out, "#%.0f\n%c!\n", at*1000, level)
		}
	}
	for _, f := range frames {
		for _, edge := range l.pass(f) {
			seen := math.Ceil(edge*l.sampleMS) / l.sampleMS
			if seen != at {
				put()
			}
			pending = seen != at || !pending // two edges within one sample are not seen
			at = seen
			level ^= '0' ^ '1'
		}
	}
	put()
	fmt.Fprintf(&out, "#%.0f\n", to*1000)
	return out.Bytes()
}

// volts writes what a recorder of voltages shows, as a CSV: at full pace about the
// frames, and every 0.2 ms where the line rests.
func (l *link) volts(frames []frameEdges, from, to float64) []byte {
	const margin, slow = 100, 200.0
	both := !math.IsNaN(l.other)
	out := []byte("time_us,cc_V\n")
	if both {
		out = []byte("time_us,cc1_V,cc2_V\n")
	}
	row := func(at, v float64) {
		v += l.noise * l.random.NormFloat64()
		out = strconv.AppendFloat(out, at, 'f', 3, 64)
		out = strconv.AppendFloat(append(out, ','), v, 'f', 3, 64)
		if both {
			out = strconv.AppendFloat(append(out, ','), l.other+0.01*l.random.NormFloat64(), 'f', 3, 64)
		}
		out = append(out, '\n')
	}
	now := from
	rest := l.rest
	for i, f := range frames {
		if i == beforeLoad {
			l.rest += l.shift
		}
		f = l.pass(f)
		for ; now+slow < f[0]-margin; now += slow {
			row(now, l.rest)
		}
		now = max(now, f[0]-margin)
		low := l.shift * float64(l.random.IntN(2)) // either speaker's
		now = l.driven(f, low, now, f[len(f)-1]+margin/2, row)
	}
	for ; now < to; now += slow {
		row(now, l.rest)
	}
	l.rest = rest
	return out
}

// beforeLoad is how many frames pass before much current flows: capabilities, request,
// accept, and the GoodCRC to each.
const beforeLoad = 6

// driven gives the voltages of a frame and a little after it.
func (l *link) driven(f frameEdges, low, from, to float64, row func(at, v float64)) (now float64) {
	pole, v, target, at, next := l.rise/2.2, l.rest, l.rest, from, 0
	settle := func(until float64) {
		v = target + (v-target)*math.Exp(-(until-at)/pole)
		at = until
	}
	for now = math.Ceil(from*l.sampleMS) / l.sampleMS; now < to; now += 1 / l.sampleMS {
		for ; next < len(f) && f[next] <= now; next++ {
			settle(f[next])
			switch {
			case next == len(f)-1:
				target = l.rest
			case next%2 == 0:
				target = low
			default:
				target = low + l.swing
			}
		}
		settle(now)
		row(now, v)
	}
	return now
}

// judge runs the files of one recording through everything.
func judge(t *testing.T, files ...[]byte) (*decode.Diagnosis, []captures.Message) {
	t.Helper()
	var heard *line.Messages
	var inputs []captures.RecordingInput
	for _, f := range files {
		in, err := captures.Open("recording", bytes.NewReader(f), captures.Options{Line: func(signals []cc.Signal) captures.LineDecoder {
			heard = line.NewMessages(signals, nil)
			return heard
		}})
		require.NoError(t, err)
		inputs = append(inputs, captures.RecordingInput{Input: in})
	}
	r := captures.NewRecording(inputs)
	e := decode.NewEngine(decode.Options{})
	var messages []captures.Message
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if m := record.Message; m != nil {
			messages = append(messages, *m)
		}
		e.Take(record)
	}
	require.NotNil(t, heard, "one of the files is the line")
	e.Line(heard.Result())
	return e.Diagnose(r.Stats(), r.Clocks()), messages
}

// ofTheLine are the rules that a sound line must not raise above a note.
var ofTheLine = []string{"crc-errors", "cc-stuck-high", "cc-stuck-low", "rd-missing", "rd-on-both", "rp-wrong", "capabilities-unanswered"}

// TestSoundLines writes the line of every family of sound machines with what the
// standard allows between two speakers and a recorder, reads it in levels and in
// volts, and wants every message and no word against the line.
func TestSoundLines(t *testing.T) {
	for _, name := range ofTheLine {
		require.True(t, slices.ContainsFunc(rules.Table(), func(r rules.Rule) bool { return r.Name == name }), name)
	}
	seeds, heard := rounds(2), 0
	for _, f := range bench.Families() {
		if f.Location != bench.Healthy {
			continue
		}
		t.Run(f.Name, func(t *testing.T) {
			for seed := range seeds {
				heard += soundLine(t, f, seed)
			}
		})
	}
	t.Logf("%d messages", heard)
	assert.Greater(t, heard, 500)
}

func soundLine(t *testing.T, f bench.Family, seed uint64) (messages int) {
	t.Helper()
	s := f.Draw(seed)
	s.Parameters.MessagesRecorded, s.Parameters.MessagesNoAck = true, false
	s.Parameters.DurationS = min(s.Parameters.DurationS, s.Parameters.MessagesFromS+12)
	run, err := bench.Simulate(s, seed)
	require.NoError(t, err)
	var dump, meter bytes.Buffer
	require.NoError(t, run.WriteLineVCD(&dump))
	require.NoError(t, run.WriteMeterCSV(&meter))
	frames, from, to := framesOf(t, dump.Bytes())
	l := soundLink(seed*1000 + uint64(len(f.Name)))
	for form, text := range map[string][]byte{"levels": l.levels(frames, from, to), "volts": l.volts(frames, from, to)} {
		what := fmt.Sprintf("%s, seed %d, %s at %g MS/s", f.Name, seed, form, l.sampleMS)
		d, heard := judge(t, text, meter.Bytes())
		require.Len(t, heard, len(run.Messages), what)
		for i, m := range run.Messages {
			assert.Equal(t, m.Set, heard[i].Set, what)
			assert.Equal(t, m.Bytes, heard[i].Bytes, what)
			assert.False(t, heard[i].Damaged(), what)
		}
		assert.Zero(t, d.Line.Broken+d.Line.CutShort, what)
		for _, found := range d.Findings {
			if slices.Contains(ofTheLine, found.Rule) || strings.Contains(found.Text, "CC (signal") {
				assert.Equal(t, rules.Note, found.Severity, "%s: %s: %s", what, found.Rule, found.Text)
			}
		}
	}
	return 2 * len(run.Messages)
}
