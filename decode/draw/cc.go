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
	Feeds   CCStood // a sound attach with VBUS
	Waits   CCStood // a sound attach that VBUS does not follow
	Held    CCStood // a pin held down between 0 V and the least that Rd leaves, without VBUS
	Joined  CCStood // both pins at one voltage, pulled up and down, without VBUS
	Lifts   [2]CCLift
	Ends    CCEnds
	Rides   [2]CCRide
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

// CCLift is a pin's voltage against the draw, while VBUS is there and the pin carries Rd's: what
// flows back lifts the device's ground, and CC with it.
type CCLift struct {
	n                    int
	meanA, meanV         float64
	amps2, volts2, cross float64 // sums of squares and products about the means
	leastA, mostA        float64
	at                   [liftBins]struct{ n, amps, volts float64 } // means by how much is drawn
}

func (l *CCLift) add(amps, pin float64) {
	if l.n == 0 {
		l.leastA, l.mostA = amps, amps
	}
	l.n++
	da, dv := amps-l.meanA, pin-l.meanV
	l.meanA += da / float64(l.n)
	l.meanV += dv / float64(l.n)
	l.amps2 += da * (amps - l.meanA)
	l.volts2 += dv * (pin - l.meanV)
	l.cross += da * (pin - l.meanV)
	l.leastA, l.mostA = min(l.leastA, amps), max(l.mostA, amps)
	b := &l.at[min(liftBins-1, int(amps/liftBinA))]
	b.n++
	b.amps += (amps - b.amps) / b.n
	b.volts += (pin - b.volts) / b.n
}

// How far apart draws lie that tell a resistance on CC, and on how many of them it lies on one
// line: a source that changes its pull-up as the draw begins moves CC too. Common practice.
const (
	liftSpanA   = 0.3
	liftSpreadA = 0.1
	liftRows    = 10
	liftBins    = 24
	liftBinA    = 0.15
	liftDraws   = 3
	liftOff     = 0.2 // of the rise, that a draw's CC may lie off the line
)

// line reports draws enough, and the CC of each on the line.
func (l *CCLift) line(ohm float64) bool {
	draws, rise := 0, math.Abs(ohm)*(l.mostA-l.leastA)
	for _, b := range l.at {
		switch {
		case b.n < liftDraws:
		case math.Abs(b.volts-l.meanV-ohm*(b.amps-l.meanA)) > liftOff*rise:
			return false
		default:
			draws++
		}
	}
	return draws >= liftDraws
}

// Ohm is what the return has in common with CC, and its standard error; ok is false where the
// draw did not move enough to tell.
func (l *CCLift) Ohm() (ohm, u float64, ok bool) {
	if l.n < liftRows || l.mostA-l.leastA < liftSpanA || l.amps2 < liftSpreadA*liftSpreadA*float64(l.n) {
		return 0, 0, false
	}
	if ohm = l.cross / l.amps2; !l.line(ohm) {
		return 0, 0, false
	}
	rest := max(0, l.volts2-ohm*l.cross) / float64(l.n-2)
	return ohm, math.Sqrt(rest / l.amps2), true
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
		if other := pinOf(s.CC[1-i]); s.Volts >= onVolts && s.Amps == s.Amps && pin > rdLeast && pin < freeV && other != pinLevel {
			c.Lifts[i].add(math.Abs(s.Amps), pin)
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
