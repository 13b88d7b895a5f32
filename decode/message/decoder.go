package message

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"portside/captures"
	"portside/pd"
)

// Decoder reads the messages of one recording in the order of time.
type Decoder struct {
	offers   Offers
	speakers Speakers
	repeats  *Repeats
	chunks   Chunks
	lawful   *lawful
	revision pd.Revision // of the pair, as the headers show it
	line     Line
	airTimes [longestCommon + 1]time.Duration // by the number of bytes
}

// longestCommon is the length of the longest message that is not an unchunked
// extended one: a header and seven objects.
const longestCommon = headerBytes + 7*objectBytes

// NewDecoder returns a decoder for one recording.
func NewDecoder() *Decoder {
	d := &Decoder{repeats: NewRepeats(), lawful: &lawful{}, line: Line{cache: &jsonCache{}}}
	for i := range d.airTimes {
		d.airTimes[i] = nominalAirTime(&captures.Message{Bytes: make([]byte, i)})
	}
	return d
}

// Decode reads the next message. The line holds until the next call.
func (d *Decoder) Decode(m *captures.Message) *Line {
	l := &d.line
	*l = Line{At: m.At, End: m.At, FirstPosition: 1, Objects: l.Objects[:0], Problems: l.Problems[:0], text: l.text[:0], fields: l.fields, cache: l.cache}
	switch {
	case m.Marker != captures.NoMarker:
		l.SOP = m.Marker.String()
		l.text = append(l.text, l.SOP...)
		d.marker(m.Marker)
	case m.Set.IsReset():
		l.SOP = m.Set.String()
		l.text = append(l.text, l.SOP...)
		l.End = End(m)
		d.reset(m)
	default:
		l.SOP = m.Set.String()
		l.End = d.end(m)
		d.packet(m)
	}
	return l
}

// end is [End] of a packet, with the air times of common lengths at hand.
func (d *Decoder) end(m *captures.Message) time.Duration {
	if m.HasEnd && m.End >= m.At || len(m.Bytes) > longestCommon {
		return End(m)
	}
	return m.At + d.airTimes[len(m.Bytes)]
}

func (d *Decoder) problem(format string, args ...any) {
	d.line.Problems = append(d.line.Problems, fmt.Sprintf(format, args...))
}

func (d *Decoder) marker(k captures.Marker) {
	if k == captures.Attach || k == captures.Detach {
		d.forget()
	}
}

func (d *Decoder) forget() {
	d.offers.Forget()
	d.repeats.Forget()
	d.chunks.Forget()
	d.speakers = Speakers{}
	d.revision = 0
}

func (d *Decoder) reset(m *captures.Message) {
	if len(m.Bytes) > 0 {
		d.problem("a reset signal carries no bytes, %d follow", len(m.Bytes))
	}
	if m.Set == pd.HardReset {
		d.forget()
	}
}

func (d *Decoder) packet(m *captures.Message) {
	l := &d.line
	p, err := pd.ParseMessage(m.Set, m.Bytes)
	switch {
	case m.Broken != "":
		l.CRC = WrongCRC
		l.Problems = append(l.Problems, "broken: "+m.Broken)
	case m.Damaged():
		l.CRC = WrongCRC
		l.Problems = append(l.Problems, "the CRC is wrong")
	case m.HasCRC:
		l.CRC = RightCRC
	}
	if err != nil && m.Broken == "" {
		l.Problems = append(l.Problems, err.Error())
	}
	if errors.Is(err, pd.ErrNoHeader) {
		l.text = fmt.Appendf(l.text, "%d bytes without a message header", len(m.Bytes))
		return
	}
	if t := p.Type(); !t.Defined() {
		d.problem("header 0x%04X: no message has type %d of the %s messages", uint16(p.Header), t.Code(), t.Class())
	}
	l.Header = newHeader(p)
	l.Repeat = d.follow(m, p)
	part := d.objects(m, p)
	d.checkRequest(p)
	d.judge(m, p, part)
	l.text = d.appendText(l.text, p, part)
	l.text = appendFate(l.text, m.Status, l.Repeat)
}

