package clocks_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/clocks"
	"portside/decode/draw"
	"portside/decode/negotiation"
)

// A PS_RDY long after the Accept before it, or an Accept long after the Request, is another
// Request's: what lay between was not recorded, and its contract says nothing of VBUS.
// tPSTransition is below 1.1 s at any power and tSenderResponse 33 ms at most, USB PD R3.2
// V1.1 table 6.68. Where no Accept was recorded, the Request is all that tells.
func TestAPSRDYOfAnotherRequest(t *testing.T) {
	tests := []struct {
		name            string
		request, accept float64 // seconds before the PS_RDY; accept 0: not recorded
		steps           int
	}{
		{"as it goes", 0.06, 0.04, 1},
		{"a slow source", 1.25, 1.2, 1},
		{"the Accept is an earlier one's", 16.1, 16, 0},
		{"the Request is an earlier one's", 15.6, 0.12, 0},
		{"no Accept, and the Request near it", 0.06, 0, 1},
		{"no Accept, and the Request too far", 2.1, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			ready, mv := 18.24, 15000
			request, accept := ready-tt.request, ready-tt.accept
			n := negotiation.New(negotiation.Options{}).Result()
			n.FirstS, n.LastS = &request, &ready
			n.Contracts = []negotiation.Contract{{StartS: &ready, VoltageMV: &mv}}
			n.Phases = []negotiation.Phase{{Phase: "request", StartS: &request, EndS: &request}}
			if tt.accept > 0 {
				n.Phases = append(n.Phases,
					negotiation.Phase{Phase: "answer", StartS: &request, EndS: &accept},
					negotiation.Phase{Phase: "power-ready", StartS: &accept, EndS: &ready})
			}
			assert.Len(t, clocks.MessageSteps(n), tt.steps)
		})
	}
}

// Two steps are a start; where the meter saw another one and the messages go on when it
// has ended, they may be that one.
func TestTwoStepsMayBeAnotherStart(t *testing.T) {
	meter := []clocks.Step{at(100, 0.01, 20, 0), at(101, 0.01, 0, 5), at(101.3, 0.01, 5, 20)}
	messages := []clocks.Step{at(2, 0.05, 0, 5), at(2.3, 0.05, 5, 20)}
	to := func(end float64) clocks.Alignment {
		return clocks.Align(clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 80, Hi: 115}}, clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 2, Hi: end}})
	}
	assert.True(t, to(10).Determined)
	a := to(40)
	assert.False(t, a.Determined)
	assert.Contains(t, a.Reason, "another start")
}

// Many steps do not make a meter of one look a second tell the time to a hundredth.
func TestAnOffsetIsNoFinerThanALook(t *testing.T) {
	volts := []float64{5, 9, 15, 20, 9, 5, 15, 9, 20, 5, 9}
	var meter, messages []clocks.Step
	for i := range volts[1:] {
		s := 10 + 13*float64(i) + 1.7*float64(i*i)
		meter = append(meter, at(s, 0.1, volts[i], volts[i+1]))
		messages = append(messages, at(s, 0.01, volts[i], volts[i+1]))
	}
	span := wide(meter)
	a := clocks.Align(clocks.Recorder{Steps: meter, Span: span, IntervalS: 1}, clocks.Recorder{Steps: messages, Span: span})
	require.True(t, a.Determined, a.Reason)
	assert.GreaterOrEqual(t, a.Uncertainty, 0.1)
}

// Where a stretch of the messages is lost, all that the meter saw in it contradicts them
// for one reason: the offset that says so is no worse than one that two steps fit by
// chance. The session: 0 V to 5 V, a Hard Reset, 9 V and 15 V, of whose messages only the
// first Source_Capabilities and the last PS_RDY were recorded; a dip of the 15 V comes
// 0.4 s nearer to the second attach than these two messages are to one another.
func TestALostStretchSpeaksOnce(t *testing.T) {
	meter := []clocks.Step{
		at(3.86, 0.02, 5, 0), at(4.82, 0.02, 0, 5), at(4.99, 0.02, 5, 9), at(8.69, 0.02, 9, 15),
		at(10.85, 0.02, 15, 12), at(11.72, 0.02, 12, 15),
	}
	messages := []clocks.Step{at(1.93, 0.175, 0, 5), at(8.68, 0.03, nan, 15)}
	a := clocks.Align(
		clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 2.8, Hi: 15.9}, IntervalS: 0.02},
		clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 2.1, Hi: 8.71}})
	assert.False(t, a.Determined, "%+v", a)
	assert.Contains(t, a.Reason, "alike")
}

// Who records one plug-in with both begins and ends them about together. A rhythm that
// fits one beat off has steps of the meter before the messages and messages after the
// meter: it needs more than a lost stretch leaves it. Of the third start the messages show
// nothing.
func TestOneBeatOffIsARival(t *testing.T) {
	meter := []clocks.Step{
		at(14, 0.75, 5, 9), at(31, 0.75, 9, 0), at(32, 0.75, 0, 5),
		at(45, 0.75, 5, 9), at(60, 0.75, 9, 0), at(61, 0.75, 0, 5),
	}
	messages := []clocks.Step{
		at(2, 0.17, 0, 5), at(13.85, 0.04, 5, 9), at(30.2, 0.3, nan, 0), at(31.2, 0.17, 0, 5), at(62.6, 0.1, nan, 5),
	}
	a := clocks.Align(
		clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 3, Hi: 75}, IntervalS: 1},
		clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 2.2, Hi: 62.7}})
	if a.Determined {
		assert.InDelta(t, 0, a.OffsetS, 5*a.Uncertainty)
	}
}

