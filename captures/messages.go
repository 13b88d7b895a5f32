package captures

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"portside/captures/delimited"
	"portside/pd"
)

// maxMessageBytes is more than any packet carries: a header, an extended
// header and 260 bytes of data (USB PD R3.2 V1.1 table 6.84).
const maxMessageBytes = 512

// messageColumns are where the fields of a message list stand.
type messageColumns struct {
	time, sop, bytes         int
	end, crc, status, author int
	count                    int
}

// messageHeader takes a row as the header of a message list.
func messageHeader(names []string) (messageColumns, bool) {
	c := messageColumns{absent, absent, absent, absent, absent, absent, absent, len(names)}
	slots := map[string]*int{
		"time_s": &c.time, "sop": &c.sop, "bytes": &c.bytes,
		"end_s": &c.end, "crc": &c.crc, "status": &c.status, "by": &c.author,
	}
	for i, name := range names {
		if slot := slots[strings.ToLower(strings.TrimSpace(name))]; slot != nil && *slot == absent {
			*slot = i
		}
	}
	return c, c.time != absent && c.sop != absent && c.bytes != absent
}

// messageSource reads the rows of a message list.
type messageSource struct {
	rows     rowReader
	columns  messageColumns
	comma    bool
	message  Message
	bytes    []byte // of the message, reused
	crcBytes []byte // reused
	last     time.Duration
	begun    bool
}

func newMessageSource(lines *lineReader, h header) *messageSource {
	m := &messageSource{columns: h.fields, comma: h.comma()}
	m.rows = rowReader{lines: lines, delimiter: h.delimiter, sound: m.sound}
	return m
}

// sound reports cells that are a row of the list.
func (m *messageSource) sound(cells [][]byte) bool {
	if m.tooMany(cells) || m.columns.time >= len(cells) || m.columns.sop >= len(cells) {
		return false
	}
	_, isTime := delimited.ParseDecimal(cells[m.columns.time], m.comma)
	name := string(cells[m.columns.sop])
	_, isSet := pd.ParseOrderedSet(name)
	return isTime && (isSet || markerOf(name) != NoMarker)
}

func (m *messageSource) tooMany(cells [][]byte) bool {
	n := m.columns.count
	return len(cells) > n+1 || len(cells) == n+1 && len(cells[n]) > 0
}

// next gives the next usable row.
func (m *messageSource) next(stats *Stats) (Record, error) {
	for {
		err := m.rows.next()
		if errors.Is(err, errLineTooLong) {
			stats.skip(Problem{Line: m.rows.lines.line}, "a line of more than %d bytes", maxLine)
			continue
		}
		if err != nil {
			return Record{}, err
		}
		if m.row(stats) {
			return Record{Message: &m.message}, nil
		}
	}
}

// row reads one row. A row that cannot be used is counted.
func (m *messageSource) row(stats *Stats) bool {
	where := Problem{Line: m.rows.line}
	at, err := m.time(m.columns.time)
	if err == nil {
		where.At, where.HasAt = at, true
		m.message = Message{At: at, Line: m.rows.line}
		err = m.needed(stats)
	}
	if err != nil {
		stats.skip(where, "%v", err)
		return false
	}
	m.last, m.begun = at, true
	if m.message.Marker == NoMarker {
		m.end(stats)
		m.crc(stats)
		m.words(stats)
	}
	return true
}

// needed reads what a row must have behind its time.
func (m *messageSource) needed(stats *Stats) error {
	if m.tooMany(m.rows.cells) {
		return fmt.Errorf("expected %d cells, found %d", m.columns.count, len(m.rows.cells))
	}
	if m.begun && m.message.At < m.last {
		return fmt.Errorf("expected a time of %s or later, found %s: time goes backwards", m.last, m.message.At)
	}
	return m.subject(stats)
}

func (m *messageSource) cell(index int) []byte {
	if index == absent || index >= len(m.rows.cells) {
		return nil
	}
	return m.rows.cells[index]
}

func (m *messageSource) time(index int) (time.Duration, error) {
	cell := m.cell(index)
	d, ok := delimited.ParseDecimal(cell, m.comma)
	if ok {
		if at, fits := d.Duration(0, false); fits {
			return at, nil
		}
	}
	return 0, fmt.Errorf("expected a time in seconds, found %s", shown(cell))
}