// checkRequest tells of a request for what is not on offer.
func (d *Decoder) checkRequest(p pd.Message) {
	if t := p.Type(); t != pd.Request && t != pd.EPRRequest || p.NumObjects() == 0 || d.offers.Len() == 0 {
		return
	}
	position := pd.RDO(p.Object(0)).PositionFor(d.revision)
	offer, ok := d.offers.At(position)
	switch {
	case !ok:
		d.problem("asks for object %d of an offer of %d", position, d.offers.Len())
	case p.Type() == pd.EPRRequest && p.NumObjects() > 1 && pd.PDO(p.Object(1)) != offer:
		d.problem("the copy in the request is not the object offered at position %d, 0x%08X", position, uint32(offer))
	}
}

// follow keeps what the next messages are read against, tells who spoke, and
// reports a repeat. A damaged or discarded message tells nothing that can be
// relied on.
func (d *Decoder) follow(m *captures.Message, p pd.Message) (again bool) {
	l := &d.line
	from := CableEnd(p.Header)
	l.From = p.PowerRole()
	if m.Status == captures.Discarded || l.CRC == WrongCRC {
		if l.CRC == WrongCRC && m.Status != captures.Discarded {
			d.repeats.Damaged(m, from, l.End)
		}
		return false
	}
	if p.Set == pd.SOP {
		from = d.speakers.From(p)
		l.From = from
	}
	if p.Type() == pd.GoodCRC {
		d.repeats.Acknowledge(p.Set, other(from), p.Header.MessageID())
		return false
	}
	again = d.repeats.See(m, from, l.End)
	if p.Set == pd.SOP {
		d.agree(p, from)
	}
	return again
}

// agree keeps the offer and the revision of the pair.
func (d *Decoder) agree(p pd.Message, from pd.PowerRole) {
	switch p.Type() {
	case pd.SourceCapabilities:
		if from == pd.Source {
			d.offers.Take(p)
		}
		d.revision = p.Header.Revision()
	case pd.EPRSourceCapabilities:
		d.revision = p.Header.Revision()
	case pd.Request, pd.EPRRequest:
		if d.revision == 0 || p.Header.Revision() < d.revision {
			d.revision = p.Header.Revision()
		}
	}
}

// objects reads the data objects of the message, or the block it completes.
func (d *Decoder) objects(m *captures.Message, p pd.Message) Part {
	l := &d.line
	if p.Header.Extended() {
		return d.block(m, p)
	}
	kind := singleKind(p.Type())
	for i := range p.NumObjects() {
		l.Objects = append(l.Objects, Object{Raw: p.Object(i), Kind: kind, First: i == 0, Revision: d.revision})
	}
	switch p.Type() {
	case pd.Request, pd.EPRRequest:
		d.requestKinds(p)
	case pd.VendorDefined:
		vdmKinds(p.Set, l.Objects)
	}
	return Part{Missing: -1}
}

// requestKinds reads a request by its offer. A second object is the copy of the
// offer asked for, whose flags count at the first position only.
func (d *Decoder) requestKinds(p pd.Message) {
	for i := range d.line.Objects {
		o := &d.line.Objects[i]
		if i == 0 {
			o.Kind = RequestKind(d.offers.For(p, d.revision))
			continue
		}
		o.Kind = KindOther
		if p.Type() == pd.EPRRequest && i == 1 {
			o.Kind, o.First = KindSupply, pd.RDO(p.Object(0)).PositionFor(d.revision) == 1
		}
	}
}