// A meter of one look a second sees 0 V and then 15 V: the attach and the contract are in
// one step, of which the contract is not the beginning.
func TestAContractFromAnUnknownVoltageInOneStep(t *testing.T) {
	meter := []clocks.Step{{
		FromV: 0, ToV: 15,
		Start: clocks.Span{Lo: 0.7, Hi: 2.2}, End: clocks.Span{Lo: 0.9, Hi: 3.4},
	}}
	messages := []clocks.Step{at(2.055, 0.175, 0, 5), at(2.97, 0.04, nan, 15)}
	a := clocks.Align(
		clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 0.2, Hi: 15}, IntervalS: 1},
		clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 2.2, Hi: 3}})
	if a.Determined {
		assert.InDelta(t, 0, a.OffsetS, 3*a.Uncertainty)
	}
}

// Sources that keep their times do not make up for a false event: what the most
// influential pair moves the offset by stays in its uncertainty.
func TestAFalseEventIsNotMendedByKeptTimes(t *testing.T) {
	message := func(s, from, to float64) clocks.Step {
		m := at(s, 0.05, from, to)
		m.Likely = clocks.Span{Lo: s - 0.025, Hi: s - 0.005}
		return m
	}
	var meter, messages []clocks.Step
	volts := []float64{5, 9, 20, 15, 9, 5}
	for i := range volts[1:] {
		s := 100 + 11*float64(i) + float64(i*i)
		meter = append(meter, at(s, 0.75, volts[i], volts[i+1]))
		messages = append(messages, message(s, volts[i], volts[i+1]))
	}
	meter[0] = at(101.4, 0.75, 5, 9) // of a dip that ended later
	a := align(meter, messages)
	require.True(t, a.Determined, a.Reason)
	assert.Less(t, a.OffsetS, -0.4)
	assert.Greater(t, a.Uncertainty, 0.3)
}

// A rise right at the beginning of a meter log may be the end of a dip: a source comes back
// by itself within tSrcRecover, 0.66 to 1 s, USB PD R3.2 V1.1 table 7.23.
func TestARiseThatALogBeginsWith(t *testing.T) {
	messages := clocks.Recorder{Steps: []clocks.Step{at(1.99, 0.175, 0, 5)}, Span: clocks.Span{Lo: 2.167, Hi: 2.168}}
	for begins, want := range map[float64]bool{473.1: false, 471: true} {
		a := clocks.Align(clocks.Recorder{Steps: []clocks.Step{at(473.5, 0.005, 0, 5)}, Span: clocks.Span{Lo: begins, Hi: 480}, IntervalS: 0.001}, messages)
		assert.Equal(t, want, a.Determined, "%g s: %s", begins, a.Reason)
	}
}

// One step of a meter holds an attach and a contract only where VBUS stood at 5 V no longer
// than between the rows of the step: 2.6 s show in two rows of a second each.
func TestOneStepHoldsTwoThatAreNear(t *testing.T) {
	rows := &draw.Result{Sampling: draw.Sampling{StartS: 0, EndS: 20, IntervalS: 1}}
	rows.Levels = []draw.Level{{NominalV: 0, N: 3, StartS: 0, EndS: 2}, {NominalV: 15, N: 16, StartS: 4, EndS: 20}}
	for stood, want := range map[float64]bool{0.2: true, 2.6: false} {
		attach, request, accept := 102.0, 102+stood-0.002, 102+stood
		ready, mv := accept+0.12, 15000
		n := negotiation.New(negotiation.Options{}).Result()
		n.FirstS, n.LastS, n.BeginsInside = &attach, &ready, false
		n.Attempts = []negotiation.Attempt{{StartS: attach, Offers: 1}}
		n.Contracts = []negotiation.Contract{{StartS: &ready, VoltageMV: &mv}}
		n.Phases = []negotiation.Phase{{Phase: "answer", StartS: &request, EndS: &accept}, {Phase: "power-ready", StartS: &accept, EndS: &ready}}
		a := clocks.Of(rows, n)
		assert.Equal(t, want, a.Determined, "5 V for %g s: %s", stood, a.Reason)
	}
}

// A PS_RDY 9 s after its Accept is of a Request that was not recorded: VBUS may have moved
// then, so that the next contract is no step for sure.
func TestAContractAfterADoubtfulPSRDY(t *testing.T) {
	for doubtful, steps := range map[bool]int{false: 1, true: 0} {
		n := contracts([]float64{2.2, 15.9}, []int{3000, 3000})
		nine := 9000
		n.BeginsInside, n.Contracts[1].VoltageMV = false, &nine
		if doubtful {
			accept, ready := 6.0, 14.8
			n.Phases = append(n.Phases, negotiation.Phase{Phase: "power-ready", StartS: &accept, EndS: &ready})
		}
		assert.Len(t, clocks.MessageSteps(n), steps, doubtful)
	}
}

// Attach and contract are any start: where the meter saw more, one that a lost stretch of
// messages explains is as good.
func TestTwoStepsOfAStartWithALostRestart(t *testing.T) {
	meter := []clocks.Step{at(2.3, 0.01, 5, 20), at(16.3, 0.01, 20, 0), at(17.33, 0.01, 0, 5), at(17.64, 0.01, 5, 20)}
	messages := []clocks.Step{at(2.05, 0.175, 0, 5), at(2.28, 0.05, 5, 20)}
	a := clocks.Align(
		clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 2.02, Hi: 31.6}, IntervalS: 0.01},
		clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 2.22, Hi: 17.7}})
	assert.False(t, a.Determined, "%+v", a)
}
