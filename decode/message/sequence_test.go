package message_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
	"portside/testdata/negotiations"
)

// grouped gives the sequences of messages so long after each other.
func grouped(steps []step) (out []message.Sequence) {
	d := message.NewDecoder()
	var s message.Sequences
	at := time.Second
	for _, x := range steps {
		at += x.wait
		x.m.At = at
		x.m.HasEnd, x.m.End = true, at+500*us
		at = x.m.End
		out = append(out, s.Add(d.Decode(&x.m), &x.m)...)
	}
	return append(out, s.Close()...)
}

// outcomes are the sequences in words.
func outcomes(list []message.Sequence) (out []string) {
	for _, q := range list {
		s := q.Name
		if q.Outcome != "" {
			s += ": " + q.Outcome
		}
		out = append(out, s)
	}
	return out
}

func TestSequences(t *testing.T) {
	offer := sourceSays(pd.SourceCapabilities, 0, 0x0801912C, 0x0002D12C, 0xC8DC213C)
	request := sinkSays(pd.Request, 0, 0x2004B12C)
	pps := func(id int) captures.Message {
		return sinkSays(pd.Request, id, uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 3}, Voltage: 5000, OperatingCurrent: 1000}.Encode()))
	}
	accept, ready := sourceSays(pd.Accept, 1), sourceSays(pd.PSRDY, 2)
	reset := captures.Message{Set: pd.HardReset}
	control := func(m captures.Message, kind pd.ExtendedControlType) captures.Message {
		h := pd.HeaderFields{Type: pd.ExtendedControl, Objects: 1, MessageID: 1, Revision: pd.Revision3x, PowerRole: pd.Header(uint16(m.Bytes[0]) | uint16(m.Bytes[1])<<8).PowerRole()}
		x := pd.ExtendedHeaderFields{Chunked: true, DataSize: 2}.Encode()
		return captures.Message{Set: pd.SOP, Bytes: append(pd.Message{Header: h.Encode()}.Bytes(), byte(x), byte(x>>8), byte(kind), 0)}
	}
	vdm := func(set pd.OrderedSet, c pd.Command, kind pd.CommandType, plug byte, objects ...uint32) captures.Message {
		h := pd.VDMHeaderFields{SVID: pd.SVIDPowerDelivery, VersionMajor: 1, CommandType: kind, Command: c}.Encode()
		m := sinkSays(pd.VendorDefined, 0, append([]uint32{uint32(h)}, objects...)...)
		m.Set, m.Bytes[1] = set, m.Bytes[1]|plug
		return m
	}
	all := func(list ...captures.Message) (out []step) {
		for _, m := range list {
			out = append(out, step{2 * ms, m})
		}
		return out
	}
	cases := []struct {
		name string
		in   []step
		want []string
	}{
		{"a contract", all(offer, sinkSays(pd.GoodCRC, 0), request, accept, ready), []string{"power negotiation: contract: object 2, 9 V 3 A"}},
		{"refused", all(offer, request, sourceSays(pd.Reject, 1)), []string{"power negotiation: refused: object 2, 9 V 3 A"}},
		{"put off", all(offer, request, sourceSays(pd.Wait, 1)), []string{"power negotiation: put off: object 2, 9 V 3 A"}},
		{"nobody answers", append(all(offer), step{150 * ms, offer}, step{150 * ms, offer}), []string{"power negotiation: no Request; the recording ends"}},
		{"no PS_RDY", all(offer, request, accept, reset, offer), []string{"power negotiation: no PS_RDY; ended by Hard_Reset", "hard reset: the source offers again", "power negotiation: no Request; the recording ends"}},
		{"a Hard_Reset that ends it", all(reset), []string{"hard reset: the source offers nothing afterwards; the recording ends"}},
		{"keep-alive", all(offer, pps(0), accept, ready, pps(1), sourceSays(pd.Accept, 3), sourceSays(pd.PSRDY, 4)), []string{"power negotiation: contract: object 3, PPS 5 V 1 A", "PPS keep-alive: contract: object 3, PPS 5 V 1 A"}},
		{"another object", all(offer, pps(0), accept, ready, sinkSays(pd.Request, 1, 0x2004B12C), sourceSays(pd.Accept, 3), sourceSays(pd.PSRDY, 4)), []string{"power negotiation: contract: object 3, PPS 5 V 1 A", "new request: contract: object 2, 9 V 3 A"}},
		{"swaps", all(sinkSays(pd.PRSwap, 0), accept, ready, sinkSays(pd.PSRDY, 1), sinkSays(pd.DRSwap, 2), sourceSays(pd.Reject, 3), sinkSays(pd.VCONNSwap, 3), sourceSays(pd.Accept, 4), sinkSays(pd.PSRDY, 4)), []string{"PR_Swap: done", "DR_Swap: refused", "VCONN_Swap: done"}},
		{"soft reset", all(offer, sinkSays(pd.SoftReset, 0), sourceSays(pd.Accept, 0)), []string{"power negotiation: no Request; ended by Soft_Reset", "soft reset: done"}},
		{"questions", all(sinkSays(pd.GetStatus, 0), sourceSays(pd.NotSupported, 0), sourceSays(pd.GetSinkCap, 1), sinkSays(pd.SinkCapabilities, 1, 0x118190C8)), []string{"Get_Status: not supported", "Get_Sink_Cap: answered: 5 V 2 A"}},
		{"cable identity", all(vdm(pd.SOPPrime, pd.DiscoverIdentity, pd.REQ, 0), vdm(pd.SOPPrime, pd.DiscoverIdentity, pd.ACK, 1, 0x18601234, 0, 0x56780100, 0x00082040)), []string{"cable identity: answered: VID 0x1234, passive cable, PID 0x5678, 5 A, 20 V, USB 2.0"}},
		{"a cable that is silent", append(all(vdm(pd.SOPPrime, pd.DiscoverIdentity, pd.REQ, 0)), step{45 * ms, vdm(pd.SOPPrime, pd.DiscoverIdentity, pd.REQ, 0)}), []string{"cable identity: no answer; the recording ends"}},
		{"inside a negotiation", all(offer, request, accept, vdm(pd.SOP, pd.DiscoverSVIDs, pd.REQ, 0), vdm(pd.SOP, pd.DiscoverSVIDs, pd.NAK, 1), ready), []string{"power negotiation: contract: object 2, 9 V 3 A", "Discover SVIDs: NAK"}},
		{"EPR entry", all(sinkSays(pd.EPRMode, 0, 0x018C0000), sourceSays(pd.EPRMode, 0, 0x02000000), sourceSays(pd.EPRMode, 1, 0x03000000), sinkSays(pd.EPRMode, 1, 0x05000000)), []string{"EPR entry: EPR mode entered", "EPR exit"}},
		{"EPR refused", all(sinkSays(pd.EPRMode, 0, 0x018C0000), sourceSays(pd.EPRMode, 1, 0x04010000)), []string{"EPR entry: failed: cable not EPR capable"}},
		{"EPR keep-alive", all(control(request, pd.EPRKeepAlive), control(accept, pd.EPRKeepAliveAck)), []string{"EPR keep-alive: answered"}},
		{"alone", all(sourceSays(pd.Alert, 0, 0x04000000), sourceSays(pd.Ping, 1)), []string{"Alert: ocp event", "Ping"}},
		{"a new attach", append(all(offer), step{ms, captures.Message{Marker: captures.Detach}}), []string{"power negotiation: no Request; ended by Detach"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, outcomes(grouped(c.in)))
		})
	}
}

