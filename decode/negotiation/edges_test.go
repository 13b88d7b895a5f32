package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/pd"
)

// TestASinkThatAsksAnew: it did not listen before, and what it missed is not
// missing (six recorded boots on a supply that was on already).
func TestASinkThatAsksAnew(t *testing.T) {
	for _, v := range variants {
		s := v.make()
		s.plugged().wait(537*ms).sink(pd.SoftReset).wait(5*ms).source(pd.Accept).wait(5*ms).source(pd.SourceCapabilities, offers65...).
			wait(5*ms).sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY)
		r := run(s.out)
		require.Len(t, r.Attempts, 2, v.name)
		assert.Equal(t, negotiation.StepLeft, r.Attempts[0].Missing, v.name)
		assert.Equal(t, negotiation.StepDone, r.Attempts[1].Missing, v.name)
		require.Len(t, r.Resets, 1)
		assert.Equal(t, "sink", r.Resets[0].By)
	}
}

func TestASourceThatStartsAnew(t *testing.T) {
	s := variants[0].make()
	s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(ms).source(pd.SoftReset).wait(3 * ms).sink(pd.Accept)
	r := run(s.out)
	assert.Equal(t, "source", r.Resets[0].By)
	assert.Equal(t, negotiation.StepUnknown, r.Attempts[0].Missing, "the answer was not due yet")
	assert.Equal(t, "soft-reset", r.Attempts[0].EndedBy)
	assert.Equal(t, negotiation.StepLeft, r.Attempts[1].Missing)
}

func TestAFailedSoftReset(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second).sink(pd.SoftReset).wait(32 * ms).reset()
	r := run(s.out)
	require.Len(t, r.Resets, 2)
	assert.Equal(t, "soft-reset-failed", r.Resets[1].Cause)
	assert.Equal(t, "sink", r.Resets[1].By)
}

// TestWaitThenOffers: the source keeps what it promised.
func TestWaitThenOffers(t *testing.T) {
	s := variants[0].make()
	s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5*ms).source(pd.Wait).wait(300*ms).source(pd.SourceCapabilities, offers65[:2]...).
		wait(5*ms).sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY)
	r := run(s.out)
	require.Len(t, r.Attempts, 2)
	assert.Equal(t, negotiation.StepLeft, r.Attempts[0].Missing)
	assert.Equal(t, "new-offer", r.Attempts[0].EndedBy)
	assert.Equal(t, negotiation.StepDone, r.Attempts[1].Missing)
}

// TestPutOffForEver: a source may put a Request off with Wait (USB PD R3.2 V1.1 section 6.3.12), and
// settles within moments; one that does nothing else has refused. Common practice.
func TestPutOffForEver(t *testing.T) {
	for waits, want := range map[int]negotiation.Step{2: negotiation.StepLeft, 8: negotiation.StepRefused} {
		s := variants[0].make()
		s.offered()
		for range waits {
			s.wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Wait).wait(50 * ms)
		}
		r := run(s.out)
		require.Len(t, r.Attempts, 1)
		assert.Equal(t, want, r.Attempts[0].Missing, "%d times", waits)
		assert.True(t, r.Attempts[0].Waited)

		s.wait(300*ms).source(pd.SourceCapabilities, offers65[:2]...)
		assert.Equal(t, negotiation.StepLeft, run(s.out).Attempts[0].Missing, "and then it offers anew")
	}
}

// TestARecorderThatTellsFailures: what it does not call unacknowledged was
// acknowledged.
func TestARecorderThatTellsFailures(t *testing.T) {
	s := &script{rev: pd.Revision20, by: captures.SourceItself}
	s.plugged().unheard(pd.Source, pd.SourceCapabilities, offers65...)
	s.out[len(s.out)-1].Status = captures.Unacknowledged
	s.wait(160*ms).source(pd.SourceCapabilities, offers65...).wait(32 * ms).reset()
	r := run(s.out)
	assert.Equal(t, negotiation.StepRequest, r.Attempts[0].Missing)
	assert.Equal(t, 2, r.Attempts[0].Offers)
	assert.Equal(t, 1, r.CRCErrors.UnacknowledgedSource)
	assert.Equal(t, "2.0", r.SourceRev)
}

