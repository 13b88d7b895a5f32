package draw

// Twitches are the times that VBUS rose a little and went while no current flowed through the
// meter: a source tries into a short that lies before it.
type Twitches struct {
	Count  int
	FirstS float64
	MostV  float64
}

// Common practice.
const (
	twitchRestV  = 0.1  // a meter's zero
	twitchLeastV = 0.2  // the drop of a lead into a short
	twitchMostV  = 3.0  // what a try comes to
	twitchA      = 0.02 // a short behind the meter takes amperes, and leaves more than that in any row
	twitchMostS  = 1.0
)

// twitchFinder follows VBUS from nothing and back.
type twitchFinder struct {
	rests  bool // nothing is there
	up     bool
	startS float64
	mostV  float64
	out    Twitches
}

func (f *twitchFinder) clone() finder {
	c := *f
	return &c
}

func (f *twitchFinder) result(r *Result, _ *int) { r.Twitches = f.out }

// add takes a sample with both quantities.
func (f *twitchFinder) add(p point, _ *noise) {
	flows := p.a > twitchA
	switch {
	case p.v <= twitchRestV && !flows:
		if f.up && f.mostV >= twitchLeastV && p.t-f.startS <= twitchMostS {
			if f.out.Count++; f.out.Count == 1 {
				f.out.FirstS = f.startS
			}
			f.out.MostV = max(f.out.MostV, f.mostV)
		}
		f.rests, f.up = true, false
	case flows || p.v > twitchMostV: // a load behind the meter, or VBUS that comes up
		f.rests, f.up = false, false
	case f.up:
		f.mostV = max(f.mostV, p.v)
	case f.rests:
		f.up, f.startS, f.mostV = true, p.t, p.v
	}
}

// addChunk passes over what changes nothing.
func (f *twitchFinder) addChunk(c *chunk, n *noise) {
	stands := c.minV > twitchMostV && !f.rests && !f.up
	if stands || f.rests && !f.up && c.maxV <= twitchRestV && c.maxA <= twitchA {
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
