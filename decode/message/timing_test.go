package message_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// step is a message so long after the end of the one before.
type step struct {
	wait time.Duration
	m    captures.Message
}

// timed lays messages on the line, each 500 µs long, and gives the last limit.
func timed(steps []step) (lim message.Limited, ok bool) {
	d, t := message.NewDecoder(), message.NewTiming()
	at := time.Second
	for _, s := range steps {
		at += s.wait
		s.m.At = at
		if s.m.By == 0 {
			s.m.HasEnd, s.m.End = true, at+500*time.Microsecond
			at = s.m.End
		}
		lim, ok = t.Add(d.Decode(&s.m), &s.m)
	}
	return lim, ok
}

const (
	us = time.Microsecond
	ms = time.Millisecond
)

// By the standard's tables of types: source and sink at R3, MessageID in the
// second byte.
func sourceSays(kind pd.MessageType, id int, objects ...uint32) captures.Message {
	return built(pd.HeaderFields{Type: kind, MessageID: id, Revision: pd.Revision3x, PowerRole: pd.Source, DataRole: pd.DFP}, objects...)
}

func sinkSays(kind pd.MessageType, id int, objects ...uint32) captures.Message {
	return built(pd.HeaderFields{Type: kind, MessageID: id, Revision: pd.Revision3x, PowerRole: pd.Sink, DataRole: pd.UFP}, objects...)
}

func built(h pd.HeaderFields, objects ...uint32) captures.Message {
	return captures.Message{Set: pd.SOP, Bytes: pd.NewMessage(pd.SOP, h, objects...).Bytes()}
}

func bySink(m captures.Message) captures.Message { m.By = captures.SinkItself; return m }

