package draw

import (
	"math"
	"slices"

	"portside/pd"
)

// Hunt is VBUS that wanders up and down by volts while next to nothing flows, or, to above any
// fixed voltage, under a draw that keeps its power: a contact that comes and goes only takes from it.
type Hunt struct {
	StartS, EndS float64
	Turns        int
	LowV, HighV  float64
	MostA        float64
	AtW          float64 // what is drawn throughout; 0 where next to nothing flows
}

// Common practice.
const (
	huntShare = 0.08 // of the higher voltage: more than a window, and than so little current moves any lead
	huntMostA = 0.3
	huntPower = 0.08 // by which a draw above that may differ from what it was
	huntTurns = 4    // one contract after the other turns less often
	huntMore  = 9    // under a draw: what walks at random turns some times
	huntRows  = 3    // from turn to turn: in fewer, a mean of VBUS and none may stand for a voltage
)

// huntFinder counts the turns of VBUS.
type huntFinder struct {
	on      bool
	up      bool
	extreme float64 // since the last turn
	rows    int     // since then
	leaps   int     // turns after too few of them
	open    Hunt
	last    float64 // time
	out     keep[Hunt]
}

func newHuntFinder() *huntFinder {
	return &huntFinder{out: keep[Hunt]{size: func(h Hunt) float64 { return float64(h.Turns) }}}
}

func (f *huntFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

// add takes a sample with both quantities.
func (f *huntFinder) add(p point, n *noise) {
	gap := p.t-f.last > max(minGapS, gapFactor*n.intervalS)
	f.last = p.t
	if gap || p.v < slideFromV {
		f.end()
		return
	}
	if f.on && !f.keeps(p.v*p.a, p.a) {
		f.end()
	}
	if !f.on {
		f.on, f.up, f.extreme, f.rows, f.leaps = true, true, p.v, 0, 0
		f.open = Hunt{StartS: p.t, LowV: p.v, HighV: p.v}
		if p.a > huntMostA {
			f.open.AtW = p.v * p.a
		}
	}
	f.rows++
	o := &f.open
	o.EndS, o.MostA = p.t, max(o.MostA, p.a)
	beyond := huntShare * max(f.extreme, p.v)
	switch {
	case f.up && p.v >= f.extreme, !f.up && p.v <= f.extreme:
		f.extreme = p.v
	case f.up && f.extreme-p.v > beyond, !f.up && p.v-f.extreme > beyond:
		if o.Turns == 0 {
			o.LowV, o.HighV = p.v, f.extreme
		}
		o.Turns++
		if f.rows < huntRows {
			f.leaps++
		}
		f.rows = 0
		f.up, f.extreme = !f.up, p.v
	}
	if o.Turns > 0 {
		o.LowV, o.HighV = min(o.LowV, p.v), max(o.HighV, p.v)
	}
}

// keeps reports a draw that has the power of the one before it, or is as good as none.
func (f *huntFinder) keeps(watts, amps float64) bool {
	if f.open.AtW == 0 {
		return amps <= huntMostA
	}
	return math.Abs(watts-f.open.AtW) <= huntPower*f.open.AtW
}

// withinFixed reports a voltage that a source may hold of a fixed contract.
func withinFixed(volts float64) bool {
	return slices.ContainsFunc(nominals[:], func(n float64) bool {
		window, _ := pd.FixedWindow(pd.Millivolts(1000 * n))
		return volts >= window.Min && volts <= window.Max
	})
}

func (f *huntFinder) end() {
	turns, contact := huntTurns, false
	if f.open.AtW > 0 {
		turns, contact = huntMore, withinFixed(f.open.HighV)
	}
	if f.on && f.open.Turns-2*f.leaps >= turns && !contact {
		f.out.add(f.open)
	}
	f.on = false
}

func (f *huntFinder) result(r *Result, left *int) {
	f.end()
	r.Hunts = f.out.take(left)
}

// addChunk passes over a chunk that moves too little to turn.
func (f *huntFinder) addChunk(c *chunk, n *noise) {
	last := c.samples[len(c.samples)-1].t
	switch near := huntShare * c.maxV / 2; {
	case !f.on && c.maxV < slideFromV:
		f.last = last
	case f.on && c.minV >= slideFromV && f.keeps(c.maxV*c.maxA, c.maxA) && f.keeps(c.minV*c.minA, c.minA) && c.maxV < f.extreme+near && c.minV > f.extreme-near:
		if f.up {
			f.extreme = max(f.extreme, c.maxV)
		} else {
			f.extreme = min(f.extreme, c.minV)
		}
		f.rows += c.n
		f.open.EndS, f.open.MostA, f.last = last, max(f.open.MostA, c.maxA), last
		if f.open.Turns > 0 {
			f.open.LowV, f.open.HighV = min(f.open.LowV, c.minV), max(f.open.HighV, c.maxV)
		}
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