// TestTheEndOfARecording: a step is missing once the other side would have
// given up, and not before.
func TestTheEndOfARecording(t *testing.T) {
	cases := []struct {
		name   string
		play   func(*script, time.Duration) *script
		until  time.Duration
		want   negotiation.Step
		source string
	}{
		{"capabilities", func(s *script, d time.Duration) *script { return s.plugged().wait(d).mark(captures.VBUSOn) }, 620 * ms, negotiation.StepCapabilities, "tTypeCSinkWaitCap, USB PD R3.2 V1.1, table 6.68"},
		{"request", func(s *script, d time.Duration) *script { return s.offered().wait(d).source(pd.GetSinkCap) }, 33 * ms, negotiation.StepRequest, "tSenderResponse, table 6.68"},
		{"answer", func(s *script, d time.Duration) *script {
			return s.offered().wait(ms).sink(pd.Request, ask(4, 3250)).wait(d).sink(pd.GetSourceCap)
		}, 33 * ms, negotiation.StepAnswer, "tSenderResponse, table 6.68"},
		{"PS_RDY", func(s *script, d time.Duration) *script {
			return s.offered().wait(ms).sink(pd.Request, ask(4, 3250)).wait(ms).source(pd.Accept).wait(d).sink(pd.GetSourceCap)
		}, 550 * ms, negotiation.StepPowerReady, "tPSTransition, table 6.68"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.NotEmpty(t, c.source)
			before := end(run(untilLast(c.play(variants[0].make(), c.until-2*ms).out, c.want)))
			after := end(run(untilLast(c.play(variants[0].make(), c.until+3*ms).out, c.want)))
			assert.Equal(t, negotiation.StepLeft, before.Missing)
			assert.Equal(t, c.want, after.Missing)
			assert.Equal(t, "end-of-recording", after.EndedBy)
			require.NotNil(t, after.DueS)
			assert.Less(t, *after.DueS, after.EndS)
		})
	}
}

// untilLast turns a second VBUS_On into a message of the cable, which moves
// nothing and marks the end of the recording.
func untilLast(list []captures.Message, want negotiation.Step) []captures.Message {
	if want == negotiation.StepCapabilities {
		m := pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: pd.SoftReset})
		list[len(list)-1] = captures.Message{At: list[len(list)-1].At, Set: pd.SOPPrime, Bytes: m.Bytes()}
	}
	return list
}

// TestTheSameOfferAfterAHardReset is a new one, whoever shows GoodCRC.
func TestTheSameOfferAfterAHardReset(t *testing.T) {
	for _, v := range variants {
		s := v.make()
		s.offered().wait(60*ms).reset().wait(900*ms).source(pd.SourceCapabilities, offers65...).
			wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
		r := run(s.out)
		require.Len(t, r.Attempts, 2, v.name)
		assert.Equal(t, 1, r.Attempts[1].Offers, v.name)
		require.Len(t, r.Contracts, 1)
		assert.Equal(t, 20000, of(r.Contracts[0].VoltageMV), v.name)
	}
}

// TestLowerRevisionWins: bit 31 of a Request is reserved below R3.1 (USB PD R3.0
// V1.1), so a pair at 2.0 reads a position of three bits, whoever is older.
func TestLowerRevisionWins(t *testing.T) {
	request := 1<<31 | ask(2, 3000)
	for _, c := range []struct{ source, sink pd.Revision }{{pd.Revision20, pd.Revision3x}, {pd.Revision3x, pd.Revision20}} {
		s := variants[0].make()
		s.rev = c.source
		s.offered().wait(5 * ms)
		s.rev = c.sink
		s.sink(pd.Request, request).wait(5 * ms)
		s.source(pd.Accept).wait(100 * ms).source(pd.PSRDY)
		r := run(s.out)
		require.Len(t, r.Contracts, 1)
		assert.Equal(t, 2, r.Contracts[0].Position)
		assert.Equal(t, 9000, of(r.Contracts[0].VoltageMV))
	}
}

// TestImplied: a Request without its offer makes a contract of unknown kind.
func TestImplied(t *testing.T) {
	for _, s := range readRecorded(t) {
		if s.ID != "spr-avs-on" {
			continue
		}
		r := run(fed(t, s, true))
		require.Len(t, r.Contracts, 1)
		c := r.Contracts[0]
		assert.Equal(t, "unknown", c.Kind)
		assert.Equal(t, 5, c.Position)
		assert.Nil(t, c.VoltageMV)
		assert.True(t, c.Implied)
		assert.True(t, r.BeginsInside)
		return
	}
	require.Fail(t, "the recording is gone")
}

