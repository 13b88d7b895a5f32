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

// stamp is a moment in seconds on the clock of the recording, and how far the
// true one may lie from it, the coarseness of the recorder not counted.
type stamp struct {
	s, u float64
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
	return stamp{c.last, c.spread(m)}
}

func (c *clock) spread(m *captures.Message) float64 {
	if m.By != captures.SourceItself && m.By != captures.SinkItself {
		return 0
	}
	c.software, c.sink = true, m.By == captures.SinkItself
	return softwareSpreadS
}

// end is when the message ended: as recorded, else from its length, which the
// allowed spread of the bit rate makes uncertain.
func (c *clock) end(m *captures.Message, p pd.Message, at stamp) stamp {
	if m.HasEnd && m.End >= m.At {
		return stamp{max(at.s, message.Seconds(m.End)), at.u}
	}
	shortest, _, longest := pd.AirTime(p.LineBits())
	return stamp{at.s + (message.End(m) - m.At).Seconds(), at.u + (longest-shortest).Seconds()/2}
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
