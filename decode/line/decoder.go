package line

import (
	"cmp"
	"math"
	"slices"
	"time"

	"portside/captures/line"
)

// Decoder takes the events of a recording of one or several CC lines and
// gives the frames on them, in the order of time. Its memory does not grow
// with the recording. It is not safe for concurrent use.
type Decoder struct {
	channels []*channel // by signal; nil where it is no CC line
	now      int64
	settled  int64
	until    time.Duration // frames that begin later are left out
	emit     func(*Frame)
	waiting  []*Frame // of several lines, until all of them have come as far
	given    *Frame   // the good frame given last
	signals  []line.Signal
	health   *health
}

// channel is one signal that may be CC.
type channel struct {
	receiver   *receiver
	comparator *comparator
	level      line.Level // Unknown at the start and while nothing is known
	unknown    int64      // since when it is not, where known was true before
	lost       bool       // the level became unknown, and the receiver was not told yet
	good       int        // frames
	seen       bool       // anything, since first
	first      int64
	highNs     int64 // at the high level until since
	since      int64
	grid       grid
}

// NewDecoder returns a decoder for the signals of a recording. emit is called
// for each frame as soon as it is known.
func NewDecoder(signals []line.Signal, emit func(*Frame)) *Decoder {
	d := &Decoder{emit: emit, until: math.MaxInt64, signals: signals, health: newHealth()}
	for i, s := range signals {
		var c *channel
		if s.Kind == line.CC {
			c = &channel{receiver: newReceiver(i, d.wait)}
			c.comparator = newComparator(c.receiver)
			c.receiver.rest = &c.comparator.rest
		}
		d.channels = append(d.channels, c)
	}
	return d
}

// Pictures has every frame from now on keep its bits.
func (d *Decoder) Pictures() {
	for _, c := range d.channels {
		if c != nil {
			c.receiver.pictures = true
		}
	}
}

// Add takes the next events. Those of other signals than CC are passed over.
func (d *Decoder) Add(events []line.Event) {
	for i := range events {
		e := &events[i]
		d.now = int64(e.At)
		if int(e.Signal) < len(d.channels) && d.channels[e.Signal] != nil {
			d.channels[e.Signal].take(e)
		}
	}
	settled := int64(math.MaxInt64)
	for _, c := range d.channels {
		if c != nil {
			settled = min(settled, c.tick(d.now))
		}
	}
	d.settled = settled
	if d.settled == math.MaxInt64 {
		d.settled = d.now // no line is followed
	}
	d.give(settled)
	if len(d.waiting) > 0 {
		d.settled = min(d.settled, int64(d.waiting[0].Start))
	}
}

// Settled is the time up to which every frame was given.
func (d *Decoder) Settled() time.Duration { return time.Duration(d.settled) }

// Finish says that the recording is over.
func (d *Decoder) Finish() {
	for _, c := range d.channels {
		if c != nil {
			c.cut(d.now)
		}
	}
	d.give(math.MaxInt64)
	d.health.expire(time.Duration(d.now))
}

// wait keeps a frame until every line has come as far.
func (d *Decoder) wait(f *Frame) { d.waiting = append(d.waiting, f) }

// give hands out the frames that end before a time, the first first. One that
// was seen on two lines at once is given once.
func (d *Decoder) give(until int64) {
	if len(d.waiting) == 0 {
		return
	}
	slices.SortStableFunc(d.waiting, func(a, b *Frame) int { return cmp.Compare(a.Start, b.Start) })
	var kept []*Frame
	for i, f := range d.waiting {
		switch {
		case int64(f.End) > until:
			kept = append(kept, f)
		case f.Start > d.until:
		case !d.shadowed(i):
			if f.Good {
				d.channels[f.Signal].good++
				d.given = f
			}
			d.health.add(f)
			d.emit(f)
		}
	}
	d.waiting = kept
}

// shadowed reports whether another line shows the same time better: crosstalk
// to the other pin, or two probes on one line.
func (d *Decoder) shadowed(i int) bool {
	f := d.waiting[i]
	if d.given != nil && f.sameTime(d.given) {
		return true
	}
	for k, o := range d.waiting {
		if !f.sameTime(o) {
			continue
		}
		fresh, other := d.channels[f.Signal].good, d.channels[o.Signal].good
		switch {
		case f.Good != o.Good:
			if o.Good {
				return true
			}
		case fresh != other:
			if other > fresh {
				return true
			}
		case k < i:
			return true
		}
	}
	return false
}

// sameTime reports whether another line was busy with the same.
func (f *Frame) sameTime(o *Frame) bool {
	return f.Signal != o.Signal && min(f.End, o.End)-max(f.Start, o.Start) >= (f.End-f.Start)/2
}

func (c *channel) take(e *line.Event) {
	if !c.seen {
		c.seen, c.first, c.since = true, int64(e.At), int64(e.At)
	}
	switch e.Level {
	case line.Low, line.High:
		if e.Level != c.level {
			c.grid.add(int64(e.At))
		}
		c.digital(int64(e.At), e.Level)
	case line.Voltage:
		if c.lost {
			c.cut(c.unknown)
		}
		c.comparator.take(int64(e.At), e.Value)
	case line.Unknown:
		if !c.lost && (c.level != line.Unknown || c.comparator.begun) {
			c.lost, c.unknown = true, int64(e.At)
		}
	case line.Released: // quiet: the level stays
	}
}

func (c *channel) digital(at int64, level line.Level) {
	if c.lost {
		at = c.found(at)
	}
	if level == c.level {
		return
	}
	if c.level == line.High {
		c.highNs += at - c.since
	}
	c.since = at
	if c.level != line.Unknown {
		c.receiver.edge(at, level == line.High, plateau{float32(math.NaN())})
	}
	c.level = level
}

// found ends a time of unknown level. A short one is an edge in its middle,
// a long one a gap in the recording.
func (c *channel) found(at int64) int64 {
	if at-c.unknown < unknownIsGap {
		c.lost = false
		return (at + c.unknown) / 2
	}
	c.cut(c.unknown)
	return at
}

// cut says that nothing is known from at on.
func (c *channel) cut(at int64) {
	c.comparator.finish()
	c.receiver.cut(at)
	if c.level == line.High {
		c.highNs += at - c.since
	}
	c.level, c.lost = line.Unknown, false
}

// tick says how late it is, and gets the time up to which all frames are known.
func (c *channel) tick(now int64) int64 {
	switch {
	case !c.lost:
		if c.comparator.begun {
			now = c.comparator.last.at
		}
		c.receiver.tick(now)
	case now-c.unknown >= unknownIsGap:
		c.cut(c.unknown)
	}
	return c.receiver.settled(now)
}
