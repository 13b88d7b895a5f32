package charger

import (
	"math"

	"portside/pd"
)

// slewSpan is the time over which a slope is taken, so that the noise of one sample
// does not make it (USB PD R3.2 V1.1, table 7.23: 30 mV/µs moves 3 V in it).
const slewSpan = 100e-6

// slewRing is how many samples are kept for that: enough for 2 million a second.
const slewRing = 256

// slew keeps the last samples of a transition.
type slew struct {
	at, v      [slewRing]float64
	head, n    int
	transition float64 // start of the Accept it belongs to
}

func (s *slew) add(at, v float64) {
	s.at[s.head], s.v[s.head] = at, v
	s.head = (s.head + 1) % slewRing
	s.n = min(s.n+1, slewRing)
}

// before is the latest sample at least the span before a time, else the oldest.
func (s *slew) before(at float64) (t, v float64, ok bool) {
	for back := 1; back <= s.n; back++ {
		i := (s.head - back + slewRing) % slewRing
		t, v = s.at[i], s.v[i]
		if at-t >= slewSpan*(1-hair) {
			break
		}
	}
	return t, v, s.n > 0 && at > t
}

// seeSlew takes the slope of VBUS in a transition, where the samples are fast enough.
func seeSlew(c *Checker, _ *event) {
	t, m := &c.move, &c.meter
	if !c.oneClock || !t.open || !t.heard || !(m.begun() >= t.accepted.s) {
		return
	}
	if m.interval() > slewSpan*(1+1e-6) {
		c.because(checkSlewRate, "the meter is too slow: 10,000 samples a second are needed, it takes one each "+figure(m.interval(), "s"))
		return
	}
	s := &c.slew
	if s.transition != t.said.s {
		s.n, s.transition = 0, t.said.s
	}
	if at, v, ok := s.before(m.at); ok && m.at-at >= slewSpan*(1-hair) {
		const perMillivoltMicrosecond = 1e3
		dt := m.at - at
		rate := math.Abs(m.v-v) / dt / perMillivoltMicrosecond
		off := (m.offV(m.v-v) + 2*m.step()) / dt / perMillivoltMicrosecond
		most := c.limit(pd.VSrcSlewPos).max / perMillivoltMicrosecond
		c.judge(checkSlewRate, exact, "slew_mv_per_us", "slope of VBUS in a transition", reading{rate, off}, atMost(most, "vSrcSlewPos, vSrcSlewNeg"), m.dated())
	}
	s.add(m.at, m.v)
}
