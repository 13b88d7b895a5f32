package draw

import "math"

// Oscillation is a working draw that swings at a beat of its own and never stops.
type Oscillation struct {
	StartS, EndS float64
	Count        int
	PeriodS      float64
	SwingA       float64 // from trough to crest, the mean
}

// Common practice.
const (
	oscTurn   = 0.2  // of the draw, that it has to turn back by
	oscLeastA = 0.12 // and at least
	oscFloor  = 0.15 // of the crest: what falls lower stops
	oscSpread = 0.2  // of the mean period
	oscCount  = 15
	oscRows   = 4   // a period, at least
	oscMostS  = 0.7 // a period: what software does each second is work
)

// oscillationFinder follows the turns of the draw.
type oscillationFinder struct {
	on           bool
	up           bool
	extreme      float64
	trough, last float64
	n            int     // rows since the crest
	crestS       float64 // its time, 0 before the first
	open         Oscillation
	best         Oscillation
}

func (f *oscillationFinder) clone() finder {
	c := *f
	return &c
}

// add takes a sample with both quantities.
func (f *oscillationFinder) add(p point, _ *noise) {
	if p.v < slideFromV || p.a < oscLeastA || p.t-f.last > oscMostS {
		f.end()
		f.on = false
	}
	f.last = p.t
	if p.v < slideFromV || p.a < oscLeastA {
		return
	}
	if !f.on {
		f.on, f.up, f.extreme, f.trough, f.n, f.crestS = true, true, p.a, p.a, 0, 0
	}
	f.n++
	back := max(oscLeastA, oscTurn*max(f.extreme, p.a))
	switch {
	case f.up && p.a >= f.extreme, !f.up && p.a <= f.extreme:
		f.extreme = p.a
	case f.up && f.extreme-p.a > back:
		f.crest(p.t)
		f.up, f.extreme = false, p.a
	case !f.up && p.a-f.extreme > back:
		f.trough, f.up, f.extreme = f.extreme, true, p.a
	}
}

// crest ends a period. Its time is that of the turn, the same way late each time.
func (f *oscillationFinder) crest(t float64) {
	o := &f.open
	period := t - f.crestS
	even := o.Count == 0 || math.Abs(period-o.PeriodS) <= oscSpread*o.PeriodS
	if f.trough < oscFloor*f.extreme || period > oscMostS || f.n < oscRows || f.crestS == 0 || !even {
		f.end()
		f.open, f.crestS, f.n = Oscillation{StartS: t}, t, 0
		return
	}
	o.Count++
	o.PeriodS += (period - o.PeriodS) / float64(o.Count)
	o.SwingA += (f.extreme - f.trough - o.SwingA) / float64(o.Count)
	o.EndS, f.crestS, f.n = t, t, 0
}

// end keeps the longest.
func (f *oscillationFinder) end() {
	if f.open.Count >= oscCount && f.open.Count > f.best.Count {
		f.best = f.open
	}
	f.open = Oscillation{}
}

// result leaves nil where there is none, else the longest.
func (f *oscillationFinder) result(r *Result, _ *int) {
	f.end()
	if f.best.Count > 0 {
		best := f.best
		r.Oscillation = &best
	}
}

// addChunk passes over a chunk that turns nowhere.
func (f *oscillationFinder) addChunk(c *chunk, n *noise) {
	idle := c.maxV < slideFromV || c.maxA < oscLeastA
	if idle && !f.on {
		f.last = c.t1
		return
	}
	if f.on && c.minV >= slideFromV && c.minA >= oscLeastA && c.maxA-c.minA < oscLeastA && math.Abs(c.maxA-f.extreme) < oscLeastA/2 {
		if f.up {
			f.extreme = max(f.extreme, c.maxA)
		} else {
			f.extreme = min(f.extreme, c.minA)
		}
		f.n += c.n
		f.last = c.t1
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
