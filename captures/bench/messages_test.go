package bench

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/pd"
)

// seeds is how many runs of each scenario the policies are held to.
func seeds() uint64 {
	if *long {
		return 20
	}
	return 2
}

func runs(t *testing.T, each func(t *testing.T, s Scenario, r *Run)) {
	t.Helper()
	for _, s := range Scenarios() {
		t.Run(s.Name, func(t *testing.T) {
			for seed := range seeds() {
				r, err := Simulate(s, seed)
				require.NoError(t, err)
				each(t, s, r)
			}
		})
	}
}

func parsed(t *testing.T, m captures.Message) pd.Message {
	t.Helper()
	p, err := pd.ParseMessage(m.Set, m.Bytes)
	require.NoError(t, err)
	return p
}

// between is the pause from the end of one frame to the start of the next, ms.
func between(a, b captures.Message) float64 { return float64(b.At-a.End) / float64(time.Millisecond) }

func TestFramesFollowTheLine(t *testing.T) {
	runs(t, func(t *testing.T, _ Scenario, r *Run) {
		for i, m := range r.Messages {
			// USB PD R3.2 V1.1 table 5.17: 270 to 330 kbit/s; frame lengths from
			// sections 5.5 and 5.6: a control message of 149 bits lasts 451.5 to
			// 551.9 us, a Hard Reset of 84 bits 254.5 to 311.1 us.
			length := m.End - m.At
			switch {
			case m.Set == pd.HardReset:
				assert.True(t, length >= 254*time.Microsecond && length <= 312*time.Microsecond, "%v", length)
				assert.Empty(t, m.Bytes)
			case len(m.Bytes) == 2:
				assert.True(t, length >= 451*time.Microsecond && length <= 552*time.Microsecond, "%v", length)
			}
			if i > 0 { // table 5.17: tInterFrameGap 25 us
				assert.GreaterOrEqual(t, m.At-r.Messages[i-1].End, 25*time.Microsecond)
			}
		}
	})
}

func TestEveryMessageIsAcknowledgedOrRetried(t *testing.T) {
	runs(t, func(t *testing.T, s Scenario, r *Run) {
		for i, m := range r.Messages {
			if m.Set.IsReset() || parsed(t, m).Type() == pd.GoodCRC || i+1 == len(r.Messages) {
				continue
			}
			next, gap := r.Messages[i+1], between(m, r.Messages[i+1])
			p, n := parsed(t, m), parsed(t, next)
			if !next.Set.IsReset() && n.Type() == pd.GoodCRC {
				// table 6.68: tTransmit at most 0.195 ms
				assert.LessOrEqual(t, gap, 0.195)
				assert.Equal(t, p.Header.MessageID(), n.Header.MessageID())
				assert.Equal(t, m.Set, next.Set)
				continue
			}
			if m.Set == pd.SOP {
				require.False(t, s.Parameters.ControllerAlive, "%s at %v is not acknowledged", p.Type(), m.At)
			}
			if bytes.Equal(m.Bytes, next.Bytes) && gap < 10 {
				// tables 6.68 and 5.17: tReceive 0.9 ms to tReceive 1.1 ms and tRetry 0.195 ms
				assert.True(t, gap >= 0.9 && gap <= 1.295, "retry after %g ms", gap)
			}
		}
	})
}

// acknowledged is the index of the GoodCRC that follows message i, or -1.
func acknowledged(t *testing.T, r *Run, i int) int {
	if i+1 < len(r.Messages) && !r.Messages[i+1].Set.IsReset() && parsed(t, r.Messages[i+1]).Type() == pd.GoodCRC {
		return i + 1
	}
	return -1
}

func TestStepsKeepTheirTimes(t *testing.T) {
	// Source: USB PD R3.2 V1.1 tables 6.68, 7.23.
	runs(t, func(t *testing.T, s Scenario, r *Run) {
		for i, m := range r.Messages {
			if m.Set != pd.SOP {
				continue
			}
			ack := acknowledged(t, r, i)
			if ack < 0 || ack+1 >= len(r.Messages) {
				continue
			}
			next := r.Messages[ack+1]
			wait := between(r.Messages[ack], next)
			p := parsed(t, m)
			switch {
			case next.Set == pd.HardReset && s.Name != "weak-charger":
				limits := map[pd.MessageType]pd.Parameter{
					pd.SourceCapabilities: pd.TSenderResponse, pd.Request: pd.TSenderResponse, pd.Accept: pd.TPSTransitionSPR,
				}
				within(t, limits[p.Type()], wait)
			case next.Set == pd.HardReset:
			case p.Type() == pd.SourceCapabilities:
				assert.Equal(t, pd.Request, parsed(t, next).Type())
				within(t, pd.TReceiverResponse, wait)
			case p.Type() == pd.Request:
				assert.Equal(t, pd.Accept, parsed(t, next).Type())
				within(t, pd.TReceiverResponse, wait)
			case p.Type() == pd.Accept:
				assert.Equal(t, pd.PSRDY, parsed(t, next).Type())
				within(t, pd.TSrcTransReqSPR, wait)
				assert.GreaterOrEqual(t, wait, 25.0, "tSrcTransition comes first")
			}
		}
	})
}

