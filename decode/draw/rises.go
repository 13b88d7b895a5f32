package draw

import (
	"math"
	"slices"
)

const (
	riseStepV = 1.0 // VBUS going up by this between samples opens the look at the inrush
	riseLen   = 64  // samples looked at
	riseS     = 0.5 // and time: twice tSrcTransition and slew, common practice
)

// riseFinder measures the charge that flows in when VBUS rises.
type riseFinder struct {
	open   bool
	before point
	held   []point
	out    keep[Rise]
}

func (r *riseFinder) init() {
	r.out.size = func(x Rise) float64 { return x.ChargeC }
}

func (r *riseFinder) clone() riseFinder {
	c := *r
	c.held = slices.Clone(r.held)
	c.out = r.out.clone()
	return c
}

func (r *riseFinder) add(p point, recent [recentLen]point, n noise) {
	if p.a != p.a {
		return
	}
	if !r.open {
		if p.v-recent[0].v < riseStepV || recent[0].t >= p.t {
			return
		}
		r.open, r.before, r.held = true, recent[0], r.held[:0]
	}
	r.held = append(r.held, p)
	if len(r.held) == riseLen || (p.t-r.before.t > riseS && len(r.held) >= 6) {
		r.close(n)
	}
}

// close sums the charge above the draw on each side. A sample is read as the
// mean since the one before it.
func (r *riseFinder) close(n noise) {
	r.open = false
	tail := r.held[len(r.held)-max(1, len(r.held)/3):]
	var after, toV []float64
	for _, p := range tail {
		after, toV = append(after, p.a), append(toV, p.v)
	}
	slices.Sort(after)
	slices.Sort(toV)
	end, to := after[len(after)/2], toV[len(toV)/2]
	out := Rise{TimeS: r.held[0].t, FromV: r.before.v, ToV: to, PeakA: math.Inf(-1)}
	last, dts := r.before, 0.0
	quiet := 0
	for _, p := range r.held {
		dt := p.t - last.t
		base := end
		if p.v < (r.before.v+to)/2 {
			base = r.before.a
		}
		if p.a-base < 3*n.a {
			if quiet++; quiet > 2 {
				break
			}
		} else {
			quiet = 0
		}
		out.PeakA = max(out.PeakA, p.a)
		out.ChargeC += (p.a - base) * dt
		dts += dt * dt
		last = p
	}
	out.ChargeU = math.Hypot(n.a*math.Sqrt(dts)*1.5, 0.01/math.Sqrt(3)*out.ChargeC)
	if out.PeakA > max(r.before.a, end)+6*n.a && out.ChargeC > 3*out.ChargeU && to-r.before.v >= riseStepV {
		r.out.add(out)
	}
}

func (r *riseFinder) finish(left *int) []Rise { return r.out.take(left) }
