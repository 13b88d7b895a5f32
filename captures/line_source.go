package captures

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"portside/captures/line"
)

// LineDecoder turns the events of the CC line into messages. What they mean
// is decided above this package, so whoever opens a recording gives it one.
type LineDecoder interface {
	// Add takes the next events, and Finish says that there are no more.
	Add(events []line.Event)
	Finish()
	// Next gives the next message, in the order of time; nil where none is
	// ready. It is good until the next call.
	Next() *Message
	// Settled is the time up to which all messages were ready.
	Settled() time.Duration
	// Unread tells what was on the line and is no message, since the last call.
	Unread() []Problem
}

// eventsAtOnce are read before messages are looked for.
const eventsAtOnce = 4096

// lineSource reads a recording of the CC line, and of VBUS on the same clock.
type lineSource struct {
	reader  line.Reader
	decoder LineDecoder
	events  []line.Event
	meter   lineMeter
	message *Message // ready, and not given yet
	told    int      // problems of the reader so far
	late    int      // events beyond MaxTime
	begun   bool
	ended   error
}

// isDump tells a Value Change Dump by the command it begins with.
func isDump(raw *bufio.Reader) bool {
	const most = 512
	peekHead(raw)
	start, _ := raw.Peek(min(raw.Buffered(), most))
	start = bytes.TrimLeft(bytes.TrimPrefix(start, []byte{0xef, 0xbb, 0xbf}), " \t\r\n")
	return slices.ContainsFunc(dumpCommands, func(c string) bool {
		rest, ok := bytes.CutPrefix(start, []byte(c))
		return ok && (len(rest) == 0 || rest[0] <= ' ')
	})
}

// dumpCommands are the declarations of IEEE 1364-2005, clause 18.2.3.
var dumpCommands = []string{"$date", "$version", "$timescale", "$comment", "$scope", "$var", "$upscope", "$enddefinitions", "$dumpvars"}

// openDump opens a Value Change Dump.
func openDump(path string, src io.Reader, o Options) (*Input, error) {
	reader, err := line.NewVCD(src, line.Options{Signal: o.Signal, RateHz: o.RateHz})
	if err != nil {
		return nil, unusableLine(path, err)
	}
	return newLineInput(path, reader, true, o)
}

// openRows opens a delimited text whose header was found.
func openRows(path string, lines *lineReader, h header, o Options) (*Input, error) {
	rest := io.MultiReader(bytes.NewReader(lines.buf[lines.start:lines.end]), &endedReader{lines})
	layout := h.layout
	layout.Line = lines.line
	reader, err := line.NewCSV(rest, layout, line.Options{RateHz: o.RateHz})
	if err != nil {
		return nil, unusableLine(path, err)
	}
	in, err := newLineInput(path, reader, false, o)
	if in != nil {
		in.stats.Notes = append(in.stats.Notes, h.notes...)
	}
	return in, err
}

// endedReader reads on where the lines left off.
type endedReader struct{ lines *lineReader }

func (e *endedReader) Read(p []byte) (int, error) {
	if e.lines.err != nil {
		return 0, e.lines.err
	}
	n, err := e.lines.src.Read(p)
	e.lines.err = err
	return n, err
}

func unusableLine(path string, err error) error {
	e := &UnusableError{File: path, Offset: -1, Expected: "a recording of the CC line", Err: err}
	var unusable *line.UnusableError
	if errors.As(err, &unusable) {
		e.Line, e.Expected, e.Found, e.Hint = unusable.Line, unusable.Expected, unusable.Found, unusable.Hint
	} else {
		e.Found = causeWords(err)
	}
	return e
}

func newLineInput(path string, reader line.Reader, changes bool, o Options) (*Input, error) {
	signals := reader.Signals()
	s := &lineSource{reader: reader, decoder: unheard{}, events: make([]line.Event, eventsAtOnce), meter: newLineMeter(signals, changes)}
	if o.As == KindMessages {
		s.meter = newLineMeter(nil, changes)
	}
	in := &Input{stats: Stats{Path: path, Kind: KindLine, Messages: o.As != KindMeter, Samples: s.meter.present()}, source: s}
	switch {
	case o.As == KindMeter && !s.meter.present():
		return nil, &UnusableError{File: path, Offset: -1, Expected: "a meter log: real signals named vbus and ibus", Found: "the CC line alone"}
	case o.As == KindMeter:
		return in, nil
	case o.Line == nil:
		return nil, &UnusableError{File: path, Offset: 0, Expected: "a meter log or a list of messages", Found: "a recording of the CC line"}
	}
	s.decoder = o.Line(signals)
	in.stats.Notes = append(in.stats.Notes, noteOf(signals))
	return in, nil
}

// unheard makes no messages of a line whose meter alone is wanted.
type unheard struct{}

func (unheard) Add([]line.Event)       {}
func (unheard) Finish()                {}
func (unheard) Next() *Message         { return nil }
func (unheard) Settled() time.Duration { return math.MaxInt64 }
func (unheard) Unread() []Problem      { return nil }