func within(t *testing.T, p pd.Parameter, ms float64) {
	t.Helper()
	l := p.Limits(pd.Revision3x)
	if l.Min.Given {
		assert.GreaterOrEqual(t, ms, l.Min.Value, "%v", p)
	}
	if l.Max.Given {
		assert.LessOrEqual(t, ms, l.Max.Value, "%v", p)
	}
}

func TestTheCableIsReadBeforeMoreThanThreeAmperes(t *testing.T) {
	// Source: USB PD R3.2 V1.1 section 4.4 (3 A for a cable that says nothing),
	// table 6.68 (tDiscoverIdentity 40 to 50 ms, tVDMReceiverResponse 15 ms).
	runs(t, func(t *testing.T, s Scenario, r *Run) {
		answered := false
		var asked, most = []time.Duration{}, 0.0
		for i, m := range r.Messages {
			if m.Set.IsReset() {
				answered, asked = false, nil
				continue
			}
			p := parsed(t, m)
			switch p.Type() {
			case pd.VendorDefined:
				plug, ok := p.CablePlug()
				require.True(t, ok)
				if plug {
					within(t, pd.TVDMReceiverResponse, between(r.Messages[i-1], m))
					answered = true
				} else if i == 0 || !bytes.Equal(r.Messages[i-1].Bytes, m.Bytes) || between(r.Messages[i-1], m) > 5 {
					asked = append(asked, m.At)
				}
			case pd.SourceCapabilities:
				for _, o := range offersOf(p) {
					most = max(most, o.Amps)
				}
				assert.True(t, answered || most <= 3, "%g A offered", most)
				assert.Equal(t, s.Parameters.CableMarked, answered)
			default:
			}
		}
		for i := 1; i < len(asked); i++ {
			within(t, pd.TDiscoverIdentity, float64(asked[i]-asked[i-1])/float64(time.Millisecond))
		}
	})
}

func TestHardResetsRecoverInTime(t *testing.T) {
	// Source: USB PD R3.2 V1.1 tables 6.68 and 7.23: VBUS starts down 25 to 35 ms
	// after the reset, is at vSafe0V within 650 ms of that, stays there 0.66 to
	// 1.0 s, and is back within 275 ms; first capabilities within 250 ms.
	for _, name := range []string{"request-never-sent", "charger-without-power-ready"} {
		s, _ := Find(name)
		r, err := Simulate(s, 5)
		require.NoError(t, err)
		var reset time.Duration
		found := 0
		for _, m := range r.Messages {
			switch {
			case m.Set == pd.HardReset:
				reset = m.End
			case reset > 0 && parsed(t, m).Type() == pd.SourceCapabilities:
				gap := (m.At - reset).Seconds()
				assert.True(t, gap >= 0.025+0.66 && gap <= 0.035+0.65+1.0+0.275+0.25, "%g s", gap)
				assert.Equal(t, 0, parsed(t, m).Header.MessageID(), "counters start anew")
				reset, found = 0, found+1
			}
		}
		assert.Greater(t, found, 3, name)
	}
}

func TestVBUSGoesAndComesWithAHardReset(t *testing.T) {
	// Source: USB PD R3.2 V1.1 table 7.23 (tSafe0V, tSrcRecover), seen at the circuit.
	s, _ := Find("request-never-sent")
	_, points := watched(t, s.Parameters, nil)
	var offs []float64
	since, off := math.NaN(), false
	for _, q := range points {
		low := q.y[nodeSource] <= 0.8
		switch {
		case low && !off:
			since, off = q.t, true
		case !low && off:
			if since > s.Parameters.AttachS+0.5 { // not the time before the plug
				offs = append(offs, q.t-since)
			}
			off = false
		}
	}
	require.Greater(t, len(offs), 3)
	for _, d := range offs {
		assert.True(t, d >= 0.66 && d <= 1.0+0.01, "VBUS at 0 V for %g s", d)
	}
}

