package line

import (
	"math"

	"portside/pd"
)

const (
	// windowNs is the time in which a frame shows both of its levels: two bits
	// at 240 kbit/s, and slow edges.
	windowNs = 9_000
	// filterNs is the time constant of the input filter where sampling is fast:
	// twice tRxFilter (USB PD R3.2 V1.1, table 5.19), a tenth of the shortest pulse.
	filterNs = 200
	// filterReach ns after the sample before, that one is forgotten.
	filterReach = 2 * filterNs
	// hysteresis as a part of the swing: above the half of the noise allowed,
	// 165 mVpp on 1.05 V (USB PD R3.2 V1.1, tables 5.18 and 5.19).
	hysteresis = 0.1
	// timesQuietest is how much more than the quietest window a busy one shows. The
	// swings of windows of noise differ less: some twenty independent samples each.
	timesQuietest = 3
	// quietNs hold a rest: the longest message, of 2769 bits, is over.
	quietNs = 11_000_000
	// The level of a pulse is taken from whole bits only, between these times
	// after its edge: half a bit is shorter, a bit longer.
	settledNs, plateauNs = 1900, 2600
	// restNs after the last edge the driver has let go (tEndDriveBMC, 23 us)
	// and Rp has charged the line.
	restNs = 60_000
)

// voltage is one filtered sample.
type voltage struct {
	at    int64
	volts float64
}

// sample is one that waits for those after it.
type sample struct {
	voltage
	top, bottom float64 // of the window that begins with it
}

// comparator finds the edges in the voltage of a line. The threshold is the
// middle between the highest and the lowest voltage just before or just after
// each sample, whichever is more like the swing of a frame: the levels differ
// between the speakers, and the line rests at a third one, often above both.
type comparator struct {
	receiver *receiver
	rest     restLevel
	noise    float64 // a smaller swing is an idle line, whatever the noise
	quiet    quietest
	swing    float64 // of a frame

	interval int64 // the shortest between samples, that two in a row kept
	apart    int64 // between the last two
	raw      voltage
	filtered voltage
	passes   [filterReach]float64 // of the input filter, by the time since the sample before
	begun    bool
	used     bool // at any time

	around  []sample // whose windows still count
	next    int      // the first of them that is not decided
	past    int      // the one whose window ends with next
	highest extremes
	lowest  extremes

	last      voltage // decided last
	high      bool
	known     bool
	above     bool  // the threshold
	crossedAt int64 // since when
	edgeAt    int64
	sum       float64 // of the plateau since the last edge
	count     float64
}

func newComparator(r *receiver) *comparator {
	c := &comparator{
		receiver: r, interval: math.MaxInt64, apart: math.MaxInt64,
		noise: pd.VNoiseIdle.Limits(pd.Revision32).MaxSI(), swing: pd.VSwing.Limits(pd.Revision32).NomSI(),
		highest: extremes{sign: 1}, lowest: extremes{sign: -1},
	}
	for d := range c.passes {
		c.passes[d] = 1 - math.Exp(-float64(d)/filterNs)
	}
	c.quiet.clear()
	return c
}

