package line

import (
	"math"

	"portside/pd"
)

const (
	// windowNs is the time over which highest and lowest voltage give the
	// threshold: more than the four bits in which the longest low and the
	// longest high of any packet occur at 240 kbit/s, half of it ahead.
	windowNs = 16_000
	// filterNs is the time constant of the input filter where sampling is fast:
	// twice tRxFilter (USB PD R3.2 V1.1, table 5.19), a tenth of the shortest pulse.
	filterNs = 200
	// hysteresis as a part of the swing: above the half of the noise allowed,
	// 165 mVpp on 1.05 V (USB PD R3.2 V1.1, tables 5.18 and 5.19).
	hysteresis = 0.1
	// A pulse is settled some time after its edge, and no pulse is shorter than
	// the end of that.
	settledNs, plateauNs = 600, 1200
	// restNs after the last edge the driver has let go (tEndDriveBMC, 23 us)
	// and Rp has charged the line.
	restNs = 60_000
)

// voltage is one filtered sample.
type voltage struct {
	at    int64
	volts float64
}

// comparator finds the edges in the voltage of a line. The threshold is the
// middle between the highest and the lowest voltage around each sample, since
// the levels differ between the speakers and between frames.
type comparator struct {
	receiver *receiver
	rest     restLevel
	noise    float64 // a smaller swing is an idle line

	interval int64 // the shortest between samples
	raw      voltage
	filtered voltage
	begun    bool

	ahead   []voltage // samples that are not decided yet, from next on
	next    int
	highest extremes
	lowest  extremes

	last      voltage // decided last
	high      bool
	known     bool
	crossedAt int64 // where the threshold was crossed last
	edgeAt    int64
	sum       float64 // of the plateau since the last edge
	count     float64
}

func newComparator(r *receiver) *comparator {
	return &comparator{
		receiver: r, noise: pd.VNoiseIdle.Limits(pd.Revision32).MaxSI(), interval: math.MaxInt64,
		highest: extremes{sign: 1}, lowest: extremes{sign: -1},
	}
}

// take takes the next sample. A voltage holds until the next one, less one
// interval between samples: some recorders write changes only.
func (c *comparator) take(at int64, volts float64) {
	if !c.begun {
		c.begun = true
		c.raw = voltage{at, volts}
		c.filtered = c.raw
		c.push(c.raw)
		return
	}
	d := at - c.raw.at
	if d <= 0 {
		c.raw.volts = volts
		return
	}
	c.interval = min(c.interval, d)
	if held := at - c.interval; 2*d > 3*c.interval {
		c.filter(voltage{held, c.raw.volts})
	}
	c.filter(voltage{at, volts})
	c.raw = voltage{at, volts}
}

func (c *comparator) filter(v voltage) {
	d := float64(v.at - c.filtered.at)
	pass := 1.0
	if d < 2*filterNs {
		pass = 1 - math.Exp(-d/filterNs)
	}
	c.filtered = voltage{v.at, c.filtered.volts + pass*(v.volts-c.filtered.volts)}
	c.push(c.filtered)
}

// push takes a filtered sample and decides those that lie half a window back.
func (c *comparator) push(v voltage) {
	c.ahead = append(c.ahead, v)
	c.highest.push(v)
	c.lowest.push(v)
	for c.next < len(c.ahead) && c.ahead[c.next].at <= v.at-windowNs/2 {
		c.forget(c.ahead[c.next].at - windowNs/2)
		c.decide(c.ahead[c.next])
		c.next++
	}
	const many = 4096
	if c.next >= many {
		c.ahead = c.ahead[:copy(c.ahead, c.ahead[c.next:])]
		c.next = 0
	}
}

func (c *comparator) forget(before int64) {
	c.highest.forget(before)
	c.lowest.forget(before)
}

// finish decides what is left.
func (c *comparator) finish() {
	for ; c.next < len(c.ahead); c.next++ {
		c.forget(c.ahead[c.next].at - windowNs/2)
		c.decide(c.ahead[c.next])
	}
	c.rest.end()
	c.ahead, c.next, c.begun, c.known = c.ahead[:0], 0, false, false
	c.highest.values, c.lowest.values = c.highest.values[:0], c.lowest.values[:0]
	c.highest.first, c.lowest.first = 0, 0
}

func (c *comparator) decide(v voltage) {
	top, bottom := c.highest.value(), c.lowest.value()
	swing := top - bottom
	threshold := (top + bottom) / 2
	switch {
	case swing < c.noise:
		if v.at-c.edgeAt >= restNs || !c.known {
			c.rest.add(v)
		}
	case !c.known:
		c.known, c.high, c.edgeAt = true, v.volts > threshold, v.at
	default:
		c.compare(v, threshold, hysteresis*swing)
	}
	c.last = v
}

// compare looks for an edge between the sample before and this one.
func (c *comparator) compare(v voltage, threshold, margin float64) {
	before := c.last
	if (before.volts < threshold) != (v.volts < threshold) {
		part := (threshold - before.volts) / (v.volts - before.volts)
		c.crossedAt = before.at + int64(math.Round(part*float64(v.at-before.at)))
	}
	if c.high && v.volts < threshold-margin || !c.high && v.volts > threshold+margin {
		at := c.crossedAt
		if at <= c.edgeAt { // the threshold moved, not the line
			at = v.at
		}
		c.high = !c.high
		c.edgeAt = at
		c.rest.end()
		c.receiver.edge(at, c.high, plateau{float32(c.sum / c.count)})
		c.sum, c.count = 0, 0
		return
	}
	if age := v.at - c.edgeAt; age >= settledNs && age <= plateauNs {
		c.sum += v.volts
		c.count++
	}
}

// extremes keeps the highest (sign 1) or lowest (sign -1) of a sliding window
// as a queue in falling order.
type extremes struct {
	sign   float64
	values []voltage
	first  int
}

func (e *extremes) push(v voltage) {
	n := len(e.values)
	for n > e.first && (e.values[n-1].volts-v.volts)*e.sign <= 0 {
		n--
	}
	e.values = append(e.values[:n], v)
}

func (e *extremes) forget(before int64) {
	for e.first < len(e.values)-1 && e.values[e.first].at < before {
		e.first++
	}
	const many = 4096
	if e.first >= many {
		e.values = e.values[:copy(e.values, e.values[e.first:])]
		e.first = 0
	}
}

func (e *extremes) value() float64 { return e.values[e.first].volts }
