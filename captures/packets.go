package captures

import (
	"bufio"
	"errors"
	"fmt"
	"math"
	"strings"

	"portside/captures/pcapng"
	"portside/pd"
)

// maxInterfaceNotes bounds the notes on interfaces of a packet file.
const maxInterfaceNotes = 20

// isPackets tells a pcapng or pcap file by its first bytes.
func isPackets(raw *bufio.Reader) bool {
	start, _ := raw.Peek(pcapng.SniffLen) // a short file is told as text
	return pcapng.Sniff(start)
}

// packetSource reads the packets of a pcapng or pcap file. The order of time
// is kept as far as packetOrder reaches; what comes later still is left out.
type packetSource struct {
	reader  *pcapng.Reader
	stats   *Stats
	as      Kind // KindMeter or KindMessages: only that part
	message Message
	sample  Sample
	order   packetOrder
	from    *pcapng.Interface // of the record given last
	noted   map[*pcapng.Interface]bool
	seen    *pcapng.Interface // noted last
	ended   error
}

// openPackets reads the start of a packet file. As a meter log or a message
// list it gives only that part of itself.
func openPackets(path string, raw *bufio.Reader, as Kind) (*Input, error) {
	in := &Input{stats: Stats{Path: path, Kind: KindPackets}}
	p := &packetSource{stats: &in.stats, as: as, noted: map[*pcapng.Interface]bool{}}
	reader, err := pcapng.NewReader(raw, p.damaged)
	if err != nil {
		return nil, unusablePackets(path, err)
	}
	p.reader = reader
	in.source = p
	for _, comment := range reader.Section().Comments {
		in.stats.Notes = append(in.stats.Notes, "the file says: "+comment)
	}
	return in, nil
}

func unusablePackets(path string, err error) error {
	e := &UnusableError{File: path, Offset: 0, Expected: "a pcapng or pcap file", Found: causeWords(err), Err: err}
	var format *pcapng.FormatError
	var broken *pcapng.BrokenError
	switch {
	case errors.As(err, &format):
		e.Expected, e.Found = format.Expected, format.Found
	case errors.As(err, &broken):
		e.Offset, e.Found = broken.Offset, broken.Text
	}
	return e
}

// damaged takes what the reader could not use into the statistics.
func (p *packetSource) damaged(d pcapng.Damage) {
	if d.Skipped {
		p.stats.Skipped++
	}
	p.stats.problem(Problem{}, "at byte %d: %s", d.Offset, d.Text)
}

// next gives the next record in the order of time.
func (p *packetSource) next(*Stats) (Record, error) {
	for p.ended == nil {
		packet, err := p.reader.Next()
		if err != nil {
			p.end(err)
			break
		}
		if !p.wants(packet.Interface) {
			continue
		}
		p.note(packet.Interface)
		if packet.At > MaxTime || packet.At < -MaxTime {
			p.damaged(pcapng.Damage{Offset: packet.Offset, Skipped: true, Text: "the time stamp is out of range"})
			continue
		}
		record, ok := p.record(packet)
		if !ok {
			continue
		}
		if !p.order.inTime(record.At()) {
			p.damaged(pcapng.Damage{Offset: packet.Offset, Skipped: true, Text: fmt.Sprintf("expected a time of %s or later, found %s: time goes backwards", p.order.given, record.At())})
			continue
		}
		if p.order.empty() && len(p.noted) < 2 {
			p.order.give(record.At())
			p.from = packet.Interface
			return record, nil
		}
		if held, full := p.order.push(record, packet.Interface); full {
			return p.give(held), nil
		}
	}
	if held, ok := p.order.pop(); ok {
		return p.give(held), nil
	}
	return Record{}, p.ended
}

func (p *packetSource) give(h *heldRecord) Record {
	p.from = h.from
	return h.record()
}

// end takes note of what is known only then.
func (p *packetSource) end(err error) {
	p.ended = err
	for _, in := range p.reader.Interfaces() {
		p.holds(in)
		if n := in.Lost(); n > 0 {
			p.stats.Notes = append(p.stats.Notes, fmt.Sprintf("the recorder says that it lost %d packets of %s: what is missing there is no evidence", n, interfaceWords(in)))
		}
	}
}

