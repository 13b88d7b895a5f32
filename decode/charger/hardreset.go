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
	fell   departure
	down   crossing // to vSafe0V
	left   crossing // from there again
	on     crossing // to vSafe5V
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
		window: w,
	}
	c.reset.fell.start(m)
}

func dropReset(c *Checker, _ *event) { c.reset = hardReset{} }

// seeResetVoltage follows VBUS through a Hard Reset.
func seeResetVoltage(c *Checker, _ *event) {
	r, m := &c.reset, &c.meter
	zero, five := pd.SafeWindow0V().Max, pd.SafeWindow5V().Min
	if least := c.limit(pd.TSrcRecoverSPR).min; r.stage != noReset && !(m.interval() < least/2) {
		r.stage = noReset
		for _, id := range []checkID{checkHardResetOff, checkHardResetRecover, checkHardResetTurnOn} {
			c.because(id, "the meter is too slow to see VBUS go off: it takes one sample each "+figure(m.interval(), "s"))
		}
	}
	if r.stage == beforeFall {
		c.beforeFall()
	}
	if r.stage == falling {
		if !r.down.fall(m, zero) {
			c.stillUp()
			return
		}
		r.stage = off
		r.left.start(m.at)
		c.time(checkHardResetOff, "from when VBUS falls until it is at vSafe0V", r.fell.at, r.down.at, c.limit(pd.TSafe0V))
		return
	}
	if r.stage == off && r.left.rise(m, zero, 0) {
		r.stage = rising
		r.on.start(r.left.at.earliest())
		c.recovered()
	}
	if r.stage == rising {
		c.rising(five, zero)
	}
}

// beforeFall waits for VBUS to leave its window downwards, and dates that back to
// when it began.
func (c *Checker) beforeFall() {
	r, m := &c.reset, &c.meter
	const what = "from the Hard Reset until VBUS falls"
	l := c.limit(pd.TPSHardReset)
	f := &r.fell
	f.level = max(f.level, m.v) // it rises as the sink lets go
	out := m.v < r.window.Min-m.drop-m.offV(m.v)-m.step()
	switch {
	case f.follow(m, f.level-m.v, out, math.Inf(-1)):
		r.stage = falling
		r.down.start(f.at.earliest())
		if f.at.soonest() <= r.end.latest() {
			c.because(checkHardResetOff, "VBUS may have been falling before the Hard Reset, as it does when a source protects itself")
			return
		}
		c.time(checkHardResetOff, what, r.end, f.at, l)
	case !f.out && m.at-m.slip-r.end.s > patience:
		c.time(checkHardResetOff, "VBUS still stood after the Hard Reset for", r.end, m.moment(f.stillS), l)
		r.stage = noReset
	}
}

// stillUp ends the watch on a fall that takes too long.
func (c *Checker) stillUp() {
	r, m := &c.reset, &c.meter
	if l := c.limit(pd.TSafe0V); m.at-r.fell.at.s > l.max+patience {
		c.time(checkHardResetOff, "VBUS was not at vSafe0V after it began to fall for", r.fell.at, m.moment(m.at), l)
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
	atZero, sinceFall := between(r.down.at, r.left.at), between(r.fell.at, r.left.at)
	if atZero.value < l.min {
		counted := sinceFall
		counted.value = min(sinceFall.value, max(l.min, atZero.value))
		if sinceFall.value < l.min {
			counted = sinceFall
		}
		c.judge(checkHardResetRecover, ofStamps, "time_s", what+", counted from the start of the fall", counted, l, r.left.at.onMessages().s)
		return
	}
	c.judge(checkHardResetRecover, ofStamps, "time_s", what, atZero, l, r.left.at.onMessages().s)
}

// rising judges how fast VBUS comes back.
func (c *Checker) rising(five, zero float64) {
	r, m := &c.reset, &c.meter
	l := c.limit(pd.TSrcTurnOn)
	const what = "from vSafe0V to vSafe5V after a Hard Reset"
	switch {
	case m.v < zero-m.offV(zero)-m.step():
		r.stage = noReset // it gave way again: unplugged, or a source that tries once more
	case r.on.rise(m, five, m.drop):
		c.time(checkHardResetTurnOn, what, r.left.at, r.on.at, l)
		r.stage = noReset
	case m.at-r.left.at.s > l.max+patience:
		c.time(checkHardResetTurnOn, what+", where it still is not", r.left.at, m.moment(m.at), l)
		r.stage = noReset
	}
}