// markerOf finds the marker of a name; NoMarker where it is none.
func markerOf(name string) Marker {
	for marker := Attach; marker <= VBUSOff; marker++ {
		if markerNames[marker] == name {
			return marker
		}
	}
	return NoMarker
}

// subject reads the ordered set or marker, and the bytes that go with it.
func (m *messageSource) subject(stats *Stats) error {
	name := m.cell(m.columns.sop)
	m.message.Marker = markerOf(string(name))
	set, isSet := pd.ParseOrderedSet(string(name))
	if !isSet && m.message.Marker == NoMarker {
		return fmt.Errorf("expected SOP, SOP', SOP'', a debug set, Hard_Reset, Cable_Reset or a marker, found %s", shown(name))
	}
	raw := m.cell(m.columns.bytes)
	if m.message.Marker != NoMarker || set.IsReset() {
		m.message.Set = set
		if len(raw) > 0 {
			stats.remark(m.rows.line, m.message.At, "expected no bytes with %s, found %s; they are left out", name, shown(raw))
		}
		return nil
	}
	return m.packet(stats, set, raw)
}

// packet reads the bytes of a message. What a header announces and nobody sent
// is told; the message is kept with what is whole.
func (m *messageSource) packet(stats *Stats, set pd.OrderedSet, raw []byte) error {
	var ok bool
	if m.bytes, ok = appendHex(m.bytes[:0], raw); !ok {
		return fmt.Errorf("expected bytes in hexadecimal, found %s", shown(raw))
	}
	if len(m.bytes) > maxMessageBytes {
		return fmt.Errorf("expected at most %d bytes, found %d", maxMessageBytes, len(m.bytes))
	}
	m.message.Set, m.message.Bytes = set, m.bytes
	_, err := pd.ParseMessage(set, m.bytes)
	if errors.Is(err, pd.ErrNoHeader) {
		return fmt.Errorf("expected the two bytes of a header or more, found %s", shown(raw))
	}
	if err != nil {
		stats.remark(m.rows.line, m.message.At, "%v", err)
	}
	return nil
}

func (m *messageSource) end(stats *Stats) {
	if len(m.cell(m.columns.end)) == 0 {
		return
	}
	end, err := m.time(m.columns.end)
	if err != nil || end < m.message.At {
		stats.remark(m.rows.line, m.message.At, "expected an end_s after time_s, found %s; it is left out", shown(m.cell(m.columns.end)))
		return
	}
	m.message.End, m.message.HasEnd = end, true
}

func (m *messageSource) crc(stats *Stats) {
	raw := m.cell(m.columns.crc)
	if len(raw) == 0 {
		return
	}
	var ok bool
	if m.crcBytes, ok = appendHex(m.crcBytes[:0], raw); !ok || len(m.crcBytes) != len(m.message.CRC) {
		stats.remark(m.rows.line, m.message.At, "expected four CRC bytes in hexadecimal, found %s; they are left out", shown(raw))
		return
	}
	copy(m.message.CRC[:], m.crcBytes)
	m.message.HasCRC = true
}

func (m *messageSource) words(stats *Stats) {
	switch word := m.cell(m.columns.status); string(word) {
	case "":
	case "unacknowledged":
		m.message.Status = Unacknowledged
	case "discarded":
		m.message.Status = Discarded
	default:
		stats.remark(m.rows.line, m.message.At, "expected the status unacknowledged or discarded, found %s; it is left out", shown(word))
	}
	switch word := m.cell(m.columns.author); string(word) {
	case "":
	case "observer":
		m.message.By = Observer
	case "source":
		m.message.By = SourceItself
	case "sink":
		m.message.By = SinkItself
	default:
		stats.remark(m.rows.line, m.message.At, "expected by to be observer, source or sink, found %s; it is left out", shown(word))
	}
}

// appendHex reads pairs of hexadecimal digits, blanks between them allowed.
func appendHex(b, text []byte) ([]byte, bool) {
	high, half := byte(0), false
	for _, c := range text {
		if c == ' ' || c == '\t' {
			continue
		}
		digit, ok := hexDigit(c)
		if !ok {
			return b, false
		}
		if half = !half; half {
			high = digit
			continue
		}
		b = append(b, high<<4|digit)
	}
	return b, !half
}

func hexDigit(c byte) (byte, bool) {
	switch {
	case c >= '0' && c <= '9':
		return c - '0', true
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10, true
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10, true
	}
	return 0, false
}