// TestAPSReadyOfTheSink before any contract is none of the source's.
func TestAPSReadyOfTheSink(t *testing.T) {
	s := variants[0].make()
	s.offered().wait(5 * ms).sink(pd.PSRDY)
	assert.Empty(t, run(s.out).Contracts)
}

// TestFewStamps: three whole seconds may be chance.
func TestFewStamps(t *testing.T) {
	s := variants[0].make()
	s.wait(time.Second).mark(captures.VBUSOn).wait(time.Second).mark(captures.VBUSOff).wait(time.Second).mark(captures.VBUSOn)
	assert.Equal(t, 0.001, run(s.out).ResolutionS)
}

// TestBootOnAPlainSupply: VBUS only, no message of the source.
func TestBootOnAPlainSupply(t *testing.T) {
	s := variants[0].make()
	s.mark(captures.VBUSOn).wait(20 * time.Second).mark(captures.VBUSOff)
	r := run(s.out)
	assert.Zero(t, r.FromSource)
	assert.Zero(t, r.Messages)
	require.Len(t, r.Attempts, 1)
	assert.Equal(t, negotiation.StepCapabilities, r.Attempts[0].Missing)
	assert.Nil(t, r.AttachS, "VBUS is not attach")
	assert.True(t, phaseNamed(t, r, "source-capabilities").Late)
}

// TestOneMissAtAttachIsNormal: an acknowledgement is due 100 ms after the second
// offer, the shortest repetition (tTypeCSendSourceCap, USB PD R3.2 V1.1, table
// 6.68); after a Hard Reset the one that was made must have been heard.
func TestOneMissAtAttachIsNormal(t *testing.T) {
	s := variants[0].make()
	s.plugged().wait(100*ms).unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(150 * ms)
	second := s.now
	s.unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(110 * ms)
	two := len(s.out)
	last := pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: pd.SoftReset})
	s.put(captures.Message{Set: pd.SOPPrime, Bytes: last.Bytes()})

	a := end(run(s.out))
	assert.Equal(t, negotiation.StepAcknowledge, a.Missing)
	require.NotNil(t, a.DueS)
	assert.InDelta(t, second.Seconds()+0.1, *a.DueS, 1e-9)
	assert.Equal(t, negotiation.StepLeft, end(run(s.out[:two])).Missing)

	one := variants[0].make()
	one.plugged().wait(100*ms).unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(1100*time.Microsecond).
		unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(140 * ms).reset()
	assert.Equal(t, negotiation.StepAcknowledge, run(one.out).Attempts[0].Missing)
}

// TestARecorderThatHearsTheCable shows every GoodCRC: where none follows an
// offer, nobody listened, retries or not.
func TestARecorderThatHearsTheCable(t *testing.T) {
	s := variants[0].make()
	s.plugged().wait(50 * ms)
	ack := pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: pd.GoodCRC, CablePlug: true, Revision: pd.Revision3x})
	s.put(captures.Message{Set: pd.SOPPrime, Bytes: ack.Bytes()})
	for range 4 {
		s.wait(150*ms).unheard(pd.Source, pd.SourceCapabilities, offers65...)
	}
	r := run(s.out)
	require.Len(t, r.Attempts, 1)
	assert.Equal(t, negotiation.StepAcknowledge, r.Attempts[0].Missing)
	assert.Equal(t, 4, r.Attempts[0].Offers)
	assert.Equal(t, 3, r.CRCErrors.UnacknowledgedSource, "of the last it is not known yet")
	assert.Equal(t, 1, r.FromCable)
}

// TestRefusedInsideAConnection: a contract may stand from before the recording.
func TestRefusedInsideAConnection(t *testing.T) {
	s := variants[0].make()
	for range 2 {
		s.wait(time.Second).sink(pd.Request, ask(3, 1000)).wait(5 * ms).source(pd.Reject)
	}
	r := run(s.out)
	assert.True(t, r.BeginsInside)
	require.Len(t, r.Attempts, 2)
	for _, a := range r.Attempts {
		assert.True(t, a.Beginning, "%+v", a)
	}
	s.wait(time.Second).reset().wait(900*ms).source(pd.SourceCapabilities, offers65...).wait(5*ms).sink(pd.Request, ask(3, 1000)).wait(5 * ms).source(pd.Reject)
	assert.False(t, end(run(s.out)).Beginning)
}

