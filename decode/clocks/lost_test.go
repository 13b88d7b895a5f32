package clocks_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/clocks"
	"portside/decode/negotiation"
)

// A PS_RDY long after the Accept before it is another Request's: what lay between was
// not recorded, and its contract says nothing of VBUS. tPSTransition is below 1.1 s at
// any power, USB PD R3.2 V1.1 table 6.68.
func TestAPSRDYWhoseAcceptIsLost(t *testing.T) {
	for accept, steps := range map[float64]int{18.2: 1, 17.0: 1, 2.2: 0} {
		ready, mv := 18.24, 15000
		n := negotiation.New(negotiation.Options{}).Result()
		n.FirstS, n.LastS = &accept, &ready
		n.Contracts = []negotiation.Contract{{StartS: &ready, VoltageMV: &mv}}
		n.Phases = []negotiation.Phase{{Phase: "power-ready", StartS: &accept, EndS: &ready}}
		assert.Len(t, clocks.MessageSteps(n), steps, "Accept at %g s", accept)
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
