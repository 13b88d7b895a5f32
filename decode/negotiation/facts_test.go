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

// raw makes a recording of headers as logs print them, 10 ms apart.
func raw(words ...uint16) []captures.Message {
	var out []captures.Message
	for i, w := range words {
		h := pd.Header(w)
		b := make([]byte, 2+4*h.Objects())
		b[0], b[1] = byte(w), byte(w>>8)
		if h.Type() == pd.SourceCapabilities && h.Objects() > 0 {
			copy(b[2:], []byte{0x2C, 0x91, 0x01, 0x08}) // 5 V 3 A
		}
		if h.Type() == pd.Request {
			copy(b[2:], []byte{0x2C, 0xB1, 0x04, 0x10}) // object 1, 3 A
		}
		out = append(out, captures.Message{Set: pd.SOP, At: time.Duration(i)*10*time.Millisecond + 1234567, Bytes: b})
	}
	return out
}

// TestNumbering holds the headers that recorded negotiations show.
func TestNumbering(t *testing.T) {
	t.Run("after a Soft_Reset the source counts on from its Accept", func(t *testing.T) {
		// Two logs of kernel port managers: Soft_Reset 0x008D, then 0x01A3 Accept 0,
		// 0x43A1 capabilities 1, 0x05A3 Accept 2, 0x07A6 PS_RDY 3.
		r := run(raw(0x008D, 0x01A3, 0x43A1, 0x1082, 0x05A3, 0x07A6))
		require.Len(t, r.Contracts, 1)
		assert.Equal(t, 1, r.SoftResets)
		assert.Equal(t, 0, r.Malformed)
		assert.Equal(t, "3.x", r.SourceRev)
		assert.Equal(t, 5000, of(r.Contracts[0].VoltageMV))
		assert.Equal(t, 3000, of(r.Contracts[0].CurrentMA))
	})
	t.Run("after attach: capabilities 0, Accept 1, PS_RDY 2", func(t *testing.T) {
		r := run(raw(0x1161, 0x1042, 0x0363, 0x0566)) // ten logs
		assert.False(t, r.BeginsInside)
		assert.Equal(t, "2.0", r.SourceRev)
		require.Len(t, r.Contracts, 1)
	})
	t.Run("Alert and PS_RDY share a number", func(t *testing.T) {
		r := run(raw(0x1161, 0x1042, 0x0363, 0x19A6))
		assert.Empty(t, r.Contracts, "0x19A6 is an Alert")
	})
	t.Run("headers that nobody sent", func(t *testing.T) {
		// 0x0000 from an emptied buffer (two boots), 0x8000 from a failing bus (one log).
		r := run(raw(0x1161, 0x0000, 0x8000, 0x1042, 0x0363, 0x0566))
		assert.Equal(t, 2, r.Malformed)
		assert.Equal(t, 6, r.Messages)
		require.Len(t, r.Contracts, 1)
	})
	t.Run("unanswered capabilities keep MessageID 0 and are one attempt", func(t *testing.T) {
		// One log: 33 in 5.5 s, 165 to 183 ms apart, then plain 5 V.
		var list []captures.Message
		for i := range 33 {
			m := raw(0x11A1)[0]
			m.At = time.Second + time.Duration(i)*167*time.Millisecond
			m.By, m.Status = captures.SourceItself, captures.Unacknowledged
			list = append(list, m)
		}
		for name, status := range map[string]captures.Status{"known": captures.Unacknowledged, "unknown": captures.StatusNone} {
			for i := range list {
				list[i].Status = status
			}
			r := run(list)
			require.Len(t, r.Attempts, 1, name)
			assert.Equal(t, 33, r.Attempts[0].Offers, name)
			assert.Equal(t, negotiation.StepAcknowledge, r.Attempts[0].Missing, name)
			assert.Equal(t, 5000, r.Attempts[0].OfferMV)
			assert.Equal(t, 15000, r.Attempts[0].OfferMW)
			assert.Equal(t, map[string]int{"known": 33, "unknown": 0}[name], r.CRCErrors.UnacknowledgedSource)
		}
	})
}

