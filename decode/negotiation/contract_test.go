package negotiation_test

import (
	"encoding/binary"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/pd"
)

// TestKindsOfContracts reads a Request against the offer it answers. Units are
// those of USB PD R3.2 V1.1, tables 6.9 to 6.15 and 6.23 to 6.26.
func TestKindsOfContracts(t *testing.T) {
	offers := []uint32{
		fixed(5000, 3000),
		uint32(pd.BatterySupply{MinVoltage: 9000, MaxVoltage: 12000, MaxPower: 30000}.Encode()),
		uint32(pd.VariableSupply{MinVoltage: 12000, MaxVoltage: 15000, MaxCurrent: 2000}.Encode()),
		uint32(pd.SPRAVSSupply{MaxCurrent15V: 3000, MaxCurrent20V: 2250}.Encode()),
		uint32(pd.PPSSupply{MinVoltage: 3300, MaxVoltage: 11000, MaxCurrent: 5000}.Encode()),
	}
	cases := []struct {
		kind          string
		position      int
		request       uint32
		mv, ma, mw    int // -1 where it does not apply
		minMV, maxMV  int
		limit, source string
	}{
		{"fixed", 1, ask(1, 1500), 5000, 1500, -1, -1, -1, "tSrcTransReq (SPR)", "table 6.23"},
		{"battery", 2, uint32(pd.BatteryRequest{RequestFlags: pd.RequestFlags{Position: 2}, OperatingPower: 27000, MaxPower: 27000}.Encode()), -1, -1, 27000, 9000, 12000, "tSrcTransReq (SPR)", "table 6.24"},
		{"variable", 3, ask(3, 1800), -1, 1800, -1, 12000, 15000, "tSrcTransReq (SPR)", "table 6.23"},
		{"spr-avs", 4, uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: 4}, Voltage: 9100, OperatingCurrent: 2200}.Encode()), 9100, 2200, -1, -1, -1, "tAvsSrcTransLarge", "table 6.26"},
		{"pps", 5, askPPS(5, 8340, 4050), 8340, 4050, -1, -1, -1, "tSrcTransReq (SPR)", "table 6.25"},
	}
	for _, c := range cases {
		t.Run(c.kind, func(t *testing.T) {
			s := variants[0].make()
			s.plugged().wait(100*ms).source(pd.SourceCapabilities, offers...).wait(5*ms).sink(pd.Request, c.request).
				wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY)
			r := run(s.out)
			require.Len(t, r.Contracts, 1, c.source)
			got := r.Contracts[0]
			assert.Equal(t, c.kind, got.Kind)
			assert.Equal(t, c.position, got.Position)
			assert.Equal(t, c.mv, of(got.VoltageMV), "voltage")
			assert.Equal(t, c.ma, of(got.CurrentMA), "current")
			assert.Equal(t, c.mw, of(got.PowerMW), "power")
			assert.Equal(t, c.minMV, of(got.MinVoltageMV))
			assert.Equal(t, c.maxMV, of(got.MaxVoltageMV))
			assert.False(t, got.Implied)
			assert.Equal(t, c.limit, phaseNamed(t, r, "power-ready").Limit)
			require.Len(t, r.Offers, 5)
			assert.Equal(t, "battery", r.Offers[1].Kind)
			assert.Equal(t, 30000, of(r.Offers[1].PowerMW))
			assert.Nil(t, r.Offers[3].VoltageMV, "the object has no voltage")
		})
	}
}

// TestEPR enters EPR mode: the capabilities come in two chunks, and the request
// carries a copy of its object (USB PD R3.2 V1.1, table 8.39, section 6.4.9).
func TestEPR(t *testing.T) {
	eprOffers := append(append([]uint32{}, offers65...), 0, 0, fixed(28000, 5000),
		uint32(pd.EPRAVSSupply{MinVoltage: 15000, MaxVoltage: 28000, PDP: 140}.Encode()))
	s := variants[0].make()
	s.agreed().wait(100 * ms)
	mode := func(a pd.EPRAction) uint32 { return uint32(pd.EPRModeFields{Action: a}.Encode()) }
	s.sink(pd.EPRMode, mode(pd.EPREnter)).wait(5*ms).source(pd.EPRMode, mode(pd.EPREnterAcknowledged)).
		wait(50*ms).source(pd.EPRMode, mode(pd.EPREnterSucceeded)).wait(20 * ms)
	s.chunks(pd.EPRSourceCapabilities, eprOffers)
	s.wait(5*ms).sink(pd.EPRRequest, ask(8, 5000), eprOffers[7]).wait(5 * ms).source(pd.Accept).wait(500 * ms).source(pd.PSRDY)
	upTo := len(s.out)
	s.wait(2*time.Second).sink(pd.Request, ask(8, 5000))

	r := run(s.out[:upTo])
	require.Len(t, r.Contracts, 2)
	assert.Equal(t, "new-contract", r.Contracts[0].EndedBy)
	assert.Equal(t, 28000, of(r.Contracts[1].VoltageMV))
	assert.Equal(t, 5000, of(r.Contracts[1].CurrentMA))
	assert.Equal(t, 8, r.Contracts[1].Position)
	require.Len(t, r.Offers, 7, "unused positions are no offers")
	assert.Equal(t, "epr-avs", r.Offers[6].Kind)
	assert.Equal(t, 9, r.Offers[6].Position)
	assert.Equal(t, "tSrcTransReq (EPR)", phaseNamed(t, r, "power-ready").Limit)
	assert.False(t, phaseNamed(t, r, "power-ready").Late, "500 ms are too long in SPR and not in EPR")
	assert.Equal(t, negotiation.StepDone, end(r).Missing)
	assert.Equal(t, 140000, end(r).OfferMW)
	assert.Empty(t, r.PPSMissed)

	late := run(s.out)
	require.Len(t, late.PPSMissed, 1, "2 s without an EPR_KeepAlive")
	assert.InDelta(t, s.out[upTo-2].At.Seconds()+0.5, late.PPSMissed[0].TimeS, 0.002, "tSinkEPRKeepAlive, table 6.68")
}