// wants reports whether the packets of an interface are asked for.
func (p *packetSource) wants(in *pcapng.Interface) bool {
	switch p.as {
	case KindMeter:
		return in.Link == pcapng.LinkSamples
	case KindMessages:
		return in.Link == pcapng.LinkMessages
	default:
		return true
	}
}

// holds takes note of what an interface records.
func (p *packetSource) holds(in *pcapng.Interface) {
	if !p.wants(in) {
		return
	}
	p.stats.Messages = p.stats.Messages || in.Link == pcapng.LinkMessages
	p.stats.Samples = p.stats.Samples || in.Link == pcapng.LinkSamples
}

// note tells, once, what the file says of an interface.
func (p *packetSource) note(in *pcapng.Interface) {
	if in == p.seen {
		return
	}
	p.seen = in
	if p.noted[in] {
		return
	}
	if len(p.noted) > maxInterfaceNotes {
		clear(p.noted) // a file of endless sections must not fill the memory
	}
	p.noted[in] = true
	p.holds(in)
	if in.Name == "" && in.Description == "" && len(in.Comments) == 0 || len(p.stats.Notes) >= maxInterfaceNotes {
		return
	}
	text := interfaceWords(in)
	if in.Description != "" {
		text += ": " + in.Description
	}
	if len(in.Comments) > 0 {
		text += " (" + strings.Join(in.Comments, "; ") + ")"
	}
	p.stats.Notes = append(p.stats.Notes, text)
}

func interfaceWords(in *pcapng.Interface) string {
	what := "messages"
	if in.Link == pcapng.LinkSamples {
		what = "meter samples"
	}
	if in.Name == "" {
		return "the interface of " + what
	}
	return fmt.Sprintf("interface %q of %s", in.Name, what)
}

// record turns a packet into a record; false means that it cannot be used,
// which is told.
func (p *packetSource) record(packet *pcapng.Packet) (Record, bool) {
	if packet.Sample != nil {
		return p.sampleRecord(packet)
	}
	return p.messageRecord(packet), true
}

func (p *packetSource) sampleRecord(packet *pcapng.Packet) (Record, bool) {
	v, a := packet.Sample.Volts, packet.Sample.Amps
	// A NaN is a gap; the comparison lets it through.
	if math.Abs(v) > maxReading || math.Abs(a) > maxReading {
		p.damaged(pcapng.Damage{Offset: packet.Offset, Skipped: true, Text: fmt.Sprintf("expected at most %d V and A, found %g V and %g A", maxReading, v, a)})
		return Record{}, false
	}
	p.sample = Sample{At: packet.At, Volts: v, Amps: a, CC: [2]float64{math.NaN(), math.NaN()}}
	return Record{Sample: &p.sample}, true
}

func (p *packetSource) messageRecord(packet *pcapng.Packet) Record {
	outer := packet.Message
	p.message = Message{At: packet.At, Set: outer.Set, CRC: outer.CRC, HasCRC: outer.HasCRC, CRCWrong: outer.CRCWrong}
	data := outer.LayerPayload()
	if packet.Cut > 0 {
		p.remark(packet, "the recorder cut %d bytes off the packet", packet.Cut)
	}
	if packet.PD == nil {
		if len(data) > 0 {
			p.remark(packet, "expected no bytes with %s, found %d; they are left out", outer.Set, len(data))
		}
		return Record{Message: &p.message}
	}
	p.message.Bytes = data
	if packet.PD.Mismatch != nil {
		p.remark(packet, "%v", packet.PD.Mismatch)
	}
	if outer.CRCWrong && outer.HasCRC && pd.CheckCRC(data, outer.CRC) {
		p.remark(packet, "the recorder calls the CRC wrong, its bytes are right")
	}
	return Record{Message: &p.message}
}

// remark keeps a problem of a packet that is used all the same.
func (p *packetSource) remark(packet *pcapng.Packet, format string, args ...any) {
	p.stats.problem(Problem{At: packet.At, HasAt: true}, "at byte %d: %s", packet.Offset, fmt.Sprintf(format, args...))
}

// interfaceOf is the interface of a packet file that gave the record which
// Next returned last; nil for other inputs.
func (in *Input) interfaceOf() *pcapng.Interface {
	if p, ok := in.source.(*packetSource); ok {
		return p.from
	}
	return nil
}