// block takes a packet of an extended message. What was damaged or never sent
// is shown by itself and joined with nothing.
func (d *Decoder) block(m *captures.Message, p pd.Message) Part {
	var part Part
	if d.line.CRC == WrongCRC || m.Status == captures.Discarded {
		var alone assembly
		part = alone.take(p, m.At, false)
	} else {
		from := d.line.From
		if p.Set != pd.SOP {
			from = CableEnd(p.Header)
		}
		part = d.chunks.Take(p, from, m.At, d.line.Repeat)
		if part.Block != nil && p.Type() == pd.EPRSourceCapabilities && from == pd.Source {
			d.offers.TakeBlock(part.Block)
		}
	}
	d.checkBlock(part)
	switch t := p.Type(); {
	case t == pd.EPRSourceCapabilities || t == pd.EPRSinkCapabilities:
		d.supplies(p, part)
	case part.Block != nil:
		d.line.Objects = append(d.line.Objects, Object{Block: part.Block, Kind: blockKind(p)})
	}
	return part
}

// checkBlock tells what is wrong with a block or with the one before it.
func (d *Decoder) checkBlock(part Part) {
	x := d.line.Header.Extended
	if !d.line.Header.Block || x.RequestChunk() {
		return
	}
	if part.Abandoned != 0 {
		d.problem("the block of %s before this one never came together: chunk %d is not in the recording", part.Abandoned, part.Lost)
	}
	if x.DataSize() > pd.MaxExtendedMsgLen {
		d.problem("a block of %d bytes, the most is %d", x.DataSize(), pd.MaxExtendedMsgLen)
	}
	if x.Chunked() && chunkLen(x.DataSize(), x.ChunkNumber()) < 0 {
		d.problem("chunk %d lies outside a block of %d bytes", x.ChunkNumber(), x.DataSize())
	}
	if part.Block == nil && part.Missing >= 0 && part.Missing < x.ChunkNumber() {
		d.problem("chunk %d of the block is not in the recording", part.Missing)
	}
}

// supplies lists the objects of EPR capabilities: all of a whole block; of a
// chunk whose forerunner is missing those that stand whole in it.
func (d *Decoder) supplies(p pd.Message, part Part) {
	bytes, from := part.Block, 0
	if bytes == nil {
		if part.Missing < 0 || part.Missing >= d.line.Header.Extended.ChunkNumber() {
			return
		}
		bytes, from = p.Block(), d.line.Header.Extended.ChunkNumber()*pd.MaxExtendedMsgChunkLen
		d.line.FirstPosition = (from+objectBytes-1)/objectBytes + 1
	}
	kind := KindSupply
	if p.Type() == pd.EPRSinkCapabilities {
		kind = KindSinkSupply
	}
	skip := (objectBytes - from%objectBytes) % objectBytes
	for at := skip; at+objectBytes <= len(bytes); at += objectBytes {
		o := Object{Raw: binary.LittleEndian.Uint32(bytes[at:]), Kind: kind, First: from+at == 0, Revision: d.revision}
		if o.Raw == 0 {
			o.Kind = KindUnused
		}
		d.line.Objects = append(d.line.Objects, o)
	}
}

// Seconds is a time on the clock of the recording. One division keeps the
// digits the recorder wrote, which the library's sum of two parts does not.
func Seconds(d time.Duration) float64 { return float64(d) / float64(time.Second) }

// End is when a message ended: as recorded, else from its length at the
// nominal bit rate.
func End(m *captures.Message) time.Duration {
	if m.HasEnd && m.End >= m.At {
		return m.End
	}
	return m.At + nominalAirTime(m)
}

func nominalAirTime(m *captures.Message) time.Duration {
	_, nominal, _ := airTime(m)
	return nominal
}

// airTime is how long a message lasts on the line by its length.
func airTime(m *captures.Message) (shortest, nominal, longest time.Duration) {
	body := m.Bytes
	if len(body) >= headerBytes {
		body = body[headerBytes:]
	}
	return pd.AirTime(pd.Message{Set: m.Set, Body: body}.LineBits())
}
