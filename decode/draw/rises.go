package draw

import (
	"math"
	"slices"
)

const (
	riseStepV  = 1.0  // VBUS going up by this between samples opens the look at the inrush
	stillV     = 0.2  // VBUS stands where it moves by less between samples: vSrcNeg and vSrcValid are 0.5 V, USB PD R3.2 V1.1 table 7.23
	riseAfter  = 5    // samples looked at once VBUS stands
	riseAfterS = 0.25 // and the time: longer is a draw, not a charge
	riseSlowS  = 0.11 // a sample that stands for longer mixes the charge with the draw of the contract before
	riseLen    = 64
)

// riseFinder measures the charge that flows in when VBUS rises.
type riseFinder struct {
	open   bool
	before point
	held   []point
	still  int
	stillT float64
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
	up := p.v - recent[0].v
	if r.open && r.still >= 1 && up >= riseStepV {
		r.close(n) // a second rise
	}
	if !r.open {
		if up < riseStepV || recent[0].t >= p.t || p.t-recent[0].t > riseSlowS {
			return
		}
		r.open, r.before, r.held, r.still, r.stillT = true, recent[0], r.held[:0], 0, p.t
	}
	r.held = append(r.held, p)
	if math.Abs(up) < stillV {
		r.still++
	} else {
		r.still, r.stillT = 0, p.t
	}
	if len(r.held) == riseLen || r.still == riseAfter || p.t-r.stillT > riseAfterS {
		r.close(n)
	}
}

// close sums the charge above the draw on each side. A sample is read as the
// mean since the one before it.
func (r *riseFinder) close(n noise) {
	r.open = false
	tail := r.held[len(r.held)-min(3, len(r.held)):]
	after := make([]float64, len(tail))
	for i, p := range tail {
		after[i] = p.a
	}
	slices.Sort(after)
	end, to := after[len(after)/2], tail[len(tail)-1].v
	base := max(r.before.a, end)
	out := Rise{TimeS: r.held[0].t, FromV: r.before.v, ToV: to, PeakA: math.Inf(-1)}
	last, squares := r.before, 0.0
	for _, p := range r.held {
		dt := p.t - last.t
		last = p
		if over := p.a - base; over > 3*n.a {
			out.PeakA = max(out.PeakA, p.a)
			out.ChargeC += over * dt
			squares += dt * dt
		}
	}
	// the draw beneath is known to the noise, the charge to the meter's error
	out.ChargeU = math.Hypot(2*n.a*math.Sqrt(squares), accuracyShare*rectangular*out.ChargeC)
	if out.PeakA > base+spikeSigmas*n.a && out.ChargeC > 3*out.ChargeU && to-r.before.v >= riseStepV {
		r.out.add(out)
	}
}

func (r *riseFinder) finish(left *int) []Rise { return r.out.take(left) }