func TestTiming(t *testing.T) {
	offer := sourceSays(pd.SourceCapabilities, 0, 0x0801912C, 0x0002D12C, 0xC8DC213C)
	ack := func(m captures.Message, id int) captures.Message {
		if pd.Header(uint16(m.Bytes[0])|uint16(m.Bytes[1])<<8).PowerRole() == pd.Source {
			return sinkSays(pd.GoodCRC, id)
		}
		return sourceSays(pd.GoodCRC, id)
	}
	asked := sinkSays(pd.Request, 0, 0x2004B12C)
	accepted := sourceSays(pd.Accept, 1)
	ready := sourceSays(pd.PSRDY, 2)
	heard := func(wait time.Duration, m captures.Message, id int) []step {
		return []step{{wait, m}, {100 * us, ack(m, id)}}
	}
	join := func(parts ...[]step) (out []step) {
		for _, p := range parts {
			out = append(out, p...)
		}
		return out
	}
	contract := join(heard(0, offer, 0), heard(2*ms, asked, 0), heard(2*ms, accepted, 1))
	pps := func(voltage pd.Millivolts, id int) captures.Message {
		return sinkSays(pd.Request, id, uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 3}, Voltage: voltage, OperatingCurrent: 1000}.Encode()))
	}
	ppsReady := join(heard(0, offer, 0), heard(2*ms, pps(5000, 0), 0), heard(2*ms, accepted, 1), heard(100*ms, ready, 2))

	enter := sinkSays(pd.EPRMode, 1, 0x018C0000)
	cases := []struct {
		name     string
		in       []step
		want     string
		after    string
		measured time.Duration
		min, max time.Duration
		verdict  message.Verdict
		source   string
	}{
		{"GoodCRC", heard(0, offer, 0), "tTransmit", "", 100 * us, 0, 195 * us, message.Kept, "table 6.68"},
		{"late GoodCRC", []step{{0, offer}, {300 * us, ack(offer, 0)}}, "tTransmit", "", 300 * us, 0, 195 * us, message.Broken, "table 6.68"},
		{"Request", join(heard(0, offer, 0), []step{{2 * ms, asked}}), "tReceiverResponse", "", 2 * ms, 0, 15 * ms, message.Kept, "table 6.68"},
		{"late Request", join(heard(0, offer, 0), []step{{17 * ms, asked}}), "tReceiverResponse", "", 17 * ms, 0, 15 * ms, message.Broken, "table 6.68"},
		{"Accept", join(heard(0, offer, 0), heard(2*ms, asked, 0), []step{{14 * ms, accepted}}), "tReceiverResponse", "", 14 * ms, 0, 15 * ms, message.Kept, "table 6.68"},
		{"PS_RDY", join(contract, []step{{200 * ms, ready}}), "tSrcTransReq (SPR)", "", 200 * ms, 0, 325 * ms, message.Kept, "table 7.23"},
		{"late PS_RDY", join(contract, []step{{400 * ms, ready}}), "tSrcTransReq (SPR)", "", 400 * ms, 0, 325 * ms, message.Broken, "table 7.23"},
		{"small PPS step", join(ppsReady, heard(time.Second, pps(5200, 1), 1), heard(2*ms, sourceSays(pd.Accept, 3), 3), []step{{30 * ms, sourceSays(pd.PSRDY, 4)}}), "tPpsSrcTransSmall", "", 30 * ms, 0, 25 * ms, message.Broken, "table 7.23"},
		{"large PPS step", join(ppsReady, heard(time.Second, pps(9000, 1), 1), heard(2*ms, sourceSays(pd.Accept, 3), 3), []step{{30 * ms, sourceSays(pd.PSRDY, 4)}}), "tPpsSrcTransLarge", "", 30 * ms, 0, 275 * ms, message.Kept, "table 7.23"},
		{"PPS keep-alive", join(ppsReady, []step{{9 * time.Second, pps(5000, 1)}}), "tPPSRequest", "", 9 * time.Second, 0, 10 * time.Second, message.Kept, "table 6.68"},
		{"no PPS keep-alive", join(ppsReady, []step{{11 * time.Second, pps(5000, 1)}}), "tPPSRequest", "", 11 * time.Second, 0, 10 * time.Second, message.Broken, "table 6.68"},
		{"retry", []step{{0, offer}, {1100 * us, offer}}, "tReceive", "", 1100 * us, 900 * us, 1295 * us, message.Kept, "table 6.68"},
		{"early retry", []step{{0, offer}, {500 * us, offer}}, "tReceive", "", 500 * us, 900 * us, 1295 * us, message.Broken, "table 6.68"},
		{"next attempt", []step{{0, offer}, {1100 * us, offer}, {150 * ms, offer}}, "tTypeCSendSourceCap", "the attempt before", 500*us + 1100*us + 500*us + 150*ms, 100 * ms, 201100 * us, message.Kept, "table 6.68"},
		{"attempt too soon", []step{{0, offer}, {50 * ms, offer}}, "tTypeCSendSourceCap", "the attempt before", 50*ms + 500*us, 100 * ms, 201100 * us, message.Broken, "table 6.68"},
		{"Hard Reset for a missing Request", join(heard(0, offer, 0), []step{{29 * ms, captures.Message{Set: pd.HardReset}}}), "tSenderResponse", "", 29 * ms, 24 * ms, 33 * ms, message.Kept, "table 6.68; R3.0 has 24 to 30"},
		{"Hard Reset for a missing PS_RDY", join(contract, []step{{500 * ms, captures.Message{Set: pd.HardReset}}}), "tPSTransition (SPR)", "", 500 * ms, 450 * ms, 550 * ms, message.Kept, "table 6.68"},
		{"Request after Wait", join(heard(0, offer, 0), heard(2*ms, asked, 0), heard(2*ms, sourceSays(pd.Wait, 1), 1), []step{{50 * ms, sinkSays(pd.Request, 1, 0x2004B12C)}}), "tSinkRequest", "the Wait", 50*ms + 600*us, 100 * ms, 0, message.Broken, "table 6.68"},
		{"capabilities after Soft_Reset", join(heard(0, sinkSays(pd.SoftReset, 0), 0), heard(ms, sourceSays(pd.Accept, 0), 0), []step{{300 * ms, sourceSays(pd.SourceCapabilities, 1, 0x0801912C)}}), "tFirstSourceCap", "", 300 * ms, 0, 250 * ms, message.Broken, "table 6.68"},
		{"old source off", join(heard(0, sinkSays(pd.PRSwap, 0), 0), heard(ms, accepted, 1), []step{{100 * ms, ready}}), "tSrcTransOff", "", 100 * ms, 0, 690 * ms, message.Kept, "table 7.23"},
		{"new source on", join(heard(0, sinkSays(pd.PRSwap, 0), 0), heard(ms, accepted, 1), heard(100*ms, sinkSays(pd.PSRDY, 2), 2), []step{{300 * ms, sourceSays(pd.PSRDY, 1)}}), "tSrcTransOn", "", 300 * ms, 0, 280 * ms, message.Broken, "table 7.23"},
		{"VCONN", join(heard(0, sinkSays(pd.VCONNSwap, 0), 0), heard(ms, accepted, 1), []step{{60 * ms, sinkSays(pd.PSRDY, 1)}}), "tVCONNSourceOn", "", 60 * ms, 0, 100 * ms, message.Kept, "R3.0 V1.1, table 6-53: 100; R3.2: 50; a header's 3.x may be either"},
		{"EPR entry", join(heard(0, enter, 1), heard(ms, sourceSays(pd.EPRMode, 3, 0x02000000), 3), []step{{600 * ms, sourceSays(pd.EPRMode, 4, 0x03000000)}}), "tEnterEPR", "EPR_Mode Enter", 600*ms + ms + 600*us + 500*us, 0, 550 * ms, message.Broken, "table 6.68"},
		{"cable answers", []step{{0, identify(pd.SOPPrime, pd.REQ, 0, false)}, {2 * ms, identify(pd.SOPPrime, pd.ACK, 0, true)}}, "tVDMReceiverResponse", "its GoodCRC", 2*ms - 610*us, 0, 15 * ms, message.Kept, "table 6.68"},
		{"cable asked again", []step{{0, identify(pd.SOPPrime, pd.REQ, 0, false)}, {45 * ms, identify(pd.SOPPrime, pd.REQ, 1, false)}}, "tDiscoverIdentity", "the question before", 45*ms + 500*us, 40 * ms, 50 * ms, message.Kept, "table 6.68"},
		{"software stamps", []step{{0, bySink(offer)}, {300 * us, bySink(ack(offer, 0))}}, "tTransmit", "", 0, 0, 195 * us, message.NotObserved, "ours"},
		{"software stamps near a limit", []step{{0, bySink(offer)}, {20 * ms, bySink(asked)}}, "tReceiverResponse", "its GoodCRC", 0, 0, 15 * ms, message.TooClose, "ours"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.NotEmpty(t, c.source)
			got, ok := timed(c.in)
			require.True(t, ok)
			assert.Equal(t, c.want, got.Name)
			assert.Equal(t, c.after, got.Since)
			if c.measured != 0 {
				assert.InDelta(t, c.measured, got.Measured, float64(10*us))
			}
			assert.Equal(t, c.min, got.Min)
			assert.Equal(t, c.max, got.Max)
			assert.Equal(t, c.verdict, got.Verdict)
			assert.NotEmpty(t, got.Document)
		})
	}
}