// TestSequencesTellTimes: from the first bit of the first message to the last of
// the last one.
func TestSequencesTellTimes(t *testing.T) {
	offer := sourceSays(pd.SourceCapabilities, 0, 0x0801912C)
	got := grouped([]step{{0, offer}, {ms, offer}, {100 * us, sinkSays(pd.GoodCRC, 0)}, {2 * ms, sinkSays(pd.Request, 0, 0x1004B12C)},
		{2 * ms, sourceSays(pd.Accept, 1)}, {100 * ms, sourceSays(pd.PSRDY, 2)}})
	require.Len(t, got, 1)
	assert.Equal(t, time.Second, got[0].Start)
	assert.Equal(t, 6*500*us+ms+100*us+4*ms+100*ms, got[0].End-got[0].Start)
	assert.Equal(t, 2, got[0].Tries)
	assert.Equal(t, 5, got[0].Messages)
	assert.True(t, got[0].Complete)
	assert.JSONEq(t, `{"sequence":"power negotiation","start_s":1,"duration_s":0.1081,"messages":5,"tries":2,"complete":true,"outcome":"contract: object 1, 5 V 3 A"}`, string(got[0].AppendJSON(nil)))
}

// TestSequencesOfRecordings: every message of a recorded negotiation is in
// exactly one sequence, and they come in the order of their beginnings.
func TestSequencesOfRecordings(t *testing.T) {
	logs, err := negotiations.Read()
	require.NoError(t, err)
	for _, log := range logs {
		list, err := log.Messages(true)
		require.NoError(t, err)
		d := message.NewDecoder()
		var s message.Sequences
		var got []message.Sequence
		want := 0
		for i := range list {
			m := &list[i].Message
			l := d.Decode(m)
			if m.Marker == captures.NoMarker && m.Status != captures.Discarded && l.Header.Type() != pd.GoodCRC {
				want++
			}
			got = append(got, s.Add(l, m)...)
		}
		got = append(got, s.Close()...)
		for i, q := range got {
			want -= q.Messages
			assert.True(t, json.Valid(q.AppendJSON(nil)))
			assert.GreaterOrEqual(t, q.End, q.Start)
			assert.False(t, i > 0 && q.Start < got[max(i-1, 0)].Start, "%s: sequence %d", log.ID, i)
		}
		assert.Zero(t, want, log.ID)
	}
}
