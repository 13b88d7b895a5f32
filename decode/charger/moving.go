package charger

import (
	"math"

	"portside/pd"
)

// seePowerReadyTime holds PS_RDY to its time after the Accept.
func seePowerReadyTime(c *Checker, e *event) {
	t := &c.move
	if !e.sourceSays(pd.PSRDY) || !t.open || !t.heard {
		return
	}
	l := t.readyLimit(c)
	l.min = math.NaN()
	c.time(checkPowerReadyTime, "from the GoodCRC of the Accept to PS_RDY", t.accepted, e.start, l)
}

// seeTransitionStart dates the moment VBUS begins to move.
func seeTransitionStart(c *Checker, e *event) {
	t := &c.move
	if !t.watched || t.from.sameObject(t.to) {
		return
	}
	l := c.limit(pd.TSrcTransition)
	switch {
	case t.justMoved:
		c.time(checkTransitionStart, "from the GoodCRC of the Accept until VBUS moves", t.accepted, t.moved.at, l)
	case !t.moved.done && !t.settled && c.meter.moment(e.start.s).soonest()-t.accepted.s > patience:
		// It has not moved at all: what is measured is how long it stood still.
		c.time(checkTransitionStart, "VBUS still stood after the GoodCRC of the Accept for", t.accepted, c.meter.moment(t.moved.stillS), l)
	}
}

// patience is how long a transition is watched that shows nothing: longer than any
// the standard allows (USB PD R3.2 V1.1, table 6.68, tPSTransition).
const patience = 1.1

// seeSettle holds the time until VBUS is inside its new window.
func seeSettle(c *Checker, _ *event) {
	t := &c.move
	if !t.watched {
		return
	}
	l, fromAccept := t.settleLimit(c)
	l.min = math.NaN()
	from, what := t.moved.at, "from the first move of VBUS until it is inside its new window"
	if fromAccept {
		from, what = t.accepted, "from the GoodCRC of the Accept until VBUS is inside its new window"
	} else if !t.moved.done {
		return
	}
	switch {
	case t.justSettled:
		c.time(checkVoltageSettleTime, what, from, t.settledAt, l)
	case !t.settled && between(from, c.meter.moment(t.outsideS)).value > l.max:
		c.time(checkVoltageSettleTime, what+", where it still is not", from, c.meter.moment(t.outsideS), l)
	}
}

// seeTransitionWindow holds VBUS between the Accept and PS_RDY to the span from the
// old to the new transient window.
func seeTransitionWindow(c *Checker, _ *event) {
	t, m := &c.move, &c.meter
	if !c.oneClock || !t.open || !t.heard || !(m.begun() >= t.said.s) {
		return
	}
	_, old, ok := t.from.windows()
	_, now, known := t.to.windows()
	if !ok || !known {
		return
	}
	span := pd.Window{Min: min(old.Min, now.Min), Max: max(old.Max, now.Max)}
	by, end := m.outside(span)
	if end < m.v+by-hair && end < span.Min && (m.overdrawn(t.from, t.to) || math.IsNaN(m.i)) {
		return // a sink that draws too much may pull it down
	}
	c.judge(checkTransitionWindow, ofVolts, "voltage_v", "VBUS during a transition",
		reading{m.v, m.offV(m.v)}, limit{span.Min - m.drop, span.Max, "vSrcValid"}, m.dated())
}

// seePowerReadyBeforeVoltage looks whether VBUS was in its window when PS_RDY said
// so: at the last sample before it and at the first that lies wholly after it.
func seePowerReadyBeforeVoltage(c *Checker, _ *event) {
	t, m := &c.move, &c.meter
	now, _, ok := t.to.windows()
	if !ok || !t.heard || !t.watched {
		return
	}
	by, _ := m.outside(now)
	switch {
	case t.open:
		t.beforeV, t.beforeO = m.v, by
	case t.done && c.since(t.ready) && !math.IsNaN(t.beforeV):
		r := reading{m.v, m.offV(m.v)}
		if t.beforeO <= m.offV(t.beforeV)+m.step() {
			r = reading{t.beforeV, m.offV(t.beforeV)} // it was there in time
		}
		t.beforeV = math.NaN()
		if m.overdrawn(t.to) {
			return
		}
		c.judge(checkPowerReadyBeforeVoltage, ofVolts, "voltage_v", "VBUS when PS_RDY had said it was ready",
			r, limit{now.Min - m.drop, now.Max, "vSrcNew"}, m.dated())
	}
}
