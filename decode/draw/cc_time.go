package draw

import (
	"portside/captures"
	"portside/pd"
)

// CCStood is a state of the CC pins by the time it stood, all in all.
type CCStood struct {
	FirstS, LastS float64
	Seconds       float64
	Volts         float64 // of the pin, its mean
}

// CCEnds counts the times that VBUS went, by what the pin that was connected did until
// then.
type CCEnds struct {
	Open  int // it rose to its pull-up's voltage: what presents Rd was gone
	Gone  int // it fell to 0 V: what pulls up was gone
	Stays int // it kept the voltage that Rd leaves
}

// CCFall is a pin at its pull-up that falls to 0 V, in a log in which neither Rd nor VBUS is ever
// seen.
type CCFall struct {
	TimeS float64
	OpenS float64 // how long it stood at its pull-up,
	LowS  float64 // and at 0 V, both times in all
	other bool    // something else was seen
}

// stand takes a row, and the time since the one before.
func (f *CCFall) stand(t, intervalS, volts float64, low, most pin) {
	switch {
	case f.other:
	case volts > offVolts || low == pinLevel || most == pinLevel:
		*f = CCFall{other: true}
	case most == pinOpen && low == pinLow && f.LowS == 0:
		f.OpenS += intervalS
	case most == pinOpen: // it comes up again: a plug that is moved
		*f = CCFall{other: true}
	case most == pinLow && low == pinLow && f.OpenS > 0:
		if f.LowS == 0 {
			f.TimeS = t
		}
		f.LowS += intervalS
	}
}

const (
	heldPinV     = 0.035 // more than two pins of one meter differ by: common practice
	joinedLeastV = 0.06  // Ra beside Rd leaves about 0.07 V of the least pull-up (USB Type-C R2.0 tables 4-24 to 4-26); a pin that nothing pulls up is at 0 V. Common practice
	oneFrameS    = 0.01  // rows closer than this may each fall on a message
	standRowsS   = 2.0   // rows further apart say nothing of the time between: common practice
)

// stand adds the time since the row before to the states that both show.
func (c *CC) stand(s *captures.Sample, t, intervalS float64) {
	low, most := min(s.CC[0], s.CC[1]), max(s.CC[0], s.CC[1])
	attached := pinOf(most) == pinLevel && pinOf(low) != pinLevel
	c.Falls.stand(t, intervalS, s.Volts, pinOf(low), pinOf(most))
	switch {
	case intervalS > standRowsS:
	case attached && s.Volts >= onVolts:
		c.Feeds.add(t, intervalS, most)
	case s.Volts > offVolts:
		c.Toggles.openS = 0
	case attached:
		if s := c.Toggles.stands(intervalS); s > 0 {
			c.Waits.add(t, s, most)
		}
	case pinOf(most) == pinOpen && pinOf(low) != pinOpen:
		c.Toggles.parts(t)
	case low >= joinedLeastV && most < freeV && most-low < heldPinV:
		c.Joined.add(t, intervalS, most)
	case pinOf(most) == pinLow && most-low >= heldPinV:
		c.Held.add(t, intervalS, most)
	}
}

func (s *CCStood) add(t, intervalS, volts float64) {
	if s.Seconds == 0 {
		s.FirstS = t
	}
	s.LastS = t
	s.Seconds += intervalS
	if s.Seconds > 0 {
		s.Volts += (volts - s.Volts) * intervalS / s.Seconds
	}
}

// CCToggles counts the times that Rd stood no longer than a dual-role port shows it while it looks
// for a source, and was gone again.
type CCToggles struct {
	Count         int
	FirstS, LastS float64
	openS         float64 // how long Rd has stood
}

// toggleS is how long a port that toggles shows one role at the most.
var toggleS = pd.TDRP.Limits(pd.Revision32).MaxSI()

// stands takes a row with Rd, and says how much of its stand is a source's to answer.
func (c *CCToggles) stands(intervalS float64) (seconds float64) {
	before := c.openS
	c.openS += intervalS
	switch {
	case c.openS <= toggleS:
		return 0
	case before <= toggleS:
		return c.openS
	}
	return intervalS
}

// parts takes a row in which nothing pulls the pin down.
func (c *CCToggles) parts(t float64) {
	if c.openS > 0 && c.openS <= toggleS {
		if c.Count == 0 {
			c.FirstS = t
		}
		c.Count++
		c.LastS = t
	}
	c.openS = 0
}

// What one pin shows.
type pin uint8

const (
	pinElse pin = iota
	pinLow
	pinLevel
	pinOpen
)

func pinOf(volts float64) pin {
	switch pd.CCMeaning(volts) {
	case pd.CCDefault, pd.CC1A5, pd.CC3A0:
		return pinLevel
	case pd.CCOpen:
		return pinLow
	case pd.CCOutside:
		if volts > 0 {
			return pinOpen
		}
		return pinLow
	}
	if volts < rdLeast {
		return pinLow
	}
	return pinElse
}

// ccPlug follows the connected pin while VBUS is there.
type ccPlug struct {
	attached   bool
	wire       int // the pin
	open, gone int // rows in turn that show it so
	seen       pin // what it did last, once more than a message can show it
}

func (p *ccPlug) follow(s *captures.Sample, intervalS float64, ends *CCEnds) {
	if s.Volts >= onVolts {
		for i, other := range [2]int{1, 0} {
			if pinOf(s.CC[i]) == pinLevel && pinOf(s.CC[other]) != pinLevel {
				*p = ccPlug{attached: true, wire: i}
				return
			}
		}
	}
	if !p.attached {
		return
	}
	switch pinOf(s.CC[p.wire]) {
	case pinOpen:
		p.open, p.gone = p.open+1, 0
	case pinLow:
		p.open, p.gone = 0, p.gone+1
	default:
		p.open, p.gone = 0, 0
	}
	switch lone := intervalS < oneFrameS; {
	case p.open > 1 || p.open == 1 && !lone:
		p.seen = pinOpen
	case p.seen != pinOpen && (p.gone > 1 || p.gone == 1 && !lone):
		p.seen = pinLow
	}
	if s.Volts > offVolts {
		return
	}
	switch p.seen {
	case pinOpen:
		ends.Open++
	case pinLow:
		ends.Gone++
	default:
		ends.Stays++
	}
	p.attached = false
}