func TestUnansweredOffersAreRepeated(t *testing.T) {
	// Source: USB PD R3.2 V1.1 table 6.68 (tTypeCSendSourceCap 100 to 200 ms) and
	// table 6.70 (nRetryCount 2, nCapsCount 50); MessageID stays 0.
	s, _ := Find("dead-port-controller")
	r, err := Simulate(s, 2)
	require.NoError(t, err)
	var rounds []time.Duration
	inRound := 0
	for i, m := range r.Messages {
		p := parsed(t, m)
		if m.Set != pd.SOP {
			continue
		}
		require.Equal(t, pd.SourceCapabilities, p.Type())
		require.Equal(t, 0, p.Header.MessageID())
		if i == 0 || r.Messages[i-1].Set != pd.SOP || between(r.Messages[i-1], m) > 10 {
			rounds = append(rounds, m.At)
			inRound = 0
		}
		inRound++
		require.LessOrEqual(t, inRound, 3)
	}
	require.Len(t, rounds, 50)
	for i := 1; i < len(rounds); i++ {
		gap := rounds[i] - rounds[i-1]
		assert.True(t, gap >= 100*time.Millisecond && gap <= 200*time.Millisecond, "%v", gap)
	}
}

func TestVoltageTransitionStaysInItsWindows(t *testing.T) {
	// Source: USB PD R3.2 V1.1 table 7.23: vSrcNew at 20 V is 19.0 to 21.0 V
	// within 275 ms of the start, slew at most 30 mV/us.
	s, _ := Find("sound-charging")
	b, points := watched(t, s.Parameters, nil)
	start, settled := math.NaN(), math.NaN()
	for i, q := range points {
		v := q.y[nodeSource]
		if v > 5.05 && math.IsNaN(start) {
			start = q.t
		}
		if v >= 19 && math.IsNaN(settled) {
			settled = q.t
		}
		if i > 0 && v > 5.5 && q.h > 1e-6 {
			assert.Less(t, (v-points[i-1].y[nodeSource])/q.h, 30e3)
		}
		if q.t > 6 {
			assert.True(t, v >= 19 && v <= 21)
		}
	}
	assert.Less(t, settled-start, 0.275)
	for i, m := range b.line.heard {
		if m.Set == pd.SOP && parsed(t, m).Type() == pd.Accept {
			// tSrcTransition: 25 to 35 ms after the GoodCRC to the Accept
			within(t, pd.TSrcTransition, 1000*(start-b.line.heard[i+1].End.Seconds()))
		}
	}
}

func TestASoundAttachIsNumbered(t *testing.T) {
	// Source: USB PD R3.2 V1.1 table 8.32 and section 6.7.1: counters start at 0
	// and count what was acknowledged, each side and each ordered set its own.
	s, _ := Find("sound-charging")
	r, err := Simulate(s, 1)
	require.NoError(t, err)
	var got []string
	for _, m := range r.Messages {
		p := parsed(t, m)
		got = append(got, fmt.Sprintf("%s %s %d %s", m.Set, p.Type(), p.Header.MessageID(), p.PowerRole()))
	}
	assert.Equal(t, []string{
		"SOP' Vendor_Defined 0 unknown", "SOP' GoodCRC 0 unknown", "SOP' Vendor_Defined 0 unknown", "SOP' GoodCRC 0 unknown",
		"SOP Source_Capabilities 0 source", "SOP GoodCRC 0 sink",
		"SOP Request 0 sink", "SOP GoodCRC 0 source",
		"SOP Accept 1 source", "SOP GoodCRC 1 sink",
		"SOP PS_RDY 2 source", "SOP GoodCRC 2 sink",
	}, got)
	for _, m := range r.Messages {
		require.True(t, m.HasCRC)
		assert.True(t, pd.CheckCRC(m.Bytes, m.CRC))
	}
}

func TestSameSeedSameRun(t *testing.T) {
	for _, s := range Scenarios() {
		var a, b, c bytes.Buffer
		for seed, w := range map[uint64][]*bytes.Buffer{4: {&a, &b}, 5: {&c}} {
			for _, out := range w {
				r, err := Simulate(s, seed)
				require.NoError(t, err)
				require.NoError(t, r.WriteMeterCSV(out))
				require.NoError(t, r.WriteMessagesCSV(out))
				require.NoError(t, r.WriteTruth(out))
			}
		}
		assert.Equal(t, a.String(), b.String(), s.Name)
		assert.NotEqual(t, a.String(), c.String(), s.Name)
	}
}

