package charger

import (
	"math"

	"portside/pd"
)

// run is a stretch of samples in a row beyond a limit. It counts only once it has
// lasted, with the value that was least beyond.
type run struct {
	open        bool
	since       float64
	by          float64
	value       float64
	off         float64
	atS         float64
	lowestLimit limit
}

// add takes a sample beyond the limit and reports whether the run has lasted.
func (r *run) add(atS, by, value, off float64, l limit, lasting float64) bool {
	if !r.open {
		*r = run{open: true, since: atS, by: math.Inf(1)}
	}
	if by-off < r.by {
		r.by, r.value, r.off, r.atS, r.lowestLimit = by-off, value, off, atS, l
	}
	return atS-r.since >= lasting
}

func (r *run) end() { r.open = false }

// steady is the voltage within a contract.
type steady struct {
	what      string
	lost      bool // VBUS collapsed: unplugged, or off
	high, low run
	transient run
	beyond    run // above the transient window
}

// collapsed is the share of the window's lower end below which VBUS counts as gone,
// and not as low: a plug that is pulled, or a source that has switched off (common
// practice; about the lower end of vSinkDisconnect at 5 V).
const collapsed = 0.5

// inContract reports that the last sample lies wholly within a contract.
func (c *Checker) inContract() bool {
	t := &c.move
	if !c.oneClock || !c.link.standing || t.open || c.link.elsewhere() || !c.since(t.ready) {
		return false
	}
	if !t.watched || t.settled {
		return true
	}
	l, _ := t.settleLimit(c)
	return c.meter.at-c.meter.slip-t.ready.s > l.max // it has had its time
}

// since reports that the last sample lies wholly after a moment of the messages.
func (c *Checker) since(at moment) bool {
	return c.meter.begun() >= at.latest()+c.seen.stamps.timeStep()
}

// seeSteadyStart begins anew with a contract.
func seeSteadyStart(c *Checker, _ *event) {
	c.steady = steady{what: "VBUS in the contract of " + c.link.contract.words()}
	c.inLimit, c.overdraw = run{}, run{}
}

// seeVoltageWindow holds VBUS within a contract other than PPS to its windows.
func seeVoltageWindow(c *Checker, _ *event) {
	if c.link.contract.Kind != pd.KindPPS && c.inContract() {
		c.holdWindow(checkVoltageWindow, "vSrcNew", "vSrcValid", pd.TSrcTransient, pd.TSrcTransientLightLoad, false)
	}
}

// seePPSVoltage holds VBUS within a PPS contract to its windows, below only while the
// source does not limit the current.
func seePPSVoltage(c *Checker, _ *event) {
	if c.link.contract.Kind == pd.KindPPS && c.inContract() {
		c.holdWindow(checkPPSVoltage, "vPpsNew", "vPpsValid", pd.TPpsTransient, pd.TPpsTransientLightLoad, c.limiting())
	}
}

// holdWindow: inside the static window, or outside it inside the transient one for no
// longer than a load step allows. What pulls VBUS down while the sink draws too much,
// or an unknown current, is not the source's.
func (c *Checker) holdWindow(id checkID, static, transient string, short, long pd.Parameter, limiting bool) {
	s, m := &c.steady, &c.meter
	w, wide, ok := c.link.contract.windows()
	if !ok || m.v < collapsed*w.Min {
		s.lost = s.lost || ok
		return
	}
	if s.lost {
		return
	}
	excused := limiting || math.IsNaN(m.i) || m.overdrawn(c.link.contract)
	off := m.offV(m.v)
	l := limit{w.Min - m.drop, w.Max, static}
	outer := limit{wide.Min - m.drop, wide.Max, transient}
	over, under := m.v-l.max, l.min-m.v
	switch {
	case over > 0:
		s.low.end()
		s.transient.end()
		if m.v <= outer.max {
			s.beyond.end()
		} else if s.beyond.add(m.dated(), m.v-outer.max, m.v, off, outer, c.stampsLate()) {
			c.judge(id, ofVolts, "voltage_v", s.what, reading{m.v, off}, outer, m.dated())
		}
		if s.high.add(m.dated(), over, m.v, off, l, c.limit(long).max) {
			c.judge(id, ofVolts, "voltage_v", s.what, reading{s.high.value, s.high.off}, l, s.high.atS)
		}
	case under > 0:
		s.high.end()
		s.beyond.end()
		if excused {
			s.low.end()
			s.transient.end()
			return
		}
		if m.v < outer.min && s.transient.add(m.dated(), outer.min-m.v, m.v, off, outer, max(c.limit(short).max, c.stampsLate())) {
			c.judge(id, ofVolts, "voltage_v", s.what, reading{s.transient.value, s.transient.off}, outer, s.transient.atS)
		}
		if s.low.add(m.dated(), under, m.v, off, l, c.limit(long).max) {
			c.judge(id, ofVolts, "voltage_v", s.what, reading{s.low.value, s.low.off}, l, s.low.atS)
		}
	default:
		s.high.end()
		s.beyond.end()
		s.low.end()
		s.transient.end()
		c.judge(id, ofVolts, "voltage_v", s.what, reading{m.v, off}, l, m.dated())
	}
}

// currentLimit is what a PPS source limits the current to, and by how much it may be
// off.
func (c *Checker) currentLimit() (amps, tolerance float64) {
	const threeAmps, percent = 3.0, 100
	amps = max(c.link.contract.Current.Amps(), pd.IPpsCLMin.Limits(pd.Revision32).MinSI())
	if amps > threeAmps {
		return amps, amps * c.limit(pd.IPpsCLNewAbove3A).max / percent
	}
	return amps, c.limit(pd.IPpsCLNew).max
}

// limiting reports a current so near the limit that the source may be limiting it.
func (c *Checker) limiting() bool {
	amps, tolerance := c.currentLimit()
	m := &c.meter
	return m.i+m.offA(m.i)+m.amps.valueStep() >= amps-tolerance
}

// seePPSCurrentLimit holds the current of a PPS contract to the limit asked for.
func seePPSCurrentLimit(c *Checker, _ *event) {
	m := &c.meter
	if c.link.contract.Kind != pd.KindPPS || !c.inContract() || math.IsNaN(m.i) || c.steady.lost {
		return
	}
	amps, tolerance := c.currentLimit()
	static, _, _ := c.link.contract.windows()
	l := limit{amps - tolerance, amps + tolerance, "iPpsCLNew"}
	settle := pd.TPpsCVCLTransient.Limits(pd.Revision32).MaxSI()
	off := m.offA(m.i)
	const what = "current in the current limit of a PPS contract"
	switch {
	case m.i > l.max:
		c.inLimit.end()
		if c.overdraw.add(m.dated(), m.i-l.max, m.i, off, l, settle) {
			c.judge(checkPPSCurrentLimit, ofAmps, "current_a", what, reading{c.overdraw.value, c.overdraw.off}, l, c.overdraw.atS)
		}
	case m.i >= l.min && m.v < static.Min-m.drop-m.offV(m.v)-m.step():
		c.overdraw.end()
		if c.inLimit.add(m.dated(), 0, m.i, off, l, settle) {
			c.judge(checkPPSCurrentLimit, ofAmps, "current_a", what, reading{m.i, off}, l, m.dated())
		}
	default:
		c.overdraw.end()
		c.inLimit.end()
	}
}
