package draw

// FromZero are rises of VBUS in which the draw is a resistor's from the first volt on: the
// input switches close above 3 V at the earliest, and no converter takes less current from
// less voltage.
type FromZero struct {
	Count  int
	FirstS float64
	Ohm    float64 // of the first
}

// Common practice.
const (
	fromZeroLowV  = 0.9
	fromZeroSpanV = 1.5  // that the rows span at least
	fromZeroA     = 0.08 // the least of them
	fromZeroRows  = 3
	fromZeroShare = 0.2 // of each other; a capacitor's current does not go with the voltage

	fromZeroFew  = 0.04 // of what stands then, where fewer rows fall into the rise:
	fromZeroFewA = 0.3  // as far as they go,
	fromZeroFewS = 0.13 // and no further apart: what begins 5 ms later misses a tenth of such a row
)

// fromZeroFinder follows VBUS up.
type fromZeroFinder struct {
	off         bool // VBUS was off before
	n           int
	firstS      float64
	lowV, highV float64
	least, most float64 // conductances
	sum         float64
	out         FromZero
}

func (f *fromZeroFinder) clone() finder {
	c := *f
	return &c
}

func (f *fromZeroFinder) result(r *Result, _ *int) { r.FromZero = f.out }

// add takes a sample with both quantities.
func (f *fromZeroFinder) add(p point, _ *noise) {
	switch {
	case p.v <= offVolts:
		*f = fromZeroFinder{off: true, out: f.out}
	case !f.off:
	case p.v > FiveFrom:
		f.end(p)
	case p.v >= fromZeroLowV && (f.n == 0 || p.v > f.highV):
		g := p.a / p.v
		if f.n == 0 {
			f.firstS, f.lowV, f.least, f.most = p.t, p.v, g, g
		}
		f.n++
		f.sum += g
		f.highV, f.least, f.most = p.v, min(f.least, g), max(f.most, g)
	case p.v < f.highV: // it falls again
		f.off = false
	}
}

// end takes the row that VBUS has come up in.
func (f *fromZeroFinder) end(up point) {
	f.off = false
	many := f.n >= fromZeroRows && f.highV-f.lowV >= fromZeroSpanV && f.least*f.lowV >= fromZeroA && f.most <= f.least*(1+fromZeroShare)
	if !many && !f.few(up) {
		return
	}
	if f.out.Count == 0 {
		f.out.FirstS, f.out.Ohm = f.firstS, float64(f.n)/f.sum
	}
	f.out.Count++
}

// few reports that the row or two in the rise took what stands then.
func (f *fromZeroFinder) few(up point) bool {
	g := up.a / up.v
	return f.n > 0 && f.n < fromZeroRows && f.least*f.lowV >= fromZeroFewA && up.t-f.firstS <= fromZeroFewS*float64(f.n) &&
		f.most <= g*(1+fromZeroFew) && f.least >= g*(1-fromZeroFew)
}

// addChunk passes over a chunk without VBUS, and one in which it stands.
func (f *fromZeroFinder) addChunk(c *chunk, n *noise) {
	switch {
	case c.maxV <= offVolts:
		f.off, f.n, f.sum = true, 0, 0
	case !f.off && c.minV > offVolts:
	default:
		for _, p := range c.samples {
			f.add(p, n)
		}
	}
}