// identify is a question to a cable, or the answer of its plug.
func identify(set pd.OrderedSet, kind pd.CommandType, id int, plug bool) captures.Message {
	h := pd.VDMHeaderFields{SVID: pd.SVIDPowerDelivery, VersionMajor: 1, CommandType: kind, Command: pd.DiscoverIdentity}.Encode()
	m := built(pd.HeaderFields{Type: pd.VendorDefined, MessageID: id, Revision: pd.Revision20, PowerRole: pd.Sink}, uint32(h))
	if plug {
		m.Bytes[1] |= 1
	}
	m.Set = set
	return m
}

// TestTimingSaysNothing where no limit applies or its beginning is not there.
func TestTimingSaysNothing(t *testing.T) {
	for name, in := range map[string][]step{
		"the first message":               {{0, sourceSays(pd.SourceCapabilities, 0, 0x0801912C)}},
		"a PS_RDY out of nowhere":         {{0, sourceSays(pd.PSRDY, 0)}},
		"a GoodCRC to another":            {{0, sourceSays(pd.Accept, 1)}, {100 * us, sinkSays(pd.GoodCRC, 2)}},
		"after a Hard Reset":              {{0, sinkSays(pd.Request, 1, 0x1004B12C)}, {0, captures.Message{Set: pd.HardReset}}, {0, sourceSays(pd.Accept, 1)}},
		"a Hard Reset for another reason": {{0, sourceSays(pd.SourceCapabilities, 0, 0x0801912C)}, {100 * us, sinkSays(pd.GoodCRC, 0)}, {time.Second, captures.Message{Set: pd.HardReset}}},
		"a cable asked after a plug-in":   {{0, identify(pd.SOPPrime, pd.REQ, 0, false)}, {9 * time.Second, identify(pd.SOPPrime, pd.REQ, 0, false)}},
		"a question without limit":        {{0, sourceSays(pd.GetSinkCap, 1)}},
	} {
		_, ok := timed(in)
		assert.False(t, ok, name)
	}
}
