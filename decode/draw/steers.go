package draw

import (
	"math"
	"slices"

	"portside/pd"
)

// Steer is VBUS that steps from one voltage to another under a draw that does not move it:
// a source does so when it is asked, as PPS is (USB PD R3.2 V1.1 table 7.23, vPpsStep).
type Steer struct {
	TimeS      float64
	FromV, ToV float64
}

// Common practice unless said.
const (
	steerRows   = 3
	steerEdge   = 2      // rows at either end that tell how VBUS drifts meanwhile
	steerLevelS = 0.5    // that VBUS stands on either side; PPS is asked anew within 10 s, most each second or so
	steerFirstS = 0.08   // and before the draw begins
	steerFlat   = 0.0025 // of VBUS, about its mean
	steerSigmas = 3.0
	steerLeast  = 0.007 // of VBUS: steps of less are drift
	steerDrift  = 3.0   // times what VBUS moves while it stands
	steerWayS   = 0.025 // from level to level beyond what a source may take,
	steerWay    = 1.6   // and so many rows of a slow meter: one lies on the way
	steerDrawA  = 0.3
	steerBeyond = 0.005 // beyond the window of a fixed voltage, and
	steerBelow  = 0.01  // below the next
	steerMost   = 1.024 // times what PPS ends at, a meter's error in it

	steersOff   = 2    // steps beside a voltage that no fixed supply has
	steersUp    = 5    // or of those alone that go up, this many
	steersShare = 4    // and for each that goes down so many,
	steersClimb = 1.05 // with VBUS higher by this in the end
)

// stand is a run of rows whose voltage stands, but for what the draw takes in a sound cable.
type stand struct {
	n           int
	first, last float64 // times
	v, a        float64 // means
	firstV      float64 // of its first rows, and its last
	lastV       float64
}

func (s *stand) takes(p point, n *noise) bool {
	return math.Abs(p.v-s.v) <= s.near(n)+cableOhm()*math.Abs(p.a-s.a)
}

// near is how far a row may lie off: VBUS that moves from row to row looks like noise.
func (s *stand) near(n *noise) float64 {
	return steerFlat*s.v + min(steerSigmas*n.v, steerLeast*s.v/2) + n.qv
}

func (s *stand) add(p point) {
	if s.n == 0 {
		s.first, s.firstV, s.lastV = p.t, p.v, p.v
	}
	s.n++
	s.last = p.t
	s.v += (p.v - s.v) / float64(s.n)
	s.a += (p.a - s.a) / float64(s.n)
	if s.n <= steerEdge {
		s.firstV += (p.v - s.firstV) / float64(s.n)
	}
	s.lastV += (p.v - s.lastV) / steerEdge
}

func (s *stand) holds() bool { return s.n >= steerRows && s.last-s.first >= steerLevelS }

// steerFinder keeps the last voltage that stood, and the one that may.
type steerFinder struct {
	before, now stand
	low, high   float64 // of the rows between them
	top         float64 // at which VBUS stood
	ups, downs  int
	out         keep[Steer]
}

func newSteerFinder() *steerFinder {
	return &steerFinder{out: keep[Steer]{size: func(s Steer) float64 { return math.Abs(s.ToV - s.FromV) }}}
}

func (f *steerFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

// add takes a sample with both quantities.
func (f *steerFinder) add(p point, n *noise) {
	s := &f.now
	if p.v < slideFromV || s.n > 0 && p.t-s.last > max(partS, gapFactor*n.intervalS) {
		f.end()
		f.before, f.now = stand{}, stand{}
		return
	}
	if s.n > 0 && !s.takes(p, n) {
		f.end()
		*s = stand{}
	}
	s.add(p)
}

// end judges the run that ends: it is a step from the one before, or lies on the way.
func (f *steerFinder) end() {
	s := f.now
	if s.n >= steerRows && s.last-s.first >= steerFirstS {
		f.top = max(f.top, s.v)
	}
	if !s.holds() {
		if s.n > 0 {
			f.low, f.high = min(f.low, s.v), max(f.high, s.v)
		}
		return
	}
	b := f.before
	if f.stepped(b, s) {
		if s.v > b.v {
			f.ups++
		} else {
			f.downs++
		}
		f.out.add(Steer{TimeS: s.first, FromV: b.v, ToV: s.v})
	}
	f.before, f.low, f.high = s, math.Inf(1), 0
}

// stepped reports a step that the draw does not explain, straight from level to level.
func (f *steerFinder) stepped(b, s stand) bool {
	step := math.Abs(s.v - b.v)
	if b.n == 0 || min(b.a, s.a) < steerDrawA || s.first-b.last > steerWayS+pd.TPpsSrcTransLarge.Limits(pd.Revision32).MaxSI()+steerWay*(s.last-s.first)/float64(s.n-1) {
		return false
	}
	if step < steerLeast*b.v || step < 2*cableOhm()*math.Abs(s.a-b.a) {
		return false
	}
	if step < steerDrift*max(math.Abs(b.lastV-b.firstV), math.Abs(s.lastV-s.firstV)) {
		return false
	}
	least, most := min(b.v, s.v), max(b.v, s.v)
	return f.low >= least-step/4 && f.high <= most+step/4
}

// steerMostV is the highest voltage that a programmable supply shows.
func steerMostV() float64 { return steerMost * pd.PPSMaxVoltage.Volts() }

// cableOhm is the most that a sound cable takes.
func cableOhm() float64 {
	drop := pd.VCableDropVBUS.Limits(pd.Revision32).MaxSI() + pd.VCableDropGND.Limits(pd.Revision32).MaxSI()
	return drop / pd.CableCurrentDefault.Amps()
}

// aboveFixed reports a voltage that no fixed supply has, nor one of them behind a poor lead.
func aboveFixed(v float64) bool {
	beyond := false
	for _, n := range nominals {
		w, _ := pd.FixedWindow(pd.Millivolts(1000 * n))
		if n >= v {
			return beyond && v < w.Min*(1-steerBelow) && v < steerMostV()
		}
		beyond = v > w.Max*(1+steerBeyond)
	}
	return false
}

// result says what was found where enough steps tell a supply that is steered, and takes its
// steps down out of the collapses.
func (f *steerFinder) result(r *Result, left *int) {
	f.end()
	f.before, f.now = stand{}, stand{}
	steers := f.out.take(left)
	off := aboveFixed(f.top) && f.ups >= steersOff
	climbs := f.top < steerMostV() && f.ups >= steersUp && f.ups >= steersShare*f.downs && steers[len(steers)-1].ToV > steersClimb*steers[0].FromV
	if !off && !climbs {
		return
	}
	r.Steers = steers
	r.Collapses = slices.DeleteFunc(r.Collapses, func(c Collapse) bool {
		return slices.ContainsFunc(steers, func(s Steer) bool {
			return s.ToV < s.FromV && s.TimeS >= c.TimeS-minGapS && s.TimeS <= c.TimeS+minGapS && math.Abs(c.ToV-s.ToV) < steerLeast*2*s.ToV
		})
	})
}

// addChunk takes a chunk at once that goes on as the rows before it.
func (f *steerFinder) addChunk(c *chunk, n *noise) {
	s := &f.now
	near := s.near(n)
	if s.n >= steerRows && c.minV > s.v-near && c.maxV < s.v+near {
		m := float64(c.n)
		s.n += c.n
		s.v += (c.sV/m - s.v) * m / float64(s.n)
		s.a += (c.sA/m - s.a) * m / float64(s.n)
		s.last, s.lastV = c.t1, c.sV/m
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
