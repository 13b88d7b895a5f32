package message

import (
	"errors"
	"fmt"
	"time"

	"portside/captures"
	"portside/pd"
)

// Line is one message, reset or marker as a JSON object.
type Line struct {
	TimeS    float64  `json:"time_s"`
	SOP      string   `json:"sop"`
	CRCOK    *bool    `json:"crc_ok"` // nil where no CRC was recorded
	Repeat   bool     `json:"repeat"`
	Header   *Header  `json:"header"`  // nil for a reset, a marker, or too few bytes
	Objects  []Object `json:"objects"` // whole objects; never nil
	Text     string   `json:"text"`
	Problems []string `json:"problems"` // never nil
}

// Decoder reads the messages of one recording in the order of time.
type Decoder struct {
	offers   Offers
	speakers Speakers
	repeats  *Repeats
	revision pd.Revision // of the pair, as the headers show it
	text     []byte
}

// NewDecoder returns a decoder for one recording.
func NewDecoder() *Decoder { return &Decoder{repeats: NewRepeats()} }

// Decode reads the next message. Nothing of m is kept or shared.
func (d *Decoder) Decode(m *captures.Message) Line {
	line := Line{TimeS: Seconds(m.At), Objects: []Object{}, Problems: []string{}}
	switch {
	case m.Marker != captures.NoMarker:
		line.SOP = m.Marker.String()
		line.Text = line.SOP
		d.marker(m.Marker)
	case m.Set.IsReset():
		line.SOP = m.Set.String()
		line.Text = line.SOP
		d.reset(m, &line)
	default:
		line.SOP = m.Set.String()
		d.packet(m, &line)
	}
	return line
}

func (d *Decoder) marker(k captures.Marker) {
	if k == captures.Attach || k == captures.Detach {
		d.forget()
	}
}

func (d *Decoder) forget() {
	d.offers.Forget()
	d.repeats.Forget()
	d.speakers = Speakers{}
	d.revision = 0
}

func (d *Decoder) reset(m *captures.Message, line *Line) {
	if len(m.Bytes) > 0 {
		line.Problems = append(line.Problems, fmt.Sprintf("a reset signal carries no bytes, %d follow", len(m.Bytes)))
	}
	if m.Set == pd.HardReset {
		d.forget()
	}
}

func (d *Decoder) packet(m *captures.Message, line *Line) {
	p, err := pd.ParseMessage(m.Set, m.Bytes)
	if m.HasCRC {
		ok := pd.CheckCRC(m.Bytes, m.CRC)
		line.CRCOK = &ok
		if !ok {
			line.Problems = append(line.Problems, "the CRC is wrong")
		}
	}
	if errors.Is(err, pd.ErrNoHeader) {
		line.Text = fmt.Sprintf("%d bytes without a message header", len(m.Bytes))
		line.Problems = append(line.Problems, err.Error())
		return
	}
	if err != nil {
		line.Problems = append(line.Problems, err.Error())
	}
	if !p.Type().Defined() {
		line.Problems = append(line.Problems, fmt.Sprintf("header 0x%04X: no message has type %d of the %s messages", uint16(p.Header), p.Type().Code(), p.Type().Class()))
	}
	line.Header = newHeader(p)
	damaged := line.CRCOK != nil && !*line.CRCOK
	line.Repeat = d.follow(m, p, damaged)
	line.Objects = d.objects(p)
	d.checkPosition(p, line)
	d.text = d.appendText(d.text[:0], p, line)
	d.text = appendFate(d.text, m.Status, line.Repeat)
	line.Text = string(d.text)
}

// checkPosition tells of a Request for what is not on offer.
func (d *Decoder) checkPosition(p pd.Message, line *Line) {
	if p.Type() != pd.Request || len(line.Objects) == 0 || d.offers.Len() == 0 {
		return
	}
	position := pd.RDO(line.Objects[0].Raw).PositionFor(d.revision)
	if _, ok := d.offers.At(position); !ok {
		line.Problems = append(line.Problems, fmt.Sprintf("asks for object %d of an offer of %d", position, d.offers.Len()))
	}
}

// follow keeps the context and reports a repeat. A damaged or discarded
// message tells nothing that can be relied on.
func (d *Decoder) follow(m *captures.Message, p pd.Message, damaged bool) bool {
	if m.Status == captures.Discarded {
		return false
	}
	from := CableEnd(p.Header)
	if p.Type() == pd.GoodCRC {
		if p.Set == pd.SOP {
			from = d.speakers.From(p)
		}
		d.repeats.Acknowledge(p.Set, other(from), p.Header.MessageID())
		return false
	}
	if p.Set == pd.SOP && !damaged {
		from = d.speakers.From(p)
	}
	again := d.repeats.See(m, from, End(m))
	if damaged || p.Set != pd.SOP {
		return again
	}
	switch p.Type() {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		if from == pd.Source {
			d.offers.Take(p)
		}
		d.revision = p.Header.Revision()
	case pd.Request, pd.EPRRequest:
		if d.revision == 0 || p.Header.Revision() < d.revision {
			d.revision = p.Header.Revision()
		}
	}
	return again
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
	body := m.Bytes
	if len(body) >= headerBytes {
		body = body[headerBytes:]
	}
	bits := pd.Message{Set: m.Set, Body: body}.LineBits()
	_, nominal, _ := pd.AirTime(bits)
	return nominal
}
