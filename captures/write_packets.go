package captures

import (
	"io"
	"math"

	"portside/captures/pcapng"
	"portside/pd"
)

// packetWriter writes a pcapng file.
type packetWriter struct {
	inputs  []*Input
	file    *pcapng.Writer
	empty   map[pcapng.LinkType]*pcapng.Interface // for inputs without interfaces
	outer   pcapng.MessagePacket
	sample  pcapng.SamplePacket
	written Written
}

// NewPacketWriter begins a pcapng file. What the inputs that are packet files
// say of themselves and of their interfaces is passed on.
func NewPacketWriter(dst io.Writer, inputs []*Input) (Writer, error) {
	section := pcapng.Section{Application: "portside"}
	for _, in := range inputs {
		if p, ok := in.source.(*packetSource); ok {
			from := p.reader.Section()
			section.Comments = append(section.Comments, from.Comments...)
			if section.Hardware == "" {
				section.Hardware = from.Hardware
			}
		}
	}
	return &packetWriter{
		inputs: inputs,
		file:   pcapng.NewWriter(dst, section),
		empty: map[pcapng.LinkType]*pcapng.Interface{
			pcapng.LinkMessages: {Link: pcapng.LinkMessages, Name: "messages"},
			pcapng.LinkSamples:  {Link: pcapng.LinkSamples, Name: "meter"},
		},
	}, nil
}

// Write writes one packet. What a packet has no place for is counted.
func (w *packetWriter) Write(r Record, from *Input) error {
	if r.Sample != nil {
		return w.writeSample(r.Sample, w.interfaceOf(from, pcapng.LinkSamples))
	}
	return w.writeMessage(r.Message, w.interfaceOf(from, pcapng.LinkMessages))
}

// interfaceOf is the one that the record came from, or a plain one.
func (w *packetWriter) interfaceOf(from *Input, link pcapng.LinkType) *pcapng.Interface {
	if in := from.interfaceOf(); in != nil {
		return in
	}
	return w.empty[link]
}

func (w *packetWriter) writeMessage(m *Message, in *pcapng.Interface) error {
	if m.Marker != NoMarker {
		w.written.drop(m.Marker.String())
		return nil
	}
	if m.HasEnd {
		w.written.drop("end_s")
	}
	if m.Status != StatusNone {
		w.written.drop("status")
	}
	if m.By != RecorderUnknown {
		w.written.drop("by")
	}
	w.outer = pcapng.MessagePacket{Set: m.Set, HasCRC: m.HasCRC, CRC: m.CRC, CRCWrong: m.Damaged()}
	if m.HasCRC && m.Set.IsReset() {
		w.written.drop("crc of a reset")
		w.outer.HasCRC = false
	}
	w.written.Messages++
	return w.file.Message(m.At, in, &w.outer, m.Bytes)
}

func (w *packetWriter) writeSample(s *Sample, in *pcapng.Interface) error {
	if !math.IsNaN(s.CC[0]) || !math.IsNaN(s.CC[1]) {
		w.written.drop("cc1, cc2")
	}
	w.sample = pcapng.SamplePacket{Volts: s.Volts, Amps: s.Amps}
	w.written.Samples++
	return w.file.Sample(s.At, in, &w.sample)
}

// Close writes what is held back. What was recorded without a packet is named
// too: a list of messages without a row says that the line was silent.
func (w *packetWriter) Close() error {
	for _, in := range w.inputs {
		for _, described := range w.described(in) {
			if _, err := w.file.Describe(described); err != nil {
				return err
			}
		}
	}
	return w.file.Flush()
}

// described is every interface that an input stands for.
func (w *packetWriter) described(in *Input) []*pcapng.Interface {
	var all []*pcapng.Interface
	if p, ok := in.source.(*packetSource); ok {
		for _, in := range p.reader.Interfaces() {
			if in.Link.Known() && p.wants(in) {
				all = append(all, in)
			}
		}
		return all
	}
	if in.stats.Messages {
		all = append(all, w.empty[pcapng.LinkMessages])
	}
	if in.stats.Samples {
		all = append(all, w.empty[pcapng.LinkSamples])
	}
	return all
}

// Written counts the packets.
func (w *packetWriter) Written() Written { return w.written }

// wrongCRC reports CRC bytes that do not belong to the message.
func (m *Message) wrongCRC() bool {
	return m.HasCRC && !m.Set.IsReset() && !pd.CheckCRC(m.Bytes, m.CRC)
}