// TestSinkThatHearsNothing: two Hard Resets, then 5 V without a contract.
func TestSinkThatHearsNothing(t *testing.T) {
	s := variants[0].make()
	s.plugged()
	for range 3 {
		s.wait(500 * ms).reset().wait(40 * ms).mark(captures.VBUSOff).wait(850 * ms).mark(captures.VBUSOn)
	}
	s.wait(10 * time.Second).mark(captures.VBUSOff)
	r := run(s.out)
	assert.Equal(t, 3, r.HardResets)
	assert.Equal(t, 0, r.FromSource)
	require.Len(t, r.Attempts, 4)
	for _, a := range r.Attempts {
		assert.Equal(t, negotiation.StepCapabilities, a.Missing)
		require.NotNil(t, a.DueS)
	}
	assert.Equal(t, "vbus-off", end(r).EndedBy)
	assert.Len(t, r.VBUS, 8)
	assert.NotNil(t, r.AttachS)
}

func TestBeginsInside(t *testing.T) {
	whole := variants[0].make()
	whole.agreed().wait(time.Second).sink(pd.Request, ask(2, 1000)).wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY).wait(ms).source(pd.GetSinkCap)
	all := whole.out
	for n := range all {
		r := run(all[n:])
		for _, a := range r.Attempts {
			if a.Missing != negotiation.StepDone && a.Missing != negotiation.StepLeft {
				assert.Fail(t, "nothing before the recording is missing", "from %d: %+v", n, a)
			}
		}
	}
	// From the first PS_RDY on, the recording begins inside a contract.
	only := run(all[10:])
	assert.True(t, only.BeginsInside)
	require.NotEmpty(t, only.Contracts)
	assert.True(t, only.Contracts[0].Implied)
	assert.Equal(t, "unknown", only.Contracts[0].Kind)
	assert.Nil(t, only.Contracts[0].VoltageMV)
}

func TestRetries(t *testing.T) {
	s := variants[0].make()
	s.plugged().wait(100*ms).unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(1100*time.Microsecond).
		source(pd.SourceCapabilities, offers65...).wait(5*ms).
		unheard(pd.Sink, pd.Request, ask(4, 3250)).wait(1100*time.Microsecond).sink(pd.Request, ask(4, 3250)).wait(5*ms).
		unheard(pd.Source, pd.Accept).wait(1100*time.Microsecond).source(pd.Accept).wait(170*ms).
		unheard(pd.Source, pd.PSRDY).wait(1100 * time.Microsecond).source(pd.PSRDY)
	r := run(s.out)
	require.Len(t, r.Attempts, 1)
	assert.Equal(t, 1, r.Attempts[0].Offers, "a retry is no second offer")
	assert.Len(t, r.Contracts, 1)
	assert.Equal(t, 3, r.CRCErrors.UnacknowledgedSource)
	assert.Equal(t, 1, r.CRCErrors.UnacknowledgedSink)
	for _, p := range r.Phases {
		assert.False(t, p.Late, "%+v", p)
	}
}

// TestOneSidedGoodCRC: some recorders show only the GoodCRC that arrives, so
// the other side's messages are not unacknowledged.
func TestOneSidedGoodCRC(t *testing.T) {
	s := variants[0].make()
	s.agreed()
	var list []captures.Message
	for _, m := range s.out {
		h := pd.Header(0)
		if len(m.Bytes) > 1 {
			h = pd.Header(uint16(m.Bytes[0]) | uint16(m.Bytes[1])<<8)
		}
		if h.Type() != pd.GoodCRC || h.PowerRole() == pd.Source {
			list = append(list, m)
		}
	}
	r := run(list)
	assert.Equal(t, 1, r.GoodCRCs)
	assert.Zero(t, r.CRCErrors.UnacknowledgedSource)
	assert.Zero(t, r.CRCErrors.UnacknowledgedSink)
	assert.Len(t, r.Contracts, 1)
}

