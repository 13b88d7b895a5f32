package captures

import (
	"errors"
	"fmt"
	"strings"
	"time"

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
	rows    rowReader
	columns messageColumns
	comma   bool
	message Message
	bytes   []byte
	last    time.Duration
	begun   bool
}

func newMessageSource(lines *lineReader, h header) *messageSource {
	return &messageSource{
		rows:    rowReader{lines: lines, delimiter: h.delimiter},
		columns: h.fields,
		comma:   h.delimiter != ',',
	}
}

// next gives the next usable row.
func (m *messageSource) next(stats *Stats) (Record, error) {
	for {
		_, err := m.rows.next()
		if errors.Is(err, errLineTooLong) {
			stats.skip(m.rows.lines.line, "a line of more than %d bytes", maxLine)
			continue
		}
		if err != nil {
			return Record{}, err
		}
		if err := m.row(stats); err != nil {
			stats.skip(m.rows.line, "%v", err)
			continue
		}
		return Record{Message: &m.message}, nil
	}
}

// row reads one row; an error means that it cannot be used.
func (m *messageSource) row(stats *Stats) error {
	c := m.columns
	if cells := m.rows.cells; len(cells) > c.count+1 || len(cells) == c.count+1 && len(cells[c.count]) > 0 {
		return fmt.Errorf("expected %d cells, found %d", c.count, len(cells))
	}
	at, err := m.time(c.time)
	if err != nil {
		return err
	}
	if m.begun && at < m.last {
		return fmt.Errorf("expected a time of %s or later, found %s: time goes backwards", m.last, at)
	}
	m.message = Message{At: at, Line: m.rows.line}
	if err := m.subject(stats); err != nil {
		return err
	}
	m.last, m.begun = at, true
	if m.message.Marker != NoMarker {
		return nil
	}
	m.end(stats)
	m.crc(stats)
	m.words(stats)
	return nil
}

func (m *messageSource) cell(index int) []byte {
	if index == absent || index >= len(m.rows.cells) {
		return nil
	}
	return m.rows.cells[index]
}

func (m *messageSource) time(index int) (time.Duration, error) {
	cell := m.cell(index)
	d, ok := parseDecimal(cell, m.comma)
	if ok {
		if at, fits := d.duration(0); fits {
			return at, nil
		}
	}
	return 0, fmt.Errorf("expected a time in seconds, found %s", shown(cell))
}

// subject reads the ordered set or marker, and the bytes that go with it.
func (m *messageSource) subject(stats *Stats) error {
	name := m.cell(m.columns.sop)
	for marker := Attach; marker <= VBUSOff; marker++ {
		if string(name) == markerNames[marker] {
			m.message.Marker = marker
			return nil
		}
	}
	set, ok := pd.ParseOrderedSet(string(name))
	if !ok {
		return fmt.Errorf("expected SOP, SOP', SOP'', a debug set, Hard_Reset, Cable_Reset or a marker, found %s", shown(name))
	}
	m.message.Set = set
	raw := m.cell(m.columns.bytes)
	m.bytes, ok = appendHex(m.bytes[:0], raw)
	if !ok || len(m.bytes) > maxMessageBytes {
		return fmt.Errorf("expected bytes in hexadecimal, found %s", shown(raw))
	}
	if set.IsReset() {
		if len(m.bytes) > 0 {
			stats.remark(m.rows.line, m.message.At, "expected no bytes with %s, found %d; they are left out", set, len(m.bytes))
		}
		return nil
	}
	m.message.Bytes = m.bytes
	if _, err := pd.ParseMessage(set, m.bytes); err != nil {
		if errors.Is(err, pd.ErrNoHeader) {
			return fmt.Errorf("expected the two bytes of a header or more, found %s", shown(raw))
		}
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
	b, ok := appendHex(nil, raw)
	if !ok || len(b) != len(m.message.CRC) {
		stats.remark(m.rows.line, m.message.At, "expected four CRC bytes in hexadecimal, found %s; they are left out", shown(raw))
		return
	}
	copy(m.message.CRC[:], b)
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
