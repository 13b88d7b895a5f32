package draw

import (
	"math"

	"portside/captures"
	"portside/pd"
)

// CC is what a meter log's columns of the CC pins say, between the messages: how
// often each state was seen, with VBUS there and with VBUS off, for how long, and
// what the connected pin did when VBUS went.
type CC struct {
	On, Off CCStates
	Feeds   CCStood    // a sound attach with VBUS
	Waits   CCStood    // a sound attach that VBUS does not follow
	Toggles CCToggles  // Rd that comes and goes, without VBUS
	Held    CCStood    // a pin held down between 0 V and the least that Rd leaves, without VBUS
	Joined  CCStood    // both pins at one voltage, pulled up and down, without VBUS
	Lifts   [2]CCSlope // a pin against the draw
	Climbs  [2]CCSlope // and against VBUS
	Ends    CCEnds
	Rides   [2]CCRide
	Falls   CCFall
}

// CCRide is a pin's mean voltage where Rd may leave it without VBUS, and with 5 V there.
type CCRide struct {
	OffV, OnV float64
	Off, On   int // samples
}

func (r *CCRide) add(s *captures.Sample, pin float64) {
	switch {
	case s.Volts <= offVolts && pinOf(pin) == pinLevel:
		r.Off++
		r.OffV += (pin - r.OffV) / float64(r.Off)
	case s.Volts >= onVolts && s.Volts <= fiveMost && pinOf(pin) != pinLow && pin < freeV:
		r.On++
		r.OnV += (pin - r.OnV) / float64(r.On)
	}
}

// CCSlope is a pin's voltage, while VBUS is there and the pin carries Rd's, against what may
// move it: the draw, which flows back and lifts the device's ground and CC with it, or VBUS,
// which leaks into it.
type CCSlope struct {
	by                slopeScale
	n                 int
	meanX, meanV      float64
	x2, volts2, cross float64 // sums of squares and products about the means
	least, most       float64
	at                [slopeBins]struct{ n, x, volts float64 } // means by what moves it
}

// slopeScale is how far apart draws, or voltages, must lie to tell a slope.
type slopeScale struct{ span, spread, bin float64 }

// Common practice.
var (
	byDraw = slopeScale{span: 0.3, spread: 0.1, bin: 0.15} // amperes
	byVBUS = slopeScale{span: 3, spread: 0.2, bin: 2.5}    // volts
)

func (l *CCSlope) add(x, pin float64, by slopeScale) {
	if l.n == 0 {
		l.by, l.least, l.most = by, x, x
	}
	l.n++
	dx, dv := x-l.meanX, pin-l.meanV
	l.meanX += dx / float64(l.n)
	l.meanV += dv / float64(l.n)
	l.x2 += dx * (x - l.meanX)
	l.volts2 += dv * (pin - l.meanV)
	l.cross += dx * (pin - l.meanV)
	l.least, l.most = min(l.least, x), max(l.most, x)
	b := &l.at[int(min(slopeBins-1, x/by.bin))]
	b.n++
	b.x += (x - b.x) / b.n
	b.volts += (pin - b.volts) / b.n
}

// How many rows tell a slope, and at how many places CC must lie on one line: a source that
// changes its pull-up as the draw begins, or as VBUS rises, moves CC too. Common practice.
const (
	slopeRows   = 10
	slopeBins   = 24
	slopeEach   = 3
	slopePlaces = 3
	slopeOff    = 0.2 // of the rise, that a place's CC may lie off the line
)

// line reports places enough, and the CC of each on the line.
func (l *CCSlope) line(slope float64) bool {
	places, rise := 0, math.Abs(slope)*(l.most-l.least)
	for _, b := range l.at {
		switch {
		case b.n < slopeEach:
		case math.Abs(b.volts-l.meanV-slope*(b.x-l.meanX)) > slopeOff*rise:
			return false
		default:
			places++
		}
	}
	return places >= slopePlaces
}

// Slope is how far the pin goes up with each ampere, or volt, and its standard error; ok is
// false where what moves it did not move enough to tell.
func (l *CCSlope) Slope() (slope, u float64, ok bool) {
	if l.n < slopeRows || l.most-l.least < l.by.span || l.x2 < l.by.spread*l.by.spread*float64(l.n) {
		return 0, 0, false
	}
	if slope = l.cross / l.x2; !l.line(slope) {
		return 0, 0, false
	}
	rest := max(0, l.volts2-slope*l.cross) / float64(l.n-2)
	return slope, math.Sqrt(rest / l.x2), true
}

// ccFinder follows the pins through a log.
type ccFinder struct {
	CC
	lastS float64 // of the sample before
	plug  ccPlug
}

// CCStates counts samples by what the two pins show.
type CCStates struct {
	N       int // samples with both pins
	One     int // one pin carries Rd's voltage, the other none, its pull-up's or VCONN: a sound attach
	Both    int // both do
	High    int // a pin above all that Rd leaves, or above VCONN beside one that carries Rd's voltage
	Low     int // neither pin is above 0 V
	Between int // a pin between the levels that Rp can advertise
}

// onVolts is VBUS that is there: vSafe5V less a cable's drop.
const onVolts = 4.0

// fiveMost is 5 V at most: what stands above it is a contract's.
var fiveMost = pd.VSafe5V.Limits(pd.Revision32).Max.Value

// freeV is where a pin is VCONN (3.0 V at least: USB Type-C R2.0 table 4-5) or a pull-up to
// 3.3 V or 5 V that nothing loads: common practice.
const freeV = 2.8

func (c *ccFinder) add(s *captures.Sample, t float64) {
	if s.CC[0] != s.CC[0] || s.CC[1] != s.CC[1] || s.Volts != s.Volts {
		return
	}
	intervalS := t - c.lastS
	if c.On.N+c.Off.N == 0 { // the first
		intervalS = 0
	}
	c.lastS = t
	c.stand(s, t, intervalS)
	c.plug.follow(s, intervalS, &c.Ends)
	for i, pin := range s.CC {
		c.Rides[i].add(s, pin)
		if s.Volts < onVolts || pin <= rdLeast || pin >= freeV || pinOf(s.CC[1-i]) == pinLevel {
			continue
		}
		c.Climbs[i].add(s.Volts, pin, byVBUS)
		if s.Amps == s.Amps {
			c.Lifts[i].add(math.Abs(s.Amps), pin, byDraw)
		}
	}
	switch {
	case s.Volts >= onVolts:
		c.On.add(s.CC)
	case s.Volts <= offVolts:
		c.Off.add(s.CC)
	}
}

func (n *CCStates) add(pins [2]float64) {
	n.N++
	var level, high, open, between int
	most := max(pins[0], pins[1])
	for _, v := range pins {
		switch pd.CCMeaning(v) {
		case pd.CCDefault, pd.CC1A5, pd.CC3A0:
			level++
		case pd.CCOpen:
			open++
		case pd.CCTooClose:
			between++
		case pd.CCOutside:
			if v > 0 {
				high++
			} else {
				open++
			}
		}
	}
	switch {
	case high == 1 && level == 1 && most <= vconn: // a cable has one CC wire: the other pin is open at the source, or VCONN
		n.One++
	case high > 0:
		n.High++
	case level == 2:
		n.Both++
	case level == 1:
		n.One++
	case between > 0:
		n.Between++
	case open == 2:
		n.Low++
	}
}
