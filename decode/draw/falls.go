package draw

import "math"

const (
	fallShare  = 0.10 // a quick fall by more than this is a collapse: twice what a supply may vary
	watchedS   = 10.0 // VBUS that is not back by then never was part of this fall
	recentLen  = 4
	fallS      = 0.4  // what a meter of 10 rows a second sees in as many rows: a source that lets go takes 0.05 to 0.3 s to fall. Common practice
	topShare   = 0.97 // of what stood: regulation and a sound cable stay above
	leastFromV = 2.0

	// A source that trips and a lead that opens end the current with VBUS, and a
	// converter starts above 4.5 V at the least and lets go a little lower (data sheets
	// SLUSE65A, SLUSDU3). PPS may go to 3 V, but not at once from a contract of 9 V and
	// more: what flows on below flows into a short.
	heldBelowV     = 2.8
	heldHighFromV  = 8.0
	heldHighBelowV = 4.3
	heldLeastA     = 0.5
	heldOhm        = 1.5    // more is not held so low by what a source gives
	heldShare      = 8.0    // rows that are means of a draw and of none keep the draw's resistance, and of a converter on half its voltage a quarter of it
	heldS          = 0.0019 // so long it stands about the same: VBUS does not pass by
	heldBriefS     = 0.0009 // or this, where as many rows show it
	heldBriefRows  = 3
	heldF          = 0.001 // or in one row: more than a source's output holds, common practice
	heldRowS       = 0.15  // where the row is no longer than this
	heldSteady     = 0.2
	heldStepV      = 0.1
)

// highest is the highest voltage of the last fallS, and the lowest, to a tenth of it.
type highest struct {
	slots [highSlots]struct {
		id     int64
		n      int
		v, low float64
	}
}

const highSlots = 10

func (h *highest) add(t, v float64) {
	id := int64(math.Floor(t * highSlots / fallS))
	s := &h.slots[((id%highSlots)+highSlots)%highSlots]
	if s.id != id || s.n == 0 {
		s.id, s.n, s.v, s.low = id, 0, v, v
	}
	s.n++
	s.v, s.low = max(s.v, v), min(s.low, v)
}

// before is what VBUS did not fall below in the slot before this moment; ok is false where
// too few rows tell.
func (h *highest) before(t float64) (low float64, ok bool) {
	id := int64(math.Floor(t*highSlots/fallS)) - 1
	s := h.slots[((id%highSlots)+highSlots)%highSlots]
	return s.low, s.id == id && s.n >= recentLen
}

func (h *highest) at(t float64) float64 {
	oldest, v := int64(math.Floor(t*highSlots/fallS))-highSlots, 0.0
	for _, s := range h.slots {
		if s.id > oldest {
			v = max(v, s.v)
		}
	}
	return v
}

// fallFinder looks for VBUS falling away within a few samples, or within fallS.
type fallFinder struct {
	recent [recentLen]point // newest first; samples with both quantities
	volts  [recentLen]point // newest first; samples with a voltage
	held   int
	n      int
	high   highest
	top    point // the last sample before VBUS began to fall
	open   *Collapse
	lowT   float64 // when it began to stand at the lowest voltage
	heldP  point   // the last row that shows a short
	heldT  float64 // since when such rows are about the same, NaN where the last shows none
	heldN  int     // and how many
	out    keep[Collapse]
}

func (f *fallFinder) init() {
	f.out.size = func(c Collapse) float64 { return c.FromV - c.ToV }
}

func (f *fallFinder) clone() fallFinder {
	c := *f
	if f.open != nil {
		open := *f.open
		c.open = &open
	}
	c.out = f.out.clone()
	return c
}

func (f *fallFinder) remember(p point) {
	copy(f.recent[1:], f.recent[:recentLen-1])
	f.recent[0] = p
	f.n = min(f.n+1, recentLen)
}

func (f *fallFinder) add(p point) {
	if f.open != nil {
		f.follow(p)
	} else if f.held == recentLen || f.held > 0 {
		ref := f.high.at(p.t)
		for _, q := range f.volts[:f.held] {
			ref = max(ref, q.v)
		}
		if ref >= leastFromV && p.v < ref*(1-fallShare) && !f.overshot(p) {
			f.begin(p, ref)
		} else if p.v >= topShare*ref {
			f.top = p
		}
	}
	f.rememberVolts(p)
}