func TestDamagedAndDiscarded(t *testing.T) {
	s := variants[0].make()
	s.agreed()
	whole := run(s.out)
	var list []captures.Message
	for _, m := range s.out {
		if len(m.Bytes) == 0 {
			list = append(list, m)
			continue
		}
		m.HasCRC = true
		copy(m.CRC[:], pd.AppendCRC(append([]byte(nil), m.Bytes...))[len(m.Bytes):])
		list = append(list, m)
		if h := pd.Header(uint16(m.Bytes[0]) | uint16(m.Bytes[1])<<8); h.Type() == pd.Request {
			bad := m
			bad.CRC[0] ^= 1
			list = append(list[:len(list)-1], bad, m)
			gone := m
			gone.Bytes = pd.NewMessage(pd.SOP, s.header(pd.SoftReset, pd.Sink)).Bytes()
			gone.HasCRC, gone.Status = false, captures.Discarded
			list = append(list, gone)
		}
	}
	r := run(list)
	assert.Equal(t, 1, r.CRCErrors.Sink)
	assert.Equal(t, 0, r.CRCErrors.Source)
	assert.Equal(t, r.CRCErrors.FirstS, r.CRCErrors.LastS)
	assert.NotZero(t, r.CRCErrors.FirstS)
	assert.Equal(t, 0, r.SoftResets, "a discarded message never was on the line")
	assert.Equal(t, whole.Messages+1, r.Messages)
	assert.Equal(t, whole.Contracts, r.Contracts)
}

func TestCableIsKeptApart(t *testing.T) {
	vdm := func(k pd.CommandType) uint32 {
		return uint32(pd.VDMHeaderFields{SVID: pd.SVIDPowerDelivery, VersionMajor: 1, Command: pd.DiscoverIdentity, CommandType: k}.Encode())
	}
	cable := func(set pd.OrderedSet, plug bool, id int, objects ...uint32) captures.Message {
		m := pd.NewMessage(set, pd.HeaderFields{Type: pd.VendorDefined, MessageID: id, Revision: pd.Revision3x, CablePlug: plug}, objects...)
		return captures.Message{Set: set, Bytes: m.Bytes()}
	}
	five := uint32(pd.PassiveCableFields{CableFields: pd.CableFields{Plug: pd.CableTypeC, Current: 2}}.Encode())
	s := variants[0].make()
	s.plugged().wait(50 * ms)
	s.put(cable(pd.SOPPrime, false, 0, vdm(pd.REQ)))
	asked := run(s.out)
	assert.True(t, asked.CableAnswers.Asked)
	assert.False(t, asked.CableAnswers.Answered)
	s.wait(3 * ms)
	s.put(cable(pd.SOPPrime, true, 0, vdm(pd.ACK), 0, 0, 0, five))
	s.wait(50*ms).source(pd.SourceCapabilities, offers65...).wait(2 * ms)
	s.put(cable(pd.SOPDoublePrime, true, 0, vdm(pd.ACK)))
	s.wait(2*ms).sink(pd.Request, ask(1, 3000)).wait(5 * ms).source(pd.Accept).wait(40 * ms).source(pd.PSRDY)
	r := run(s.out)
	assert.Equal(t, negotiation.CableLimit{Asked: true, Answered: true, CurrentMA: 5000}, r.CableAnswers)
	assert.Equal(t, 2, r.FromCable)
	assert.Len(t, r.Contracts, 1)
	assert.False(t, r.BeginsInside)
}

