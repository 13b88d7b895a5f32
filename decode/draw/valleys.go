package draw

import "math"

// Valleys of VBUS that come with the mains: a bulk capacitor too small for the load runs
// empty between two crests, and the source falls short for a moment.

// Common practice, but for the frequencies of mains.
const (
	valleyShare  = 0.008 // of VBUS: a sound cable's drop under a step is about as much, at no beat
	valleySigmas = 6.0
	valleyDeep   = 0.035 // of VBUS, the deepest: a sound source's ripple is a few tenths of a volt
	valleyOhm    = 1.2   // less is what a pulsing load takes from a lead, as humOhm
	valleyMostS  = 0.008 // a longer one is another level
	valleyApart  = 4     // crests from one valley to the next at most
	valleyOff    = 1.01  // rows that one may be off
	valleyShareS = 0.004 // of the time since the last one, for a clock that is off
	valleyCount  = 25
	valleyOn     = 0.85 // of them that keep to the mains
	valleyWindow = 5    // of them tell as much as a window of a swing
	valleyTrackS = 0.05 // in which what VBUS and the draw stand at is followed
)

// valleys counts them.
type valleys struct {
	v, a   float64 // what VBUS and the draw stand at
	last   float64 // time of the last sample
	in     bool
	from   float64 // begin of the one that is open, or of the last
	deep   float64
	drawn  float64 // the draw at its deepest, above what it stands at
	first  float64
	to     float64
	depth  float64 // the largest
	count  int
	onTime [len(humHz)]int
	atA    float64
}

// add takes a sample with both quantities, in rows that show such a thing.
func (f *valleys) add(p point, n *noise) {
	dt := p.t - f.last
	if dt > humRowS || f.v == 0 || p.v < onVolts {
		f.v, f.a, f.in = p.v, p.a, false
		f.last = p.t
		return
	}
	f.last = p.t
	bar := max(valleyShare*f.v, valleySigmas*n.v)
	switch {
	case f.v-p.v > bar && !f.in:
		f.in, f.deep, f.drawn = true, 0, 0
		f.begins(p.t, dt)
		fallthrough
	case f.v-p.v > bar:
		if d := f.v - p.v; d > f.deep {
			f.deep, f.drawn = d, p.a-f.a
		}
		if p.t-f.from > valleyMostS { // it stands lower
			f.v, f.a, f.in = p.v, p.a, false
		}
		return
	case f.in:
		f.in = false
		f.ends(p.t)
	}
	share := min(1, dt/valleyTrackS)
	f.v, f.a = f.v+share*(p.v-f.v), f.a+share*(p.a-f.a)
}

// begins holds the time from the last one against the mains.
func (f *valleys) begins(t, row float64) {
	d := t - f.from
	f.from = t
	for i, hz := range humHz {
		k := math.Round(d * hz)
		if k >= 1 && k <= valleyApart && math.Abs(d-k/hz) <= valleyOff*row+valleyShareS*d {
			f.onTime[i]++
		}
	}
}

// ends takes one whose depth no lead explains.
func (f *valleys) ends(t float64) {
	if f.deep < valleyOhm*f.drawn {
		return
	}
	if f.count == 0 {
		f.first = f.from
	}
	f.count++
	f.to = t
	if f.deep > f.depth {
		f.depth, f.atA = f.deep, f.a
	}
}

// hum is what they say, nil where they keep to no mains.
func (f *valleys) hum() *Hum {
	best := 0
	for i := range humHz {
		if f.onTime[i] > f.onTime[best] {
			best = i
		}
	}
	if f.count < valleyCount || f.depth < valleyDeep*f.v || float64(f.onTime[best]) < valleyOn*float64(f.count-1) {
		return nil
	}
	return &Hum{StartS: f.first, EndS: f.to, Hz: humHz[best], AmpV: f.depth / 2, AtA: f.atA, Windows: max(f.count/valleyWindow, int((f.to-f.first)/humS))}
}

// still reports a chunk in which nothing of it happens, and passes over it.
func (f *valleys) still(c *chunk, n *noise) bool {
	bar := max(valleyShare*f.v, valleySigmas*n.v)
	if f.in || f.v == 0 || f.v-c.minV > bar || c.maxV-f.v > bar {
		return false
	}
	last := c.samples[len(c.samples)-1]
	share := min(1, (c.t1-c.t0)/valleyTrackS)
	f.v, f.a = f.v+share*(last.v-f.v), f.a+share*(last.a-f.a)
	f.last = last.t
	return true
}
