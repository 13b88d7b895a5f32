package negotiation_test

import (
	"encoding/binary"
	"time"

	"portside/captures"
	"portside/pd"
)

// script writes a recording message by message, as a pair at the bench would.
type script struct {
	out    []captures.Message
	now    time.Duration
	rev    pd.Revision
	ids    [3]int // by pd.PowerRole
	acks   bool   // GoodCRC is recorded
	coarse bool   // stamps are whole milliseconds
	by     captures.Recorder
}

// variants are the recorders every sequence is read from.
var variants = []struct {
	name string
	make func() *script
}{
	{"every message", func() *script { return &script{rev: pd.Revision3x, acks: true} }},
	{"without GoodCRC", func() *script { return &script{rev: pd.Revision3x} }},
	{"whole milliseconds", func() *script { return &script{rev: pd.Revision3x, acks: true, coarse: true} }},
	{"software of the sink", func() *script { return &script{rev: pd.Revision3x, by: captures.SinkItself} }},
}

func (s *script) wait(d time.Duration) *script {
	s.now += d
	return s
}

func (s *script) put(m captures.Message) {
	m.At, m.By = s.now, s.by
	if s.coarse {
		m.At = m.At.Truncate(time.Millisecond)
	}
	s.out = append(s.out, m)
}

func (s *script) mark(k captures.Marker) *script {
	s.put(captures.Message{Marker: k})
	return s
}

func (s *script) reset() *script {
	s.put(captures.Message{Set: pd.HardReset})
	s.ids = [3]int{}
	return s.wait(air(0, true))
}

// air is the time on the line at the nominal 300 kbit/s: 149 bits for a header
// alone, 40 for each object, 84 for a reset (USB PD R3.2 V1.1, sections 5.5 and
// 5.6, computed).
func air(objects int, reset bool) time.Duration {
	bits := 149 + 40*objects
	if reset {
		bits = 84
	}
	return time.Duration(float64(bits) / 300e3 * float64(time.Second))
}

func (s *script) header(kind pd.MessageType, from pd.PowerRole) pd.HeaderFields {
	f := pd.HeaderFields{Type: kind, MessageID: s.ids[from], Revision: s.rev, PowerRole: from, DataRole: pd.UFP}
	if from == pd.Source {
		f.DataRole = pd.DFP
	}
	return f
}

// unheard sends a message that nobody acknowledges.
func (s *script) unheard(from pd.PowerRole, kind pd.MessageType, objects ...uint32) *script {
	m := pd.NewMessage(pd.SOP, s.header(kind, from), objects...)
	s.put(captures.Message{Set: pd.SOP, Bytes: m.Bytes()})
	return s.wait(air(len(objects), false))
}

// say sends a message that is acknowledged 100 µs later.
func (s *script) say(from pd.PowerRole, kind pd.MessageType, objects ...uint32) *script {
	if kind == pd.SoftReset {
		s.ids = [3]int{}
	}
	s.unheard(from, kind, objects...)
	s.wait(100 * time.Microsecond)
	if s.acks {
		ack := s.header(pd.GoodCRC, 3-from)
		ack.MessageID = s.ids[from]
		s.put(captures.Message{Set: pd.SOP, Bytes: pd.NewMessage(pd.SOP, ack).Bytes()})
	}
	s.wait(air(0, false))
	s.ids[from] = (s.ids[from] + 1) % 8
	return s
}

// extended sends one chunk, whole, that is acknowledged.
func (s *script) extended(from pd.PowerRole, kind pd.MessageType, block []byte) *script {
	body := append([]byte{byte(len(block)), 0x80}, block...) // bit 15: chunked, number 0
	for len(body)%4 != 0 {
		body = append(body, 0)
	}
	var objects []uint32
	for i := 0; i < len(body); i += 4 {
		objects = append(objects, binary.LittleEndian.Uint32(body[i:]))
	}
	return s.say(from, kind, objects...)
}

func (s *script) source(kind pd.MessageType, objects ...uint32) *script {
	return s.say(pd.Source, kind, objects...)
}

func (s *script) sink(kind pd.MessageType, objects ...uint32) *script {
	return s.say(pd.Sink, kind, objects...)
}

const ms = time.Millisecond

// offers65 is what a common charger of 65 W offers (common practice).
var offers65 = []uint32{
	fixed(5000, 3000), fixed(9000, 3000), fixed(15000, 3000), fixed(20000, 3250),
	uint32(pd.PPSSupply{MinVoltage: 3300, MaxVoltage: 21000, MaxCurrent: 3000}.Encode()),
}

func fixed(v pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.FixedSupply{Voltage: v, MaxCurrent: i}.Encode())
}

func ask(position int, i pd.Milliamps) uint32 {
	return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position}, OperatingCurrent: i, MaxCurrent: i}.Encode())
}

func askPPS(position int, v pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: position}, Voltage: v, OperatingCurrent: i}.Encode())
}

// plugged is a recording up to VBUS.
func (s *script) plugged() *script {
	return s.wait(1234567 * time.Microsecond).mark(captures.Attach).wait(123456 * time.Microsecond).mark(captures.VBUSOn)
}

// offered goes on to an acknowledged offer.
func (s *script) offered() *script {
	return s.plugged().wait(150123*time.Microsecond).source(pd.SourceCapabilities, offers65...)
}

// agreed goes on to a contract of 20 V.
func (s *script) agreed() *script {
	return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).
		wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
}