func TestListsAreBounded(t *testing.T) {
	tracker := negotiation.New(negotiation.Options{})
	m := captures.Message{Set: pd.HardReset}
	const n = 50_000
	for i := range n {
		m.At = time.Duration(i) * 3 * time.Second
		if i == n/2 {
			m.At += time.Second
		}
		tracker.Add(&m)
	}
	r := tracker.Result()
	assert.Equal(t, n, r.HardResets)
	assert.Len(t, r.Phases, 10_000)
	assert.Equal(t, n-10_000, r.LeftOut)
	assert.Len(t, r.Attempts, 10_000)
	assert.Len(t, r.Resets, 10_000)
	longest := 0.0
	for i, a := range r.Attempts {
		longest = max(longest, a.EndS-a.StartS)
		if i > 0 {
			assert.GreaterOrEqual(t, a.StartS, r.Attempts[i-1].StartS)
		}
	}
	assert.Equal(t, 4.0, longest, "the largest is kept")
}

// TestResultInTheMiddle: a snapshot shares nothing with the tracker.
func TestResultInTheMiddle(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second).reset()
	tracker := negotiation.New(negotiation.Options{})
	for i := range s.out {
		tracker.Add(&s.out[i])
		before := tracker.Result()
		assert.Equal(t, run(s.out[:i+1]), before)
		for j := range before.Phases {
			before.Phases[j].Phase = "mine now"
		}
		before.Attempts = append(before.Attempts[:0], negotiation.Attempt{})
	}
	assert.Equal(t, run(s.out), tracker.Result())
}

// TestResolution: the coarseness of the stamps is told from the stamps.
func TestResolution(t *testing.T) {
	for _, unit := range []time.Duration{time.Microsecond, 10 * time.Microsecond, time.Millisecond, 10 * time.Millisecond} {
		s := variants[0].make()
		s.agreed().wait(1234567 * time.Microsecond).reset().wait(987654 * time.Microsecond).reset().wait(1111111 * time.Microsecond).reset()
		for i := range s.out {
			s.out[i].At = s.out[i].At.Truncate(unit)
		}
		assert.InDelta(t, unit.Seconds(), run(s.out).ResolutionS, 1e-12)
	}
	assert.Zero(t, run(nil).ResolutionS)
}

// TestMisheard: a message whose CRC the recorder found wrong, and which the
// partner acknowledged, was heard badly by the recorder alone (GoodCRC: USB PD
// R3.2 V1.1, section 6.3.1).
func TestMisheard(t *testing.T) {
	for _, heard := range []bool{true, false} {
		s := variants[0].make()
		s.agreed()
		var list []captures.Message
		for _, m := range s.out {
			h := pd.Header(0)
			if len(m.Bytes) > 1 {
				h = pd.Header(uint16(m.Bytes[0]) | uint16(m.Bytes[1])<<8)
			}
			if h.Type() == pd.Accept {
				m.HasCRC = true // of zeros
			}
			if !heard && h.Type() == pd.GoodCRC && len(list) > 0 && list[len(list)-1].HasCRC {
				continue
			}
			list = append(list, m)
		}
		r := run(list)
		assert.Equal(t, 1, r.CRCErrors.Source)
		assert.Equal(t, heard, r.CRCErrors.Misread == 1)
		assert.Len(t, r.Contracts, 1)
		for _, a := range r.Attempts {
			assert.Equal(t, negotiation.StepDone, a.Missing)
		}
	}
}

// TestTheFirstAcknowledgement of a recording says that it begins inside.
func TestTheFirstAcknowledgement(t *testing.T) {
	s := variants[0].make()
	s.source(pd.SourceCapabilities, offers65...)
	assert.False(t, run(s.out).BeginsInside)
	assert.True(t, run(s.out[1:]).BeginsInside)
}

// TestAnAcceptOfUnknownQuestion may answer a swap: no PS_RDY is late after it.
func TestAnAcceptOfUnknownQuestion(t *testing.T) {
	s := variants[0].make()
	s.source(pd.Accept).wait(3 * time.Second).sink(pd.GetSinkCap)
	for _, p := range run(s.out).Phases {
		assert.False(t, p.Late, "%+v", p)
	}
}