// TestASoftResetThatNobodyHeard ends in a Hard Reset at once (tHardReset, USB PD
// R3.2 V1.1, table 6.68).
func TestASoftResetThatNobodyHeard(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second)
	s.ids = [3]int{}
	for range 3 {
		s.unheard(pd.Sink, pd.SoftReset).wait(1100 * time.Microsecond)
	}
	s.wait(4 * ms).reset()
	r := run(s.out)
	assert.Equal(t, 1, r.SoftResets, "a retry is no second reset")
	require.Len(t, r.Resets, 2)
	assert.Equal(t, "soft-reset-failed", r.Resets[1].Cause)
}

// TestTheCableBreaks counts what is damaged on its sets apart.
func TestTheCableBreaks(t *testing.T) {
	m := captures.Message{Set: pd.SOPPrime, HasCRC: true, Bytes: []byte{0x41, 0x01}}
	r := run([]captures.Message{m, {Set: pd.CableReset, At: ms}})
	assert.Equal(t, negotiation.CRCErrors{Cable: 1}, r.CRCErrors)
	require.Len(t, r.Resets, 1)
	assert.True(t, r.Resets[0].Cable)
	assert.Zero(t, r.HardResets+r.SoftResets)
}

// TestHardResetOutOfEPR takes longer (tSrcRecover, USB PD R3.2 V1.1, table 7.23).
func TestHardResetOutOfEPR(t *testing.T) {
	for _, epr := range []bool{false, true} {
		s := variants[0].make()
		s.agreed().wait(100 * ms)
		if epr {
			s.source(pd.EPRMode, uint32(pd.EPRModeFields{Action: pd.EPREnterSucceeded}.Encode())).wait(100 * ms)
		}
		s.reset().wait(40 * ms).mark(captures.VBUSOff).wait(2150 * ms).mark(captures.VBUSOn)
		assert.Equal(t, !epr, phaseNamed(t, run(s.out), "hard-reset").Late)
	}
}

// TestASlowSinkInItsOwnLog: four recorded Hard Resets came 21.5 to 33.8 ms after
// the last answer; a source gives up after 24 ms at the earliest (tSenderResponse,
// USB PD R3.0 V1.1, table 6-53), and the sink reads the offer up to 5 ms late.
func TestASlowSinkInItsOwnLog(t *testing.T) {
	for _, d := range []time.Duration{22 * ms, 31 * ms} {
		s := &script{rev: pd.Revision3x, by: captures.SinkItself}
		s.offered().wait(d).reset()
		r := run(s.out)
		assert.Equal(t, negotiation.StepRequest, r.Attempts[0].Missing, "%s", d)
		assert.Equal(t, "source", r.Resets[0].By)
	}
	s := &script{rev: pd.Revision3x, by: captures.SinkItself}
	s.offered().wait(18 * ms).reset()
	assert.Equal(t, negotiation.StepUnknown, run(s.out).Attempts[0].Missing, "15 ms and 5 ms of the stamps are not over")
}

// TestARequestThatWasHeard: its GoodCRC tells a source that keeps silent from a Request
// that is lost on the line (tReceive, tSenderResponse: USB PD R3.2 V1.1, table 6.68).
func TestARequestThatWasHeard(t *testing.T) {
	silent := func(make func() *script, ask func(s *script)) negotiation.Attempt {
		s := make()
		s.source(pd.SourceCapabilities, offers65...).wait(5 * ms)
		ask(s)
		s.wait(32 * ms).reset()
		r := run(s.out)
		require.NotEmpty(t, r.Attempts)
		return r.Attempts[0]
	}
	heard := func(s *script) { s.sink(pd.Request, ask(3, 1000)) }
	lost := func(s *script) { s.unheard(pd.Sink, pd.Request, ask(3, 1000)) }
	assert.Equal(t, negotiation.Acknowledged, silent(variants[0].make, heard).Heard)
	assert.Equal(t, negotiation.HeardUnknown, silent(variants[1].make, heard).Heard, "no GoodCRC is recorded at all")
	a := silent(variants[0].make, lost)
	assert.Equal(t, negotiation.Unacknowledged, a.Heard)
	assert.Equal(t, 3, a.RequestAt)
}
