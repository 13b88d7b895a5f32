package charger

import (
	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// softwareSpreadS is how far off a stamp is that source or sink took in its own
// software: a received message is stamped 2.1 to 5.0 ms late in recorded logs.
const softwareSpreadS = 0.005

// shortestSoftwareLimitS is the shortest limit held against such stamps.
const shortestSoftwareLimitS = 0.015

// seen is what the recording held so far.
type seen struct {
	messages   int
	samples    int // with a voltage
	currents   int
	levels     int // samples with a CC level
	frames     int
	goodCRCs   int
	observed   int // messages that no side's software stamped
	software   int
	sinkSide   bool // the sink's own recorder
	stamps     grain
	lastS      float64 // the last message
	begun      bool
	decided    bool // whether the recording begins inside is settled
	inside     bool // it begins inside a connection
	fromSource int
	fromSink   int
	damaged    bool // a message since the last good one was damaged
}

// stamp is when a record of the message list began.
func (c *Checker) stamp(m *captures.Message) moment {
	s := &c.seen
	s.stamps.addTime(m.At)
	at := moment{s: message.Seconds(m.At)}
	if s.messages > 0 || s.begun {
		at.s = max(at.s, s.lastS)
	}
	s.lastS, s.begun = at.s, true
	if m.By != captures.SourceItself && m.By != captures.SinkItself {
		s.observed++
		return at
	}
	s.software++
	s.sinkSide = s.sinkSide || m.By == captures.SinkItself
	at.early, at.late, at.software = softwareSpreadS, softwareSpreadS, true
	if m.Marker != captures.NoMarker {
		at.early = 0 // it is noted after it happened
	}
	return at
}

// stampsLate is how much later than it was a message may be stamped: that long VBUS may
// have followed an Accept that the list does not show yet.
func (c *Checker) stampsLate() float64 {
	if c.seen.software == 0 {
		return 0
	}
	return softwareSpreadS + c.seen.stamps.timeStep()
}

// endOf is when the message ended: as recorded, else from its length, which the
// allowed spread of the bit rate makes uncertain.
func endOf(m *captures.Message, p pd.Message, at moment) moment {
	if m.HasEnd && m.End >= m.At {
		at.s += (m.End - m.At).Seconds()
		return at
	}
	shortest, _, longest := pd.AirTime(p.LineBits())
	air := within(shortest.Seconds(), longest.Seconds())
	at.s += air.s
	at.early += air.early
	at.late += air.late
	return at
}

// sentBy sharpens a software stamp: a side's own message is stamped before it goes
// out, the partner's after it came in.
func (m moment) sentBy(from pd.PowerRole, by captures.Recorder) moment {
	if !m.software {
		return m
	}
	if by == captures.SinkItself && from == pd.Sink || by == captures.SourceItself && from == pd.Source {
		m.late -= softwareSpreadS
	} else {
		m.early -= softwareSpreadS
	}
	return m
}
