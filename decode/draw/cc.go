package draw

import (
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
	for i := range c.Rides {
		c.Rides[i].add(s, s.CC[i])
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