// TestSinkCapabilities keeps the highest voltage that a sink names for itself (USB PD R3.2
// V1.1, section 6.4.1.3), whatever a source names as one.
func TestSinkCapabilities(t *testing.T) {
	knows := func(mv pd.Millivolts) uint32 {
		return uint32(pd.SinkFixedSupply{Voltage: mv, OperatingCurrent: 3000}.Encode())
	}
	s := variants[0].make()
	s.agreed()
	assert.Zero(t, run(s.out).SinkMV)
	s.wait(9*ms).source(pd.GetSinkCap).wait(3*ms).sink(pd.SinkCapabilities, knows(5000), knows(20000))
	assert.Equal(t, 20000, run(s.out).SinkMV)
	s.wait(9*ms).sink(pd.GetSinkCap).wait(3*ms).source(pd.SinkCapabilities, knows(28000))
	assert.Equal(t, 20000, run(s.out).SinkMV)
}

// TestEvents keeps every event that a side tells of itself. Alert: USB PD R3.2 V1.1, table
// 6.47, bit 30 OVP, 29 Source Input Change, 27 OTP. Status: table 6.55, byte 3 bit 1 OCP,
// byte 5 bit 3 limited by the external power.
func TestEvents(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(9*ms).source(pd.Alert, 1<<27).wait(9*ms).source(pd.Alert, 1<<29).wait(9*ms).sink(pd.Alert, 1<<30)
	r := run(s.out)
	assert.Equal(t, negotiation.Events{Input: true, Hot: true}, r.SourceSays)
	assert.Equal(t, negotiation.Events{Overvoltage: true}, r.SinkSays)

	for _, tt := range []struct {
		name  string
		block [7]byte
		want  negotiation.Events
	}{
		{"sound", [7]byte{40, 0x06, 0, 0, 0x02, 0, 0}, negotiation.Events{}},
		{"too much drawn", [7]byte{40, 0x06, 0, 0x02, 0x02, 0, 0}, negotiation.Events{Overcurrent: true}},
		{"hot", [7]byte{90, 0x06, 0, 0, 0x06, 0, 0}, negotiation.Events{Hot: true}},
		{"limited by the cable", [7]byte{40, 0x06, 0, 0, 0x02, 0x02, 0}, negotiation.Events{}},
		{"limited by its input", [7]byte{40, 0x02, 0, 0, 0x02, 0x08, 0}, negotiation.Events{Input: true}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := variants[0].make()
			s.agreed().wait(9 * ms).sink(pd.GetStatus)
			s.wait(3*ms).extended(pd.Source, pd.Status, tt.block[:])
			assert.Equal(t, tt.want, run(s.out).SourceSays)
		})
	}
}

// TestSourceThatHearsNothing says again what was acknowledged; a retry for want of a GoodCRC
// (USB PD R3.2 V1.1, table 6.70) is none of that.
func TestSourceThatHearsNothing(t *testing.T) {
	deaf, sound := variants[0].make(), variants[0].make()
	for range 4 {
		deaf.source(pd.SourceCapabilities, offers65...).wait(300 * time.Microsecond)
		deaf.ids[pd.Source] = 0
		sound.unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(1100 * time.Microsecond)
	}
	sound.source(pd.SourceCapabilities, offers65...)
	assert.Equal(t, 3, run(deaf.out).CRCErrors.UnheardSource)
	assert.Zero(t, run(sound.out).CRCErrors.UnheardSource)
}

// TestAttaches are kept, as detaches are.
func TestAttaches(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second).mark(captures.Detach).wait(3 * time.Second).mark(captures.Attach)
	r := run(s.out)
	assert.Len(t, r.Attaches, 2)
	assert.Len(t, r.Detaches, 1)
}
