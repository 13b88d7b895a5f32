package draw

// Drain is VBUS that goes from a contract as fast as the machine draws, and more slowly once it
// draws less: the capacitors of a source that neither feeds them any more nor takes them down.
type Drain struct {
	StartS, EndS float64
	FromV        float64
	AtA          float64 // while it fell fast
}

// Common practice unless said.
const (
	drainTopV  = 0.9 // of what stood: below it VBUS is on its way
	drainMostA = 0.3 // what draws more may have tripped the source
	drainLess  = 0.5 // of the draw so far: it has let go
	drainRows  = 4   // of each
	drainFallV = 1.0 // that VBUS falls under the draw, and would fall on by in as long as is then looked at
	drainSlows = 0.6 // a resistor across VBUS slows it in proportion to what is left; more than that is due to the draw
	drainCreep = 0.1 // V that it falls on by, unless it lies below 5 V: a source in regulation holds what it gives
	drainC     = 0.2e-3
)

// stretch is a part of a fall under one draw.
type stretch struct {
	n          int
	fromS, toS float64
	fromV, toV float64
	chargeC    float64
}

// take adds the step that leads to a row.
func (s *stretch) take(from, to point) {
	if s.n == 0 {
		s.fromS, s.fromV = from.t, from.v
	}
	s.n++
	s.toS, s.toV = to.t, to.v
	s.chargeC += to.a * (to.t - from.t)
}

func (s *stretch) amps() float64 { return s.chargeC / (s.toS - s.fromS) }

func (s *stretch) fallV() float64 { return s.fromV - s.toV }

// drainFinder follows VBUS down.
type drainFinder struct {
	ref        float64 // what VBUS stood at; 0 where that is not known
	since      float64 // from when on
	top        point   // the last sample there
	last       point
	falls      bool // the row before was on its way already
	fast, slow stretch
	less       bool // the row before drew less: the one in which it let go is of both
	shown      bool // that the draw alone took it down
	out        keep[Drain]
}

func newDrainFinder() *drainFinder {
	return &drainFinder{out: keep[Drain]{size: func(d Drain) float64 { return d.EndS - d.StartS }}}
}

func (f *drainFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

func (f *drainFinder) result(r *Result, left *int) { r.Drains = f.out.take(left) }

// add takes a sample with both quantities.
func (f *drainFinder) add(p point, n *noise) {
	before := f.last
	f.last = p
	switch {
	case f.ref == 0, p.t-before.t > max(minGapS, gapFactor*n.intervalS), p.v > before.v+riseShare*f.ref, p.v > slideOver*f.ref:
		f.begin(p)
	case !f.falls && p.v >= topShare*f.ref:
		f.top = p
	case f.top.t-f.since < stoodS || p.t-f.top.t > runOutS:
		f.begin(p)
	case !f.falls:
		f.falls = p.v < drainTopV*f.ref
	case p.v < offVolts:
		f.end(p)
	default:
		f.follow(before, p)
	}
}

// begin waits for VBUS to stand.
func (f *drainFinder) begin(p point) {
	f.ref, f.since, f.top, f.falls, f.shown = 0, p.t, p, false, false
	f.fast, f.slow, f.less = stretch{}, stretch{}, false
	if p.v >= slideFromV {
		f.ref = p.v
	}
}

// follow takes a step on the way down.
func (f *drainFinder) follow(from, to point) {
	draws := to.a >= runOutA && to.a <= drainMostA
	switch {
	case !f.less && draws && (f.fast.n == 0 || to.a > drainLess*f.fast.amps()):
		f.fast.take(from, to)
	case f.fast.n >= drainRows && to.a <= drainLess*f.fast.amps():
		if !f.less {
			f.less = true
			return
		}
		f.slow.take(from, to)
		f.shown = f.shown || f.slows()
	case draws && !f.less:
		f.fast = stretch{}
		f.fast.take(from, to)
	}
}

// slows reports a fall that went with the draw.
func (f *drainFinder) slows() bool {
	fast, slow := &f.fast, &f.slow
	farads := fast.chargeC / fast.fallV()
	if slow.n < drainRows || fast.fallV() < drainFallV || farads < drainC {
		return false
	}
	speed, takesS := fast.fallV()/(fast.toS-fast.fromS), slow.toS-slow.fromS
	left := (slow.fromV + slow.toV) / (fast.fromV + fast.toV)
	held := slow.toV >= FiveFrom && slow.fallV() < drainCreep
	return !held && speed*takesS >= drainFallV && slow.fallV() <= drainSlows*left*speed*takesS
}

// end keeps what has gone.
func (f *drainFinder) end(p point) {
	if f.shown {
		f.out.add(Drain{StartS: f.top.t, EndS: p.t, FromV: f.ref, AtA: f.fast.amps()})
	}
	f.begin(p)
}

// addChunk passes over a chunk that stands where VBUS stood, and one without VBUS.
func (f *drainFinder) addChunk(c *chunk, n *noise) {
	last := c.samples[len(c.samples)-1]
	switch {
	case f.ref > 0 && !f.falls && c.minV >= topShare*f.ref && c.maxV-c.minV <= riseShare*f.ref && c.maxV <= slideOver*f.ref:
		f.top, f.last = last, last
	case f.ref == 0 && c.maxV < slideFromV:
		f.last = last
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
