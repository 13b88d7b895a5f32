package negotiation

import "portside/pd"

// wait is the open phase: what is waited for, since when and for how long at
// most.
type wait struct {
	phase string
	from  stamp
	limit limit
	slack float64        // by which the limit may begin later than from
	of    pd.MessageType // the message it began with; its repeat begins it anew

	unjudged bool // how long it took says nothing about whoever was waited for
}

// phase is a phase that is over, before the coarseness of the stamps is known.
type phase struct {
	Phase
	over float64 // seconds beyond the limit and the uncertainty; negative is in time
}

// never is what a phase without a limit is over it.
const never = -1

// begin opens a phase at the end of a message. Its limit counts from the
// GoodCRC, so without one it may begin later by the time a GoodCRC takes.
func (t *Tracker) begin(name string, end stamp, l limit, of pd.MessageType) {
	t.wait = wait{phase: name, from: end, limit: l, slack: t.limits.ackS, of: of}
}

// beginAt opens a phase that counts from a moment and not from a GoodCRC.
func (t *Tracker) beginAt(name string, at stamp, l limit) {
	t.wait = wait{phase: name, from: at, limit: l}
}

// over is how far beyond its limit the phase is at a moment, after what the
// stamps leave open.
func (w wait) over(at stamp) float64 {
	if w.unjudged || w.limit.s <= 0 || at.software && w.limit.s < shortestSoftwareLimitS {
		return never
	}
	return at.s - w.from.s - w.limit.s - w.slack - spread(w.from, at)
}

func (w wait) done(end *float64, over float64) phase {
	p := phase{Phase: Phase{Phase: w.phase, StartS: known(w.from.s), EndS: end, Limit: w.limit.name}, over: over}
	if w.limit.s > 0 {
		p.LimitS = known(w.limit.s)
	}
	return p
}

// arrive closes the phase: what it waited for came. The stamps may overlap by
// what is uncertain; a phase never ends before it began.
func (t *Tracker) arrive(at stamp) {
	if t.wait.phase == "" {
		return
	}
	end := max(at.s, t.wait.from.s)
	t.phases.add(t.wait.done(&end, t.wait.over(at)))
	t.wait = wait{}
}

// abandon closes the phase at a moment when what it waited for can no longer
// come.
func (t *Tracker) abandon(at stamp) {
	if t.wait.phase == "" {
		return
	}
	t.phases.add(t.wait.done(nil, t.wait.over(at)))
	t.wait = wait{}
}

// drop forgets the phase, where its end went by unrecorded.
func (t *Tracker) drop() { t.wait = wait{} }

// acknowledged lets the phase begin at the GoodCRC.
func (t *Tracker) acknowledged(end stamp) {
	t.wait.from, t.wait.slack, t.wait.of = end, 0, 0
}

// sizeOf keeps what is late before what is long.
func sizeOf(p phase) float64 {
	if p.over > 0 {
		return lateFirst + p.over
	}
	if p.EndS == nil || p.StartS == nil {
		return 0
	}
	return *p.EndS - *p.StartS
}

// lateFirst is longer than any recording in seconds.
const lateFirst = 1e12
