package negotiation

import (
	"math"
	"time"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// softwareSpreadS is how far off a stamp is that source or sink took in its own
// software: a received message is stamped 2.1 to 5.0 ms late in recorded logs.
const softwareSpreadS = 0.005

// shortestSoftwareLimitS is the shortest limit held against such stamps.
const shortestSoftwareLimitS = 0.015

// How coarse stamps are told: they are all whole multiples of a power of ten.
// Few stamps may be so by chance, so no more than a millisecond is believed of
// them.
const (
	enoughStamps     = 8
	coarsestByChance = time.Millisecond
	coarsest         = time.Second
)

// stamp is a moment in seconds on the clock of the recording, and by how much
// it may be too early or too late, the coarseness of the recorder not counted.
type stamp struct {
	s           float64
	early, late float64
	software    bool // taken by one side's own software
}

// spread is by how much the time from one stamp to another may come out too
// long.
func spread(from, to stamp) float64 { return from.early + to.late }

// sentBy sharpens a software stamp: a side's own message is stamped before it
// goes out, the partner's after it came in.
func (s stamp) sentBy(from pd.PowerRole, m *captures.Message) stamp {
	if !s.software {
		return s
	}
	if m.By == captures.SinkItself && from == pd.Sink || m.By == captures.SourceItself && from == pd.Source {
		s.late = 0
	} else {
		s.early = 0
	}
	return s
}

// clock turns the times of messages into stamps that never run backwards.
type clock struct {
	begun       bool
	first, last float64
	zero        time.Duration // of the first message
	unit        time.Duration // largest power of ten all stamps are multiples of
	different   int           // stamps that differ from the one before
	previous    time.Duration
	software    bool
	sink        bool // the sink's own recorder
}

func (c *clock) at(m *captures.Message) stamp {
	s := message.Seconds(m.At)
	if !c.begun {
		c.begun, c.first, c.last = true, s, s
		c.zero, c.unit, c.previous = m.At, coarsest, m.At
	}
	c.last = max(c.last, s)
	if m.At != c.previous {
		c.different++
		c.previous = m.At
	}
	for c.unit > 1 && (m.At-c.zero)%c.unit != 0 {
		c.unit /= 10
	}
	if m.By != captures.SourceItself && m.By != captures.SinkItself {
		return stamp{s: c.last}
	}
	c.software, c.sink = true, m.By == captures.SinkItself
	at := stamp{s: c.last, early: softwareSpreadS, late: softwareSpreadS, software: true}
	if m.Marker != captures.NoMarker {
		at.early = 0 // it is noted after it happened
	}
	return at
}

// end is when the message ended: as recorded, else from its length, which the
// allowed spread of the bit rate makes uncertain.
func (c *clock) end(m *captures.Message, p pd.Message, at stamp) stamp {
	if m.HasEnd && m.End >= m.At {
		at.s = max(at.s, message.Seconds(m.End))
		return at
	}
	shortest, _, longest := pd.AirTime(p.LineBits())
	at.s += (message.End(m) - m.At).Seconds()
	at.early += (longest - shortest).Seconds() / 2
	at.late += (longest - shortest).Seconds() / 2
	return at
}

// resolution is the coarseness of the stamps in seconds, 0 where unknown.
func (c *clock) resolution() float64 {
	switch {
	case c.different == 0:
		return 0
	case c.different < enoughStamps:
		return min(c.unit, coarsestByChance).Seconds()
	default:
		return c.unit.Seconds()
	}
}

// known gives a pointer to a time, nil for NaN.
func known(s float64) *float64 {
	if math.IsNaN(s) {
		return nil
	}
	return &s
}
