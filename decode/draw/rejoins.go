package draw

import "math"

// Rejoins are the times that VBUS went from a contract's voltage to nothing and was back at it
// without a moment at 5 V: a source that had taken it away would begin there, so a lead before the
// meter was open.
type Rejoins struct {
	Count  int
	FirstS float64 // when it was back
}

// Common practice.
const (
	rejoinFromV  = 7.0  // what stands higher is a contract's
	rejoinOffV   = 3.3  // what is left in capacitors may lie above nothing
	rejoinEveryS = 0.06 // rows further apart may pass over 5 V: tTypeCSendSourceCap is 100 ms at least (USB PD R3.2 V1.1 table 6.68)
	rejoinLeastS = 0.01 // a row of nothing may be the meter's
	rejoinMostS  = 5.0
	rejoinSame   = 0.05 // of the voltage before
)

// rejoinFinder follows VBUS down and up again.
type rejoinFinder struct {
	stoodV float64 // 0: no contract stood
	off    bool
	offS   float64 // since then
	rows   int     // off
	way    int     // rows on the way up
	lastS  float64
	out    Rejoins
}

func (f *rejoinFinder) clone() finder {
	c := *f
	return &c
}

func (f *rejoinFinder) result(r *Result, _ *int) { r.Rejoins = f.out }

// add takes a sample with both quantities.
func (f *rejoinFinder) add(p point, _ *noise) {
	if p.t-f.lastS > rejoinEveryS {
		f.stoodV, f.off = 0, false
	}
	f.lastS = p.t
	switch {
	case p.v >= rejoinFromV:
		f.back(p)
		f.stoodV, f.off = p.v, false
	case p.v > rejoinOffV:
		if f.way++; f.off && f.way > 1 { // it is seen at 5 V
			f.stoodV, f.off = 0, false
		}
	case f.stoodV == 0:
	case !f.off:
		f.off, f.offS, f.rows, f.way = true, p.t, 1, 0
	default:
		f.rows++
	}
}

// back takes the first row above 5 V.
func (f *rejoinFinder) back(p point) {
	lasts := p.t - f.offS
	if !f.off || f.rows < 2 || lasts < rejoinLeastS || lasts > rejoinMostS || math.Abs(p.v-f.stoodV) > rejoinSame*f.stoodV {
		return
	}
	if f.out.Count++; f.out.Count == 1 {
		f.out.FirstS = p.t
	}
}

// addChunk passes over VBUS that stands, or is off.
func (f *rejoinFinder) addChunk(c *chunk, n *noise) {
	samples := c.samples
	first, last := samples[0], samples[len(samples)-1]
	if every := (c.t1 - c.t0) / float64(max(1, len(samples)-1)); every <= rejoinEveryS && first.t-f.lastS <= rejoinEveryS {
		switch {
		case c.minV >= rejoinFromV && !f.off:
			f.stoodV, f.lastS = last.v, last.t
			return
		case c.maxV <= rejoinOffV && (f.off || f.stoodV == 0):
			f.rows, f.lastS = f.rows+len(samples), last.t
			return
		}
	}
	for _, p := range samples {
		f.add(p, n)
	}
}