// calm reports a chunk in which VBUS neither falls away nor rises, and that no
// collapse is open.
func (f *fallFinder) calm(c *chunk) bool {
	if f.open != nil || f.held < recentLen {
		return false
	}
	low, high := c.minV, max(c.maxV, f.high.at(c.t0))
	for _, q := range f.volts {
		low, high = min(low, q.v), max(high, q.v)
	}
	return low >= high*(1-fallShare) && high-low < riseStepV
}

// skip passes over a calm chunk.
func (f *fallFinder) skip(c *chunk) {
	f.high.add(c.t1, c.maxV)
	for _, p := range c.samples[max(0, c.n-recentLen):] {
		f.remember(p)
		f.rememberVolts(p)
	}
	f.top = c.samples[c.n-1]
}

func (f *fallFinder) rememberVolts(p point) {
	copy(f.volts[1:], f.volts[:recentLen-1])
	f.volts[0] = p
	f.held = min(f.held+1, recentLen)
	f.high.add(p.t, p.v)
}

// overshot reports VBUS that is back where it stood: it had leapt up as a switch cut a draw.
func (f *fallFinder) overshot(p point) bool {
	low, ok := f.high.before(p.t)
	return ok && low >= onVolts && p.v >= topShare*low
}

func (f *fallFinder) begin(p point, from float64) {
	at := 0.0
	for _, q := range f.recent[:f.n] {
		if p.t-q.t <= max(0.5, 3*(p.t-f.recent[0].t)) {
			at = max(at, q.a)
		}
	}
	if p.t-f.top.t <= fallS { // on a slow way down the draw may have ended
		at = max(at, f.top.a)
	}
	f.open = &Collapse{TimeS: p.t, FromV: from, ToV: p.v, AtA: at}
	f.lowT, f.heldT = p.t, math.NaN()
	f.hold(p)
}

// hold looks for current that flows on where VBUS is held down.
func (f *fallFinder) hold(p point) {
	c := f.open
	below := heldBelowV
	if c.FromV >= heldHighFromV {
		below = heldHighBelowV
	}
	most := heldOhm
	if c.AtA > 0 {
		most = min(most, c.FromV/c.AtA/heldShare)
	}
	if !(p.v <= below && p.a >= heldLeastA && p.v <= most*p.a) {
		f.heldT = math.NaN()
		return
	}
	moves := math.Abs(p.v-f.heldP.v) > max(heldStepV, heldSteady*p.v) || math.Abs(p.a-f.heldP.a) > heldSteady*p.a
	if f.heldT != f.heldT || moves {
		f.heldT, f.heldN = p.t, 0
	}
	f.heldN++
	f.heldP = p
	row := p.t - f.recent[0].t
	stands := p.t-f.heldT >= heldS || f.heldN >= heldBriefRows && p.t-f.heldT >= heldBriefS
	if (stands || row <= heldRowS && p.a*row >= heldF*c.FromV) && p.a > c.HeldA {
		c.HeldV, c.HeldA = max(p.v, 0), p.a
	}
}

func (f *fallFinder) follow(p point) {
	c := f.open
	f.hold(p)
	if p.v < c.ToV*(1-fallShare/2)-0.1 {
		f.lowT = p.t
	}
	c.ToV = min(c.ToV, p.v)
	switch {
	case p.v >= c.FromV*(1-fallShare):
		back := p.t - c.TimeS
		c.BackS = &back
		f.close()
	case p.t-f.lowT >= standingS && contractAt(c.ToV):
		f.open = nil // it stands at a lower contract: agreed, or for the levels to judge
		f.forget()
	case p.t-c.TimeS > watchedS:
		f.close()
	}
}

// contractAt reports a voltage at which a fixed contract may stand.
func contractAt(v float64) bool {
	n := nominal(v)
	return n >= 5 && math.Abs(n-math.Round(n)) < 1e-9 && math.Abs(v-n) <= nominalBand*n
}

func (f *fallFinder) close() {
	f.out.add(*f.open)
	f.open = nil
	f.forget()
}

func (f *fallFinder) forget() {
	f.held, f.high = 0, highest{}
}

func (f *fallFinder) finish(left *int) []Collapse {
	if f.open != nil {
		if !(contractAt(f.open.ToV)) {
			f.close()
		}
	}
	return f.out.take(left)
}