func TestFilesParse(t *testing.T) {
	runs(t, func(t *testing.T, s Scenario, r *Run) {
		var meter, messages, truth bytes.Buffer
		require.NoError(t, r.WriteMeterCSV(&meter))
		require.NoError(t, r.WriteMessagesCSV(&messages))
		require.NoError(t, r.WriteTruth(&truth))

		rows, err := csv.NewReader(&meter).ReadAll()
		require.NoError(t, err)
		require.Equal(t, []string{"time_s", "voltage_V", "current_A"}, rows[0])
		require.Len(t, rows[1:], len(r.Rows))
		last := math.Inf(-1)
		for _, row := range rows[1:] {
			at, err := strconv.ParseFloat(row[0], 64)
			require.NoError(t, err)
			require.GreaterOrEqual(t, at, last)
			last = at
			for _, cell := range row[1:] {
				require.NotContains(t, cell, "-0.000\x00")
				_, err := strconv.ParseFloat(cell, 64)
				require.NoError(t, err)
			}
		}
		list, err := csv.NewReader(&messages).ReadAll()
		require.NoError(t, err)
		require.Len(t, list[1:], len(r.Messages))

		var answer map[string]any
		require.NoError(t, json.Unmarshal(truth.Bytes(), &answer))
		assert.Equal(t, s.Name, answer["scenario"])
		assert.Equal(t, string(s.Location), answer["location"])
		assert.NotNil(t, answer["rules"])
		assert.Contains(t, answer["parameters"], "clock_offset_s")
	})
}

func TestMeterRate(t *testing.T) {
	for _, s := range Scenarios() {
		r, err := Simulate(s, 9)
		require.NoError(t, err)
		want := s.Parameters.MeterHz * s.Parameters.DurationS
		assert.InDelta(t, want, float64(len(r.Rows)), 0.01*want+2, s.Name)
	}
}

func TestParametersHaveRangesAndHoldThem(t *testing.T) {
	sound := Sound()
	require.NoError(t, sound.Check())
	require.NotEmpty(t, Ranges())
	for _, r := range Ranges() {
		assert.NotEmpty(t, r.Source, r.Name)
		assert.Less(t, r.Min, r.Max, r.Name)
	}
	for _, s := range Scenarios() {
		assert.NoError(t, s.Parameters.Check(), s.Name)
	}
	cases := map[string]func(*Parameters){
		"cable_ohm":  func(p *Parameters) { p.CableOhm = -1 },
		"meter_hz":   func(p *Parameters) { p.MeterHz = math.NaN() },
		"meter_at":   func(p *Parameters) { p.Meter = "middle" },
		"offers":     func(p *Parameters) { p.Offers = nil },
		"duration_s": func(p *Parameters) { p.DurationS = 0 },
	}
	for name, breakIt := range cases {
		p := Sound()
		breakIt(&p)
		_, err := Simulate(Scenario{Name: "x", Parameters: p}, 1)
		require.ErrorIs(t, err, ErrParameter)
		assert.ErrorContains(t, err, name)
	}
}

// USB PD R3.2 V1.1 section 6.7.1: the MessageIDCounter begins at zero after
// an attach. A source that keeps counting would look as if nobody had pulled
// the plug.
func TestCountersBeginAnewAfterAnAttach(t *testing.T) {
	f, ok := FindFamily("loose-cable")
	require.True(t, ok)
	run, err := Simulate(f.Draw(3), 3)
	require.NoError(t, err)
	anew, contract := 0, false
	for _, m := range run.Messages {
		p, err := pd.ParseMessage(m.Set, m.Bytes)
		require.NoError(t, err)
		switch {
		case m.Set != pd.SOP:
		case p.Type() == pd.PSRDY:
			contract = true
		case p.Type() == pd.SourceCapabilities && contract:
			anew, contract = anew+1, false
			assert.Zero(t, p.Header.MessageID(), "at %v", m.At)
		}
	}
	assert.Positive(t, anew, "the contact opens while a contract stands")
}

// USB PD R3.2 V1.1 section 6.8.1: a message that is never acknowledged is
// followed by Soft_Reset with MessageID 0, and that by Hard Reset where it is
// not acknowledged either.
func TestResetsFollowSilence(t *testing.T) {
	f, ok := FindFamily("noisy-cable")
	require.True(t, ok)
	soft := 0
	for seed := range uint64(6) {
		run, err := Simulate(f.Draw(seed), seed)
		require.NoError(t, err)
		for _, m := range run.Messages {
			if m.Set != pd.SOP {
				continue
			}
			if p := parsed(t, m); p.Type() == pd.SoftReset {
				soft++
				assert.Zero(t, p.Header.MessageID(), "seed %d at %v", seed, m.At)
			}
		}
	}
	assert.Positive(t, soft)
}