// chunks sends an extended message of the source chunk by chunk.
func (s *script) chunks(kind pd.MessageType, objects []uint32) {
	var block []byte
	for _, o := range objects {
		block = binary.LittleEndian.AppendUint32(block, o)
	}
	for n := 0; n*pd.MaxExtendedMsgChunkLen < len(block); n++ {
		x := pd.ExtendedHeaderFields{Chunked: true, ChunkNumber: n, DataSize: len(block)}
		if n > 0 {
			ask := x
			ask.RequestChunk, ask.DataSize = true, 0
			s.chunk(pd.Sink, kind, ask, nil)
			s.wait(3 * ms)
		}
		part := block[n*pd.MaxExtendedMsgChunkLen : min(len(block), (n+1)*pd.MaxExtendedMsgChunkLen)]
		s.chunk(pd.Source, kind, x, part)
		s.wait(3 * ms)
	}
}

func (s *script) chunk(from pd.PowerRole, kind pd.MessageType, x pd.ExtendedHeaderFields, part []byte) {
	body := append(binary.LittleEndian.AppendUint16(nil, uint16(x.Encode())), part...)
	for len(body)%4 != 0 {
		body = append(body, 0)
	}
	f := s.header(kind, from)
	f.Objects = len(body) / 4
	m := pd.Message{Set: pd.SOP, Header: f.Encode(), Body: body}
	s.put(captures.Message{Set: pd.SOP, Bytes: m.Bytes()})
	s.wait(air(f.Objects, false) + 100*time.Microsecond)
	ack := s.header(pd.GoodCRC, 3-from)
	ack.MessageID = s.ids[from]
	s.put(captures.Message{Set: pd.SOP, Bytes: pd.NewMessage(pd.SOP, ack).Bytes()})
	s.wait(air(0, false))
	s.ids[from] = (s.ids[from] + 1) % 8
}

func TestPPSContracts(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second)
	renew := func(v pd.Millivolts) {
		s.sink(pd.Request, askPPS(5, v, 2000)).wait(5 * ms).source(pd.Accept).wait(20 * ms).source(pd.PSRDY)
	}
	renew(9000)
	for range 20 {
		s.wait(5 * time.Second)
		renew(9000)
	}
	s.wait(5 * time.Second)
	renew(9020)
	before := s.now
	s.wait(13 * time.Second).reset()

	r := run(s.out)
	require.Len(t, r.Contracts, 3, "20 V, 9.00 V kept alive, 9.02 V")
	assert.Equal(t, 9000, of(r.Contracts[1].VoltageMV))
	assert.Equal(t, 9020, of(r.Contracts[2].VoltageMV))
	assert.Equal(t, "hard-reset", r.Contracts[2].EndedBy)
	require.Len(t, r.PPSMissed, 1)
	assert.InDelta(t, before.Seconds()+10, r.PPSMissed[0].TimeS, 0.01, "tPPSRequest, USB PD R3.2 V1.1, table 6.68")
	assert.Len(t, r.Attempts, 2, "a renewal that goes well is no attempt: %+v", r.Attempts)
}

func TestRefusedWhileAContractStands(t *testing.T) {
	for _, answer := range []pd.MessageType{pd.Wait, pd.Reject} {
		s := variants[0].make()
		s.agreed().wait(time.Second).sink(pd.Request, ask(3, 3000)).wait(5 * ms).source(answer).wait(time.Second).source(pd.GetSinkCap)
		r := run(s.out)
		require.Len(t, r.Contracts, 1)
		assert.Nil(t, r.Contracts[0].EndS, "the old contract stands on")
		assert.Len(t, r.Refusals, 1)
		require.Len(t, r.Attempts, 1)
		assert.Equal(t, negotiation.StepDone, r.Attempts[0].Missing)
	}
}

