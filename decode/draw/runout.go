package draw

import "portside/pd"

// RunOut is VBUS that goes to nothing because its supply is gone, and the draw empties the
// source's capacitors: under a light draw more slowly than a source may take to discharge
// it; under a working one it sags first, and goes on falling once the machine has let go.
type RunOut struct {
	StartS, EndS float64
	FromV        float64
	AtA          float64 // the draw as it begins to fall
}

// Common practice unless said.
const (
	runOutFoot = 0.9   // of what stood: the draw must go on there, as it does not once a plug is pulled
	runOutGoes = 0.6   // of the draw before
	runOutA    = 0.02  // at least: a meter's offset is up to 10 mA (data sheet SBOS844C)
	runOutMost = 0.3   // A: what draws more may have tripped the source, unless it lets go and VBUS does not come back
	runOutOver = 1.3   // of the draw before: constant power takes as much down to three quarters of VBUS
	runOutLets = 0.05  // A: what is left once the machine has let go
	runOutLast = 0.15  // s that it draws on at most: a source in its limit holds for longer
	runOutRowS = 0.015 // rows further apart mix the sag with the plug that is pulled
	runOutFree = 0.25  // s that VBUS then falls by itself at least
	runOutToV  = 2.5
	runOutS    = 10.0 // slower is no fall
	riseShare  = 0.03
)

// runOutFinder follows VBUS down.
type runOutFinder struct {
	ref   float64 // what VBUS stood at
	since float64 // from when on
	top   point   // the last sample there
	drew  float64 // the mean of the last whole stretch of it, each of stoodS
	sumA  float64 // of the stretch that goes on
	n     int
	fromS float64 // when that began
	foot  bool    // it passed runOutFoot with its draw, or topShare with a working one
	freeS float64 // when a working draw had let go
	last  point
	out   keep[RunOut]
}

func newRunOutFinder() *runOutFinder {
	return &runOutFinder{out: keep[RunOut]{size: func(r RunOut) float64 { return r.EndS - r.StartS }}}
}

func (f *runOutFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

func (f *runOutFinder) result(r *Result, left *int) { r.RunOuts = f.out.take(left) }

// add takes a sample with both quantities.
func (f *runOutFinder) add(p point, n *noise) {
	gap := p.t-f.last.t > max(minGapS, gapFactor*n.intervalS)
	rises := p.v > f.last.v+riseShare*f.ref
	f.last = p
	switch {
	case gap, f.ref == 0, rises, p.v > slideOver*f.ref:
		f.ref, f.since, f.foot, f.freeS = 0, p.t, false, 0
		f.drew, f.sumA, f.n, f.fromS = 0, 0, 0, p.t
		if p.v >= slideFromV {
			f.ref, f.top = p.v, p
		}
	case p.v >= topShare*f.ref:
		f.stand(p, p.a, 1)
	case f.top.t-f.since < stoodS:
		f.ref = 0
	case f.drew > runOutMost:
		f.loaded(p, n)
	case !f.foot && p.v <= runOutFoot*f.ref:
		f.foot = p.a >= runOutA && p.a >= runOutGoes*f.drew
		if !f.foot {
			f.ref = 0
		}
	case p.v <= runOutToV:
		took := p.t - f.top.t
		if longest := pd.TSafe0V.Limits(pd.Revision3x).MaxSI(); f.foot && took > longest+2*n.intervalS && took < runOutS {
			f.out.add(RunOut{StartS: f.top.t, EndS: p.t, FromV: f.ref, AtA: f.drew})
		}
		f.ref = 0
	}
}

// loaded follows VBUS down from a working draw: the plug that is pulled ends the draw first,
// and a source that was tripped comes back, or is taken down at once.
func (f *runOutFinder) loaded(p point, n *noise) {
	free := f.freeS > 0
	switch {
	case !f.foot:
		f.foot = n.intervalS <= runOutRowS && p.a >= runOutGoes*f.drew && p.a <= runOutOver*f.drew
		if !f.foot {
			f.ref = 0
		}
	case free && p.a > 2*runOutLets, !free && (p.a > runOutOver*f.drew || p.t-f.top.t > runOutLast):
		f.ref = 0
	case !free && p.a <= runOutLets:
		f.freeS = p.t
	case p.v <= runOutToV:
		if free && p.t-f.freeS >= runOutFree && p.t-f.freeS < runOutS {
			f.out.add(RunOut{StartS: f.top.t, EndS: p.t, FromV: f.ref, AtA: f.drew})
		}
		f.ref = 0
	}
}

// stand takes rows that stand, up to the last of them, with the sum of their currents.
func (f *runOutFinder) stand(last point, sumA float64, n int) {
	f.top = last
	f.sumA, f.n = f.sumA+sumA, f.n+n
	if last.t-f.fromS >= stoodS {
		f.drew, f.sumA, f.n, f.fromS = f.sumA/float64(f.n), 0, 0, last.t
	}
}

// addChunk passes over a chunk that stands where VBUS stood, and one without VBUS.
func (f *runOutFinder) addChunk(c *chunk, n *noise) {
	last := c.samples[len(c.samples)-1]
	switch {
	case f.ref > 0 && !f.foot && c.minV >= topShare*f.ref && c.maxV <= slideOver*f.ref:
		f.stand(last, c.sA, c.n)
		f.last = last
	case f.ref == 0 && c.maxV < slideFromV:
		f.last = last
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