// noteOf tells which signals were taken, so that a wrong guess is seen.
func noteOf(signals []line.Signal) string {
	const most = 8
	text, n := "signals taken as CC:", 0
	for _, s := range signals {
		if s.Kind != line.CC {
			continue
		}
		if n++; n <= most {
			text += fmt.Sprintf(" %q", s.Name)
		}
	}
	if n > most {
		text += fmt.Sprintf(" and %d more", n-most)
	}
	return text
}

// next gives the next message or sample.
func (s *lineSource) next(stats *Stats) (Record, error) {
	for {
		if s.message == nil {
			s.message = s.decoder.Next()
		}
		sample := s.meter.head(s.ended != nil, s.decoder.Settled())
		switch {
		case sample != nil && (s.message == nil || sample.At < s.message.At):
			return Record{Sample: s.meter.take()}, nil
		case s.message != nil:
			m := s.message
			s.message = nil
			return Record{Message: m}, nil
		case s.ended != nil:
			return Record{}, s.ended
		}
		s.read(stats)
	}
}

// read takes the next events.
func (s *lineSource) read(stats *Stats) {
	n, err := s.reader.Read(s.events)
	events := s.events[:n]
	for i := range events {
		if e := &events[i]; e.At > MaxTime || e.At < -MaxTime {
			s.late += len(events) - i
			stats.skip(Problem{}, "expected a time within %.0f seconds, found %s; what follows is left out", MaxTime.Seconds(), e.At)
			events, err = events[:i], io.EOF
			break
		}
	}
	if len(events) > 0 && !s.begun {
		s.begun, stats.Start = true, events[0].At
	}
	for i := range events {
		stats.End = events[i].At
		s.meter.add(&events[i])
	}
	s.decoder.Add(events)
	if err != nil {
		s.ended = err
		s.decoder.Finish()
		s.meter.finish()
	}
	s.tell(stats)
}

// tell brings the statistics up to date.
func (s *lineSource) tell(stats *Stats) {
	r := s.reader.Stats()
	stats.Records, stats.Skipped = r.Records, r.Skipped+s.late
	for _, p := range r.Problems[s.told:] {
		stats.problem(Problem{Line: p.Line}, "%s", p.Text)
	}
	s.told = len(r.Problems)
	for _, p := range s.decoder.Unread() {
		stats.problem(p, "%s", p.Text)
	}
	for _, note := range r.Notes {
		if !slices.Contains(stats.Notes, note) {
			stats.Notes = append(stats.Notes, note)
		}
	}
}

// lineMeter makes samples of the events of VBUS and its current.
type lineMeter struct {
	volts, amps int  // signals, or absent
	changes     bool // a value stands until the next one: there are no samples between
	now         Sample
	open        bool // now is not whole yet
	begun       bool // there is a last one
	last        time.Duration
	interval    time.Duration // the shortest between samples
	queue       []Sample
	first       int    // of the queue
	given       Sample // last
}

func newLineMeter(signals []line.Signal, changes bool) lineMeter {
	m := lineMeter{volts: absent, amps: absent, changes: changes, interval: math.MaxInt64}
	nan := math.NaN()
	m.now = Sample{Volts: nan, Amps: nan, CC: [2]float64{nan, nan}}
	for i, s := range signals {
		switch s.Kind {
		case line.VBUS:
			m.volts = i
		case line.IBUS:
			m.amps = i
		case line.CC:
		}
	}
	return m
}

func (m *lineMeter) present() bool { return m.volts != absent || m.amps != absent }

func (m *lineMeter) add(e *line.Event) {
	isVolts := int(e.Signal) == m.volts
	if !isVolts && int(e.Signal) != m.amps {
		return
	}
	if m.open && e.At != m.now.At {
		m.close()
	}
	if !m.open {
		m.hold(e.At)
	}
	m.now.At, m.open = e.At, true
	if isVolts {
		m.now.Volts = e.Value
	} else {
		m.now.Amps = e.Value
	}
}

// hold repeats the values that stood until just before a change.
func (m *lineMeter) hold(at time.Duration) {
	if !m.begun || !m.changes {
		return
	}
	d := at - m.last
	m.interval = min(m.interval, d)
	if d > m.interval+m.interval/2 {
		held := m.now
		held.At = at - m.interval
		m.queue = append(m.queue, held)
	}
}

func (m *lineMeter) close() {
	m.queue = append(m.queue, m.now)
	m.last = m.now.At
	m.open, m.begun = false, true
}

func (m *lineMeter) finish() {
	if m.open {
		m.close()
	}
}

// head is the first sample that no message can come before; nil where there
// is none yet.
func (m *lineMeter) head(all bool, settled time.Duration) *Sample {
	if m.first == len(m.queue) || !all && m.queue[m.first].At > settled {
		return nil
	}
	return &m.queue[m.first]
}

// take gives that sample, good until the next call.
func (m *lineMeter) take() *Sample {
	m.given = m.queue[m.first]
	m.first++
	if m.first >= eventsAtOnce {
		m.queue = append(m.queue[:0], m.queue[m.first:]...)
		m.first = 0
	}
	return &m.given
}
