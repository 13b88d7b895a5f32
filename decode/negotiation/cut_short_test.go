package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/negotiation"
	"portside/pd"
)

// TestAfterTheAccept: how an attempt ends between Accept and PS_RDY. A sink waits 0.45 to
// 0.55 s for PS_RDY (tPSTransition) and 27 to 33 ms for the answer to its Request
// (tSenderResponse); what nobody acknowledges is said three times (USB PD R3.2 V1.1, tables
// 6.68 and 6.70).
func TestAfterTheAccept(t *testing.T) {
	asked := func() *script { return variants[0].make().offered().wait(5*ms).sink(pd.Request, ask(4, 3250)) }
	thrice := func(s *script, kind pd.MessageType) *script {
		for range 3 {
			s.unheard(pd.Source, kind).wait(time.Millisecond)
		}
		return s
	}
	for _, c := range []struct {
		name        string
		script      *script
		want        negotiation.Step
		interrupted bool
	}{
		{"Accept said three times, and a Hard Reset", thrice(asked().wait(5*ms), pd.Accept).wait(5 * ms).reset(), negotiation.StepAnswerHeard, false},
		{"Accept, acknowledged, and a Hard Reset 30 ms after the Request", asked().wait(5 * ms).source(pd.Accept).wait(24 * ms).reset(), negotiation.StepAnswerHeard, false},
		{"80 ms after it", asked().wait(5 * ms).source(pd.Accept).wait(74 * ms).reset(), negotiation.StepCutShort, false},
		{"the sink asks something, and a Hard Reset", asked().wait(5 * ms).source(pd.Accept).wait(60 * ms).sink(pd.GetSourceCap).wait(5 * ms).reset(), negotiation.StepCutShort, true},
		{"a Hard Reset after 0.5 s", asked().wait(5 * ms).source(pd.Accept).wait(500 * ms).reset(), negotiation.StepPowerReady, false},
		{"a Soft_Reset of the source after 80 ms", asked().wait(5 * ms).source(pd.Accept).wait(80 * ms).source(pd.SoftReset).wait(3 * ms).sink(pd.Accept), negotiation.StepUnknown, false},
		{"the offer, and a Soft_Reset of the sink", variants[0].make().offered().wait(5 * ms).sink(pd.SoftReset).wait(5 * ms).source(pd.Accept), negotiation.StepBegunAnew, false},
	} {
		r := run(c.script.out)
		require.NotEmpty(t, r.Attempts, c.name)
		assert.Equal(t, c.want, r.Attempts[0].Missing, c.name)
		assert.Equal(t, c.interrupted, r.Attempts[0].Interrupted, c.name)
	}
}

// TestBothGiveUp: a Request that nobody acknowledges ends in a Hard Reset of the sink, and the
// source, whose wait for it runs out (tSenderResponse: USB PD R3.2 V1.1, table 6.68), sends one
// too: that is one attempt, not two.
func TestBothGiveUp(t *testing.T) {
	s := variants[0].make().offered().wait(5 * ms)
	for range 3 {
		s.unheard(pd.Sink, pd.Request, ask(4, 3250)).wait(time.Millisecond)
	}
	r := run(s.reset().wait(18 * ms).reset().wait(time.Second).offered().out)
	lacking := map[negotiation.Step]int{}
	for _, a := range r.Attempts {
		lacking[a.Missing]++
	}
	assert.Equal(t, 1, lacking[negotiation.StepAnswer])
	assert.Zero(t, lacking[negotiation.StepUnknown], "what lies between the two resets lacks nothing")

	alone := run(variants[0].make().wait(time.Second).reset().wait(800 * ms).reset().wait(800 * ms).reset().wait(time.Second).out)
	told := 0
	for _, a := range alone.Attempts {
		if a.Missing != negotiation.StepLeft {
			told++
		}
	}
	assert.Positive(t, told, "resets that a sink sends each 0.8 s wait for an offer")
}

// TestUnheardPowerReady: a contract tells when it was accepted, and whether its PS_RDY had to
// be said again (nRetryCount: USB PD R3.2 V1.1, table 6.70).
func TestUnheardPowerReady(t *testing.T) {
	accepted := func() *script {
		return variants[0].make().offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Accept).wait(100 * ms)
	}
	heard := run(accepted().source(pd.PSRDY).wait(time.Second).out).Contracts
	require.Len(t, heard, 1)
	assert.False(t, heard[0].Unheard)
	require.NotNil(t, heard[0].AcceptS)
	assert.InDelta(t, 0.1, *heard[0].StartS-*heard[0].AcceptS, 0.001)

	s := accepted()
	for range 3 {
		s.unheard(pd.Source, pd.PSRDY).wait(time.Millisecond)
	}
	unheard := run(s.wait(5 * ms).reset().out).Contracts
	require.Len(t, unheard, 1)
	assert.True(t, unheard[0].Unheard)
}
