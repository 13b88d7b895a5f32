package draw

import (
	"math"
	"slices"
)

// Follow is a steady draw that rises together with VBUS, from one contract to the next: a
// converter takes less current from more voltage, and a machine lets go of its load before
// the step (USB PD R3.2 V1.1 table 7.24, pSnkStdby). A resistor does neither.
type Follow struct {
	TimeS      float64
	FromV, ToV float64
	FromA, ToA float64
	Exponent   float64 // of the draw on the voltage; a resistor's is 1
	AtOnce     bool    // too few rows lie on the way to show that both rose together
}

// Common practice unless said.
const (
	followFromA = 0.02 // less is a controller's,
	followA     = 0.05 // and its meter's error: it counts once on either side, so that
	followRiseA = 0.03 // tells what it takes more
	followS     = 0.15 // that it is steady on either side
	followN     = 2    // rows, or
	followSoonS = 0.08 // with
	followSoonN = 8
	followGapS  = 0.6  // from the one to the other: tSrcTransition and tSrcSettle take 0.31 s (USB PD R3.2 V1.1 table 7.23)
	followV     = 1.15 // times
	followSame  = 0.03 // of VBUS
	followDrift = 0.05 // of the draw, and
	followZeroA = 0.008
	followLeast = 0.35 // exponent: a leak beside what a machine takes in standby
	followMost  = 1.15 // more is a machine that takes up its load
	followWay   = 2    // rows on the way at least that tell
	followOff   = 0.25 // of the way, from a line from end to end, for most of the rows on it
	followFills = 1.0  // of the way, that capacitors may take on top as long as VBUS rises
	followOnceS = 0.05 // in which it is all over: few machines take up their load so soon
	followMid   = 0.1  // of the way from each end
	followApart = 0.08 // between those that are kept
	followRows  = 24   // of them: 1.08 to this power is 6
)

// steady is a run of rows that stand.
type steady struct {
	n          int
	from, last float64 // times
	v, a       float64 // means
}

func (s steady) holds() bool {
	long := s.last - s.from
	return s.n >= followN && long >= followS || s.n >= followSoonN && long >= followSoonS
}

// followFinder keeps the steady draw before and the one that begins.
type followFinder struct {
	before, now steady
	way         []point // rows since the one before, each another voltage
	out         keep[Follow]
}

func newFollowFinder() *followFinder {
	return &followFinder{out: keep[Follow]{size: func(x Follow) float64 { return x.ToV - x.FromV }}}
}

func (f *followFinder) clone() finder {
	c := *f
	c.way, c.out = slices.Clone(f.way), f.out.clone()
	return &c
}

func (f *followFinder) result(r *Result, left *int) { r.Follows = f.out.take(left) }

// add takes a sample with both quantities.
func (f *followFinder) add(p point, _ *noise) {
	s := &f.now
	if s.n > 0 && (math.Abs(p.v-s.v) > followSame*s.v || math.Abs(p.a-s.a) > followDrift*s.a+followZeroA || p.t-s.last > followGapS) {
		if s.holds() {
			f.before, f.way = *s, f.way[:0]
		}
		*s = steady{from: p.t}
	}
	from := f.before.v
	if n := len(f.way); n > 0 {
		from = f.way[n-1].v
	}
	if len(f.way) < followRows && math.Abs(p.v-from) > followApart*from {
		f.way = append(f.way, p)
	}
	if s.n == 0 {
		s.from = p.t
	}
	held := s.holds()
	s.n++
	s.v += (p.v - s.v) / float64(s.n)
	s.a += (p.a - s.a) / float64(s.n)
	s.last = p.t
	if !held && s.holds() {
		f.step()
	}
}

// step judges a draw that has become steady against the one before it.
func (f *followFinder) step() {
	b, s := f.before, f.now
	if b.n == 0 || b.v < onVolts || s.v < followV*b.v || b.a < followFromA || s.a < followA || s.a-b.a < followRiseA || s.from-b.last > followGapS {
		return
	}
	ok, atOnce := f.straight()
	if !ok {
		return
	}
	exponent := math.Log(s.a/b.a) / math.Log(s.v/b.v)
	if exponent > followLeast && exponent < followMost {
		f.out.add(Follow{TimeS: s.from, FromV: b.v, ToV: s.v, FromA: b.a, ToA: s.a, Exponent: exponent, AtOnce: atOnce})
	}
}

// straight reports rows on the way in which the draw has risen as far as VBUS, but for what
// fills capacitors meanwhile; atOnce says that there are too few to tell, and that it was over
// before a machine takes up its load. The mean of a row that both ends share lies on any line.
func (f *followFinder) straight() (ok, atOnce bool) {
	var off []float64
	for _, p := range f.way {
		v, a := (p.v-f.before.v)/(f.now.v-f.before.v), (p.a-f.before.a)/(f.now.a-f.before.a)
		if v >= followMid && v <= 1-followMid {
			off = append(off, a-v)
		}
	}
	slices.Sort(off)
	if len(off) < followWay {
		quick := f.now.from-f.before.last <= followOnceS
		return quick && (len(off) == 0 || off[0] >= -followOff && off[0] <= followFills), true
	}
	fills := 0.0
	if len(off) > followWay { // fewer are no proof of it
		fills = min(followFills, max(0, off[len(off)/2]))
	}
	fits := 0
	for _, x := range off {
		if math.Abs(x-fills) <= followOff {
			fits++
		}
	}
	return 2*fits > len(off), false
}

// addChunk takes a chunk at once that goes on as the rows before it.
func (f *followFinder) addChunk(c *chunk, n *noise) {
	s := &f.now
	near := followDrift*s.a + followZeroA
	if s.holds() && c.minV > s.v*(1-followSame) && c.maxV < s.v*(1+followSame) && c.minA > s.a-near && c.maxA < s.a+near {
		n := float64(c.n)
		s.n += c.n
		s.v += (c.sV/n - s.v) * n / float64(s.n)
		s.a += (c.sA/n - s.a) * n / float64(s.n)
		s.last = c.t1
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