// take takes the next sample. A voltage holds until the next one, less one
// interval between samples: some recorders write changes only.
func (c *comparator) take(at int64, volts float64) {
	if !c.begun {
		c.begun, c.used = true, true
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
	c.interval = min(c.interval, max(d, c.apart))
	c.apart = d
	if d-c.interval > c.interval/2 {
		c.filter(voltage{at - c.interval, c.raw.volts})
	}
	c.filter(voltage{at, volts})
	c.raw = voltage{at, volts}
}

func (c *comparator) filter(v voltage) {
	pass := 1.0
	if d := v.at - c.filtered.at; d < filterReach {
		pass = c.passes[d]
	}
	c.filtered = voltage{v.at, c.filtered.volts + pass*(v.volts-c.filtered.volts)}
	c.push(c.filtered)
}

// push takes a filtered sample and decides those that lie a window back.
func (c *comparator) push(v voltage) {
	c.around = append(c.around, sample{voltage: v})
	c.highest.push(v)
	c.lowest.push(v)
	for c.around[c.next].at <= v.at-windowNs {
		c.decide()
	}
	if c.past >= manyKept {
		c.around = c.around[:copy(c.around, c.around[c.past:])]
		c.next -= c.past
		c.past = 0
	}
}

// manyKept samples are dropped at once.
const manyKept = 4096

// finish decides what is left, before a gap.
func (c *comparator) finish() {
	for c.next < len(c.around) {
		c.decide()
	}
	c.rest.end()
	c.around, c.next, c.past, c.begun, c.known = c.around[:0], 0, 0, false, false
	c.highest.clear()
	c.lowest.clear()
	c.quiet.clear()
}

// decide takes the next sample with the windows before and behind it.
func (c *comparator) decide() {
	v := &c.around[c.next]
	c.highest.forget(v.at)
	c.lowest.forget(v.at)
	v.top, v.bottom = c.highest.value(), c.lowest.value()
	c.quiet.add(v.at, v.top-v.bottom)
	for c.around[c.past].at < v.at-windowNs {
		c.past++
	}
	w := &c.around[c.past]
	if math.Abs(v.top-v.bottom-c.swing) < math.Abs(w.top-w.bottom-c.swing) {
		w = v
	}
	switch {
	case !c.busy(w):
		if v.at-c.edgeAt >= restNs || !c.known {
			c.rest.add(v.voltage)
		}
	case !c.known:
		c.known, c.high, c.edgeAt = true, v.volts >= (w.top+w.bottom)/2, v.at
		c.above = c.high
	default:
		c.compare(v.voltage, (w.top+w.bottom)/2, hysteresis*(w.top-w.bottom))
	}
	c.last = v.voltage
	c.next++
}

// busy reports a window with more in it than noise. Until the line was seen at
// rest, half the swing of a frame will do.
func (c *comparator) busy(s *sample) bool {
	return s.top-s.bottom >= max(c.noise, min(timesQuietest*c.quiet.value(), c.swing/2))
}

// compare looks for an edge between the sample before and this one.
func (c *comparator) compare(v voltage, threshold, margin float64) {
	if above := v.volts >= threshold; above != c.above {
		c.above, c.crossedAt = above, c.crossing(v, threshold)
	}
	if c.high && v.volts < threshold-margin || !c.high && v.volts > threshold+margin {
		c.high = !c.high
		c.edgeAt = c.crossedAt
		c.rest.end()
		c.receiver.edge(c.edgeAt, c.high, plateau{float32(c.sum / c.count)})
		c.sum, c.count = 0, 0
		return
	}
	if age := v.at - c.edgeAt; age >= settledNs && age <= plateauNs {
		c.sum += v.volts
		c.count++
	}
}

// crossing is when the line went through the threshold between the sample before
// and this one; at this one where the threshold moved and not the line.
func (c *comparator) crossing(v voltage, threshold float64) int64 {
	before := c.last
	if (before.volts < threshold) == (v.volts < threshold) {
		return v.at
	}
	part := (threshold - before.volts) / (v.volts - before.volts)
	return before.at + int64(math.Round(part*float64(v.at-before.at)))
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
	if e.first >= manyKept {
		e.values = e.values[:copy(e.values, e.values[e.first:])]
		e.first = 0
	}
}

func (e *extremes) clear() { e.values, e.first = e.values[:0], 0 }

func (e *extremes) value() float64 { return e.values[e.first].volts }

// quietest is the smallest swing of any window in the last times of quietNs.
type quietest struct {
	from        int64 // of the time that runs
	now, before float64
}

func (q *quietest) add(at int64, swing float64) {
	if at-q.from >= quietNs {
		q.from, q.before, q.now = at, q.now, swing
	}
	q.now = min(q.now, swing)
}

func (q *quietest) value() float64 { return min(q.now, q.before) }

func (q *quietest) clear() {
	*q = quietest{from: math.MinInt64 / 2, now: math.Inf(1), before: math.Inf(1)}
}
