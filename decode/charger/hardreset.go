package charger

import (
	"math"

	"portside/pd"
)

// resetStage is how far VBUS has come after a Hard Reset.
type resetStage uint8

const (
	noReset resetStage = iota
	beforeFall
	falling
	off
	rising
)

// hardReset is what VBUS did after a Hard Reset.
type hardReset struct {
	stage  resetStage
	end    moment // last bit of the Hard Reset
	epr    bool
	known  bool // whether it was in EPR is known
	window pd.Window
	level  float64
	stillS float64 // the last sample that had not begun to fall
	highS  float64 // the last sample above vSafe0V
	lowS   float64 // the last sample at vSafe0V
	fell   moment  // when VBUS began to fall
	down   moment  // when it was at vSafe0V
	left   moment  // when it left vSafe0V again
}

// seeReset begins to watch VBUS after a Hard Reset. A source that never spoke PD need
// not know one, and VBUS that is not in its window is in trouble already.
func seeReset(c *Checker, e *event) {
	m := &c.meter
	c.reset = hardReset{}
	deal := c.link.contract
	if !c.link.standing {
		deal = implicitDeal()
	}
	w, _, ok := deal.windows()
	if !c.oneClock || !m.have || !ok || c.seen.fromSource == 0 || c.link.elsewhere() || m.surelyOutside(w) {
		return
	}
	c.reset = hardReset{
		stage: beforeFall, end: e.end, epr: c.link.epr, known: !c.seen.inside || c.link.epr,
		window: w, level: m.v, stillS: m.at,
	}
}

func dropReset(c *Checker, _ *event) { c.reset = hardReset{} }

// seeResetVoltage follows VBUS through a Hard Reset.
func seeResetVoltage(c *Checker, _ *event) {
	r, m := &c.reset, &c.meter
	zero, five := pd.SafeWindow0V().Max, pd.SafeWindow5V().Min
	slack := m.offV(zero) + m.step()
	switch r.stage {
	case beforeFall:
		c.beforeFall()
	case falling:
		if m.v > zero+slack {
			r.highS = m.at
			c.stillUp()
			return
		}
		r.stage, r.down, r.lowS = off, within(r.highS, m.at), m.at
		c.time(checkHardResetOff, "from when VBUS falls until it is at vSafe0V", r.fell, r.down, c.limit(pd.TSafe0V))
	case off:
		if m.v <= zero+slack {
			r.lowS = m.at
			return
		}
		r.stage, r.left = rising, within(r.lowS, m.at)
		c.recovered()
		fallthrough
	case rising:
		c.rising(five, zero)
	}
}

// beforeFall waits for VBUS to leave its window downwards, and dates that back to
// when it began.
func (c *Checker) beforeFall() {
	r, m := &c.reset, &c.meter
	const what = "from the Hard Reset until VBUS falls"
	l := c.limit(pd.TPSHardReset)
	band := standing + 2*m.step()
	if m.v >= r.level-band {
		r.stillS = m.at
		if m.at-r.end.s > patience {
			c.time(checkHardResetOff, "VBUS still stood after the Hard Reset for", r.end, moment{s: m.at}, l)
			r.stage = noReset
		}
		return
	}
	if m.v >= r.window.Min-m.drop-m.offV(m.v)-m.step() {
		return
	}
	hidden := band / (r.level - m.v) * (m.at - r.stillS)
	r.fell = within(max(r.stillS-hidden, r.end.earliest()), m.at)
	r.stage, r.highS = falling, m.at
	c.time(checkHardResetOff, what, r.end, r.fell, l)
	if m.v <= pd.SafeWindow0V().Max {
		r.stage, r.down, r.lowS = off, within(r.stillS, m.at), m.at
		c.time(checkHardResetOff, "from when VBUS falls until it is at vSafe0V", r.fell, r.down, c.limit(pd.TSafe0V))
	}
}

// stillUp ends the watch on a fall that takes too long.
func (c *Checker) stillUp() {
	r, m := &c.reset, &c.meter
	if l := c.limit(pd.TSafe0V); m.at-r.fell.s > l.max+patience {
		c.time(checkHardResetOff, "VBUS was not at vSafe0V after it began to fall for", r.fell, moment{s: m.at}, l)
		r.stage = noReset
	}
}

// recovered judges how long VBUS was off: from vSafe0V until it leaves that again,
// and what is inside the limit when counted from the start of the fall is no fault.
func (c *Checker) recovered() {
	r := &c.reset
	spr, epr := c.limit(pd.TSrcRecoverSPR), c.limit(pd.TSrcRecoverEPR)
	l := limit{spr.min, spr.max, "tSrcRecover"}
	switch {
	case r.epr:
		l = limit{epr.min, epr.max, "tSrcRecover"}
	case !r.known:
		l.max = epr.max
	}
	const what = "VBUS at vSafe0V in a Hard Reset"
	atZero, sinceFall := between(r.down, r.left), between(r.fell, r.left)
	if atZero.value < l.min {
		counted := sinceFall
		counted.value = min(sinceFall.value, max(l.min, atZero.value))
		if sinceFall.value < l.min {
			counted = sinceFall
		}
		c.judge(checkHardResetRecover, ofStamps, "time_s", what+", counted from the start of the fall", counted, l, r.left.s)
		return
	}
	c.judge(checkHardResetRecover, ofStamps, "time_s", what, atZero, l, r.left.s)
}

// rising judges how fast VBUS comes back.
func (c *Checker) rising(five, zero float64) {
	r, m := &c.reset, &c.meter
	l := c.limit(pd.TSrcTurnOn)
	const what = "from vSafe0V to vSafe5V after a Hard Reset"
	switch {
	case m.v <= zero:
		r.stage = noReset // it gave way again: unplugged, or a source that tries once more
	case m.v >= five-m.offV(m.v)-m.step():
		from := m.before
		if math.IsNaN(from) {
			from = m.at
		}
		c.time(checkHardResetTurnOn, what, r.left, within(from, m.at), l)
		r.stage = noReset
	case m.at-r.left.s > l.max+patience:
		c.time(checkHardResetTurnOn, what+", where it still is not", r.left, moment{s: m.at}, l)
		r.stage = noReset
	}
}
