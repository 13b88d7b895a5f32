package draw

// ColdTries are the times that current flowed from the first moment into a VBUS that did not
// come up: the input switches are still open then, and what takes it stands before them.
type ColdTries struct {
	Count  int
	FirstS float64
	PeakA  float64
}

// Common practice.
const (
	coldA     = 0.3  // more than a start takes that comes to nothing for another reason
	coldRestA = 0.05 // between two tries
	coldOhm   = 4.0  // what takes so much of a few volts holds VBUS down
)

// coldFinder follows VBUS from 0 V on.
type coldFinder struct {
	off    bool // VBUS is off, and nothing flows
	trying bool
	startS float64
	peakA  float64
	out    ColdTries
}

func (f *coldFinder) clone() finder {
	c := *f
	return &c
}

func (f *coldFinder) result(r *Result, _ *int) { r.Cold = f.out }

// add takes a sample with both quantities.
func (f *coldFinder) add(p point, _ *noise) {
	rests := p.v <= offVolts && p.a <= coldRestA
	switch {
	case rests && f.trying && f.peakA >= coldA:
		if f.out.Count == 0 {
			f.out.FirstS = f.startS
		}
		f.out.Count++
		f.out.PeakA = max(f.out.PeakA, f.peakA)
		fallthrough
	case rests:
		f.off, f.trying = true, false
	case p.v >= FiveFrom || p.v >= heldBelowV && p.a < p.v/coldOhm: // it comes up, or stands
		f.off, f.trying = false, false
	case f.trying:
		f.peakA = max(f.peakA, p.a)
	case f.off:
		f.off, f.trying, f.startS, f.peakA = false, true, p.t, p.a
	}
}

// addChunk passes over what changes nothing.
func (f *coldFinder) addChunk(c *chunk, n *noise) {
	stands := c.minV >= heldBelowV && !f.off && !f.trying
	if stands || f.off && c.maxV <= offVolts && c.maxA <= coldRestA {
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
