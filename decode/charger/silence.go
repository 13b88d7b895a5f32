package charger

import (
	"math"

	"portside/pd"
)

// quiet is when there was traffic last.
type quiet struct {
	since moment
	have  bool
}

// seeTraffic notes traffic; it stands behind the checks of the silence before it.
func seeTraffic(c *Checker, e *event) {
	c.quiet = quiet{since: e.end, have: true}
	if e.msg.Type() != pd.GoodCRC && !c.link.shown[e.from] {
		c.quiet.since = e.end.plus(ackTime()) // its GoodCRC is not shown
	}
}

func dropTraffic(c *Checker, _ *event) { c.quiet = quiet{} }

// seePPSSilence: after a silence too long in a PPS contract the source must have
// reset it, and not go on.
func seePPSSilence(c *Checker, e *event) {
	if !c.silentPPS() || e.sourceSays(pd.SourceCapabilities) && e.msg.Header.MessageID() == 0 {
		return
	}
	if gap := between(c.quiet.since, e.start); gap.value > c.limit(pd.TPPSTimeout).max {
		c.time(checkPPSTimeout, "silence in a PPS contract without a Hard Reset", c.quiet.since, e.start, noMin(c.limit(pd.TPPSTimeout)))
	}
}

func (c *Checker) silentPPS() bool {
	return c.quiet.have && c.link.standing && c.link.contract.Kind == pd.KindPPS && !c.move.open
}

func noMin(l limit) limit {
	l.min = math.NaN()
	return l
}

// seePPSReset takes the Hard Reset that ends such a silence. One that comes while the
// sink is not overdue has another cause.
func seePPSReset(c *Checker, e *event) {
	if !c.silentPPS() {
		return
	}
	if gap := between(c.quiet.since, e.start); gap.value >= pd.TPPSRequest.Limits(pd.Revision32).MaxSI() {
		c.endedBy(checkPPSTimeout, "silence in a PPS contract until the Hard Reset", gap, e, c.limit(pd.TPPSTimeout))
	}
}

// endedBy judges a silence that a Hard Reset ends. One that comes before the source's
// own timer can run out may be the sink's.
func (c *Checker) endedBy(id checkID, what string, gap reading, e *event, l limit) {
	if gap.surelyBelow(l.min) {
		c.because(id, "the Hard Reset came before the source's own time was up and may be the sink's")
		return
	}
	c.time(id, what, c.quiet.since, e.start, l)
}

// seePPSEnd looks at a silence that the end of the recording finds: VBUS shows that
// the contract went on.
func seePPSEnd(c *Checker, _ *event) {
	m := &c.meter
	if !c.silentPPS() || !c.inContract() || c.steady.lost {
		return
	}
	w, _, ok := c.link.contract.windows()
	gap := between(c.quiet.since, m.moment(m.at))
	if ok && !m.surelyOutside(w) && gap.value > c.limit(pd.TPPSTimeout).max {
		c.time(checkPPSTimeout, "silence in a PPS contract without a Hard Reset", c.quiet.since, m.moment(m.at), noMin(c.limit(pd.TPPSTimeout)))
	}
}

// seeEPRSilence and seeEPRReset are the same in EPR mode.
func seeEPRSilence(c *Checker, e *event) {
	if !c.quiet.have || !c.link.epr || e.sourceSays(pd.SourceCapabilities) {
		return
	}
	if gap := between(c.quiet.since, e.start); gap.value > c.limit(pd.TSourceEPRKeepAlive).max {
		c.time(checkEPRKeepAlive, "silence in EPR mode without a Hard Reset", c.quiet.since, e.start, noMin(c.limit(pd.TSourceEPRKeepAlive)))
	}
}

func seeEPRReset(c *Checker, e *event) {
	if !c.quiet.have || !c.link.epr {
		return
	}
	gap := between(c.quiet.since, e.start)
	if gap.value > pd.TSinkEPRKeepAlive.Limits(pd.Revision32).MaxSI() {
		c.endedBy(checkEPRKeepAlive, "silence in EPR mode until the Hard Reset", gap, e, c.limit(pd.TSourceEPRKeepAlive))
	}
}
