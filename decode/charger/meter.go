package charger

import (
	"math"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// meter is the samples of VBUS so far. A sample is the mean since the one before
// it.
type meter struct {
	accuracyV, accuracyA float64 // as shares of the reading
	drop                 float64 // what the cable may take off before the meter
	volts, amps          grain

	v, i       float64 // the last sample; i is NaN where unknown
	at, before float64 // its time and that of the sample before, NaN at a start
	have       bool
	slip       float64 // how much earlier it may have been on the messages' clock; 0 on one clock
	shortest   float64 // interval between samples, 0 unknown

	off   bool     // VBUS was at vSafe0V, and has not been at vSafe5V since
	up    bool     // it has come up from there and not gone since
	rise  crossing // to vSafe5V
	rises int      // how often it came up
}

// lost drops the last sample, as a handing over between ports does.
func (m *meter) lost() { m.have, m.up, m.off = false, false, false }

// offV is by how much a voltage may be off, the resolution not counted.
func (m *meter) offV(v float64) float64 { return m.accuracyV * math.Abs(v) }
func (m *meter) offA(i float64) float64 { return m.accuracyA * math.Abs(i) }

// step is the resolution of a voltage as far as it is known.
func (m *meter) step() float64 { return m.volts.valueStep() }

// Sample takes the next sample in the order of time. Nothing of s is kept.
func (c *Checker) Sample(s *captures.Sample) {
	c.meter.slip = c.spread(message.Seconds(s.At))
	if !math.IsNaN(s.CC[0]) || !math.IsNaN(s.CC[1]) {
		c.seen.levels++
		c.attach.level(&c.meter, s)
	}
	if s.HasAmps() {
		c.seen.currents++
		c.meter.amps.addValue(s.Amps)
	}
	if !s.HasVolts() {
		return
	}
	c.seen.samples++
	m := &c.meter
	m.volts.addValue(s.Volts)
	at := message.Seconds(s.At)
	m.before = math.NaN()
	if m.have {
		m.before = m.at
		if dt := at - m.at; dt > 0 && (m.shortest == 0 || dt < m.shortest) {
			m.shortest = dt
		}
	}
	m.at, m.v, m.i, m.have = at, s.Volts, math.Abs(s.Amps), true
	m.follow()
	if c.link.elsewhere() || at-m.slip <= c.link.awayS {
		m.lost()
		return
	}
	c.move.follow(c)
	c.dispatch(sampled, &event{start: moment{s: at}})
}

// begun is the earliest that the last sample may have begun on the messages' clock,
// NaN at a start.
func (m *meter) begun() float64 { return m.before - m.slip }

// dated is when the last sample was on the messages' clock, in the middle of what is
// possible.
func (m *meter) dated() float64 { return m.moment(m.at).onMessages().s }

// moment is a time of the meter.
func (m *meter) moment(s float64) moment { return moment{s: s, slip: m.slip} }

// within is a moment known to lie between two times of the meter.
func (m *meter) within(from, to float64) moment {
	at := within(from, to)
	at.slip = m.slip
	return at
}

// interval is the time since the sample before, NaN at a start.
func (m *meter) interval() float64 { return m.at - m.before }

// follow keeps when VBUS came up from nothing.
func (m *meter) follow() {
	if m.v <= pd.SafeWindow0V().Max {
		if math.IsNaN(m.before) {
			return // what the first sample is the mean of is not known
		}
		m.off, m.up = true, false
		m.rise.start(m.earliest())
		return
	}
	if m.off && m.rise.rise(m, pd.SafeWindow5V().Min, m.drop) {
		m.off, m.up = false, true
		m.rises++
	}
}

// outside is by how much the last sample is outside a window, negative inside, its
// uncertainty not counted, and the end that is nearest. Below, the cable's drop is
// granted, since the meter may sit at the device.
func (m *meter) outside(w pd.Window) (by, end float64) {
	by, end = m.v-w.Max, w.Max
	if under := w.Min - m.drop - m.v; under > by {
		by, end = under, w.Min-m.drop
	}
	return by, end
}

// surelyOutside reports a sample outside a window by more than its uncertainty.
func (m *meter) surelyOutside(w pd.Window) bool {
	by, _ := m.outside(w)
	return by > m.offV(m.v)+m.step()
}
