package charger

import (
	"math"

	"portside/pd"
)

// transition is the way from one contract to the next: the messages around it, and
// where messages and meter share a clock, what VBUS did.
type transition struct {
	open     bool // accepted, and no PS_RDY yet
	done     bool // PS_RDY came
	heard    bool // accepted is known
	from, to deal
	epr      bool   // it begins or ends in EPR
	said     moment // start of the Accept
	accepted moment // end of its GoodCRC
	ready    moment // start of the PS_RDY

	watched          bool // VBUS has to move far enough to be seen
	rising           bool
	moved            departure
	outsideS         float64 // VBUS was still outside the new window then
	settled          bool
	settledAt        moment
	justMoved        bool // by the last sample
	justSettled      bool
	beforeV, beforeO float64 // last sample before the PS_RDY, and how far outside it was
}

// begin looks whether VBUS has to move.
func (t *transition) begin(c *Checker) {
	m := &c.meter
	t.watched, t.settled = false, false
	t.beforeV = math.NaN()
	old, _, okOld := t.from.windows()
	now, _, okNow := t.to.windows()
	if !c.oneClock || !m.have || !okOld || !okNow || m.surelyOutside(old) {
		return
	}
	t.rising = now.Min-m.drop > old.Max
	falling := now.Max < old.Min-m.drop
	t.watched = t.rising || falling
	t.moved.start(m)
	t.outsideS = m.earliest()
}

// follow looks at the last sample.
func (t *transition) follow(c *Checker) {
	t.justMoved, t.justSettled = false, false
	if !t.watched || t.settled || c.meter.overdrawn(t.from, t.to) {
		return
	}
	m := &c.meter
	old, _, _ := t.from.windows()
	now, _, _ := t.to.windows()
	t.justMoved = t.start(m, old)
	if m.surelyOutside(now) {
		t.outsideS = m.earliest()
		return
	}
	if t.moved.out && !t.moved.done {
		t.moved.give(m, t.accepted.earliest())
		t.justMoved = true
	}
	t.settled, t.justSettled = true, true
	t.settledAt = m.within(t.outsideS, m.at)
}

// start looks whether VBUS has left the old window for good, and dates that back to
// when it began to move.
func (t *transition) start(m *meter, old pd.Window) bool {
	d := &t.moved
	off := m.offV(m.v) + m.step()
	if t.rising {
		return d.follow(m, m.v-d.level, m.v > old.Max+off, t.accepted.earliest())
	}
	d.level = max(d.level, m.v) // it rises as the sink lets go
	return d.follow(m, d.level-m.v, m.v < old.Min-m.drop-off, t.accepted.earliest())
}

// overdrawn reports a draw above both contracts, under which VBUS may sag.
func (m *meter) overdrawn(deals ...deal) bool {
	if math.IsNaN(m.i) {
		return false
	}
	for _, d := range deals {
		if amps, ok := d.draws(m.v); !ok || m.i <= amps+m.offA(m.i)+m.amps.valueStep() {
			return false
		}
	}
	return true
}

// small reports a change small enough for the shorter time.
func (t *transition) small(p pd.Parameter) bool {
	step := t.to.Voltage - t.from.Voltage
	if step < 0 {
		step = -step
	}
	return step.Volts() <= p.Limits(pd.Revision32).MaxSI()+hair
}

// readyLimit is from the GoodCRC of the Accept to PS_RDY. Where the deal is not
// known it is the longest.
func (t *transition) readyLimit(c *Checker) limit {
	inside := t.from.inside(t.to)
	switch {
	case t.to.Kind == 0:
		return longest(c.limit(pd.TSrcTransReqEPR), c.limit(pd.TAvsSrcTransLarge))
	case inside && t.to.Kind == pd.KindPPS && t.small(pd.VPpsSmallStep):
		return c.limit(pd.TPpsSrcTransSmall)
	case inside && t.to.Kind == pd.KindPPS:
		return c.limit(pd.TPpsSrcTransLarge)
	case inside && t.to.Adjustable() && t.small(pd.VAvsSmallStep):
		return c.limit(pd.TAvsSrcTransSmall)
	case t.to.Adjustable() && !t.epr:
		return c.limit(pd.TAvsSrcTransLarge)
	case t.to.Adjustable():
		return longest(c.limit(pd.TSrcTransReqEPR), c.limit(pd.TAvsSrcTransLarge))
	case t.epr || t.from.Kind == 0:
		return c.limit(pd.TSrcTransReqEPR)
	default:
		return c.limit(pd.TSrcTransReqSPR)
	}
}

func longest(a, b limit) limit {
	if a.max >= b.max {
		return a
	}
	return b
}

// settleLimit is until VBUS is inside its window: from the GoodCRC of the Accept
// inside an adjustable object, else from when VBUS begins to move.
func (t *transition) settleLimit(c *Checker) (l limit, fromAccept bool) {
	inside := t.from.inside(t.to)
	switch {
	case inside && t.to.Kind == pd.KindPPS && t.small(pd.VPpsSmallStep):
		return c.limit(pd.TPpsSrcTransSmall), true
	case inside && t.to.Kind == pd.KindPPS:
		return c.limit(pd.TPpsSrcTransLarge), true
	case inside && t.small(pd.VAvsSmallStep):
		return c.limit(pd.TAvsSrcTransSmall), true
	case t.to.Adjustable():
		return c.limit(pd.TAvsSrcTransLarge), true
	case t.epr:
		return c.limit(pd.TSrcSettleEPR), false
	default:
		return c.limit(pd.TSrcSettleSPR), false
	}
}