func TestRejectedThenAccepted(t *testing.T) {
	for _, v := range variants {
		s := v.make()
		s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5*ms).source(pd.Reject).wait(200*ms).
			sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY)
		r := run(s.out)
		require.Len(t, r.Attempts, 2, v.name)
		assert.Equal(t, negotiation.StepRefused, r.Attempts[0].Missing)
		assert.False(t, r.Attempts[0].Waited)
		assert.Equal(t, "new-request", r.Attempts[0].EndedBy)
		assert.Equal(t, negotiation.StepDone, r.Attempts[1].Missing)
		assert.Equal(t, 9000, of(r.Contracts[0].VoltageMV))
	}
}

// TestPowerRoleSwap: the old source's PS_RDY already says sink, and the new
// source's GoodCRC still says sink (USB PD R3.2 V1.1, section 6.2.1.1.4).
func TestPowerRoleSwap(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second).sink(pd.PRSwap).wait(5 * ms).source(pd.Accept).wait(300 * ms)
	s.mark(captures.VBUSOff)
	s.say(pd.Sink, pd.PSRDY) // the old source
	s.wait(100*ms).mark(captures.VBUSOn).say(pd.Source, pd.PSRDY)
	s.ids = [3]int{}
	s.wait(30*ms).source(pd.SourceCapabilities, fixed(5000, 900)).wait(5*ms).sink(pd.Request, ask(1, 900)).
		wait(5 * ms).source(pd.Accept).wait(40 * ms).source(pd.PSRDY)
	r := run(s.out)
	require.Len(t, r.Contracts, 2)
	assert.Equal(t, "role-swap", r.Contracts[0].EndedBy)
	assert.Equal(t, 5000, of(r.Contracts[1].VoltageMV))
	assert.Equal(t, 0, r.HardResets)
	for _, a := range r.Attempts {
		assert.Equal(t, negotiation.StepDone, a.Missing, "%+v", a)
	}
}

func TestOtherSwapsLeaveTheContract(t *testing.T) {
	s := variants[0].make()
	s.agreed().wait(time.Second).sink(pd.DRSwap).wait(5*ms).source(pd.Accept).
		wait(100*ms).source(pd.VCONNSwap).wait(5*ms).sink(pd.Accept).wait(20*ms).sink(pd.PSRDY).
		wait(100*ms).sink(pd.PRSwap).wait(5*ms).source(pd.Reject).
		wait(100*ms).source(pd.Alert, 0).wait(ms).sink(pd.GetSourceCap).wait(3*ms).source(pd.SourceCapabilities, offers65...).
		wait(time.Second).source(pd.VCONNSwap).wait(5*ms).sink(pd.Accept).wait(20*ms).source(pd.PSRDY).
		wait(time.Second).source(pd.GetSourceCap).wait(3*ms).say(pd.Sink, pd.SourceCapabilities, fixed(5000, 900)).wait(time.Second).source(pd.GetSinkCap)
	r := run(s.out)
	require.Len(t, r.Contracts, 1)
	assert.Nil(t, r.Contracts[0].EndS)
	assert.Len(t, r.Attempts, 1, "%+v", r.Attempts)
	assert.Empty(t, r.Refusals)
	assert.Len(t, r.Offers, 5, "what a dual-role sink could offer is no offer")
}

// TestWhatEndsAContract names each end.
func TestWhatEndsAContract(t *testing.T) {
	cases := map[string]func(*script) *script{
		"hard-reset": func(s *script) *script { return s.reset() },
		"soft-reset": func(s *script) *script { return s.sink(pd.SoftReset) },
		"detach":     func(s *script) *script { return s.mark(captures.Detach) },
		"vbus-off":   func(s *script) *script { return s.mark(captures.VBUSOff) },
	}
	for want, play := range cases {
		s := variants[0].make()
		s.agreed().wait(time.Second)
		at := s.now
		r := run(play(s).out)
		require.Len(t, r.Contracts, 1)
		assert.Equal(t, want, r.Contracts[0].EndedBy)
		require.NotNil(t, r.Contracts[0].EndS)
		assert.InDelta(t, at.Seconds(), *r.Contracts[0].EndS, 1e-9)
		assert.InDelta(t, at.Seconds()-1, *r.Contracts[0].StartS, 0.002)
	}
}

// TestPublishedLists: no list is null, and what does not apply is.
func TestPublishedLists(t *testing.T) {
	b, err := json.Marshal(negotiation.New(negotiation.Options{}).Result())
	require.NoError(t, err)
	assert.JSONEq(t, `{"attach_s":null,"phases":[],"offers":[],"contracts":[],"hard_resets":0,"soft_resets":0,"left_out":0}`, string(b))
}
