package draw

import (
	"math"
	"slices"
)

const (
	riseStepV  = 1.0   // VBUS going up by this between samples opens the look at the inrush
	stillV     = 0.2   // VBUS stands where it moves by less between samples, or in riseLookS: vSrcNeg and vSrcValid are 0.5 V, USB PD R3.2 V1.1 table 7.23
	riseAfter  = 5     // samples looked at once VBUS stands
	riseAfterS = 0.25  // and the time: longer is a draw, not a charge
	riseSlowS  = 0.11  // a sample that stands for longer mixes the charge with the draw of the contract before
	riseStillS = 0.003 // for so long at the least: inputs fill within milliseconds, common practice
	riseLookS  = 0.001 // rows nearer than this are too near to tell whether VBUS moves
	riseLen    = 256
	// A capacitor takes its charge while VBUS moves: the mean that holds it lies before this
	// share of the step, but for one in 30.
	arrivedShare = 0.97
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

// add takes the next sample with a voltage; recent are those before it with both
// quantities, the newest first.
func (r *riseFinder) add(p point, recent []point, n noise) {
	if p.a != p.a || len(recent) == 0 {
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
		r.begin(p, recent)
	}
	r.held = append(r.held, p)
	if math.Abs(p.v-r.ago(riseLookS)) < stillV {
		r.still++
	} else {
		r.still, r.stillT = 0, p.t
	}
	if len(r.held) == riseLen || r.still >= riseAfter && p.t-r.stillT >= riseStillS || p.t-r.stillT > riseAfterS {
		r.close(n)
	}
}

// ago is VBUS one row before the last held one, or as long before as this.
func (r *riseFinder) ago(seconds float64) float64 {
	last := len(r.held) - 1
	for i := last - 1; i >= 0; i-- {
		if r.held[last].t-r.held[i].t >= seconds*0.99 {
			return r.held[i].v
		}
	}
	return r.before.v
}

// begin holds the sample before the step too: a mean may have caught the
// beginning of the charge.
func (r *riseFinder) begin(p point, recent []point) {
	r.open, r.held, r.still, r.stillT = true, r.held[:0], 0, p.t
	r.before = recent[0]
	if len(recent) < 2 || recent[0].t-recent[1].t > riseSlowS || recent[0].v < recent[1].v-stillV {
		return
	}
	r.held = append(r.held, recent[0])
	r.before = recent[1]
	if len(recent) > 3 {
		r.before.a = median3(recent[1].a, recent[2].a, recent[3].a)
	}
}

func median3(a, b, c float64) float64 {
	return max(min(a, b), min(max(a, b), c))
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
	above := max(r.before.a, end) + clearSigmas*n.a
	out := Rise{TimeS: r.held[0].t, FromV: r.before.v, ToV: to, PeakA: math.Inf(-1), BaseA: max(r.before.a, end)}
	last, top := -1, -1
	for i, p := range r.held {
		if p.a > above {
			last = i
			if p.a > out.PeakA {
				out.PeakA, top = p.a, i
			}
		}
	}
	if last < 0 {
		return
	}
	base, uBase := r.base(end, last, n)
	last = r.tail(last, top, n)
	was, squares := r.before.t, 0.0
	for _, p := range r.held[:last+1] {
		dt := p.t - was
		was = p.t
		out.ChargeC += (p.a - base) * dt
		squares += dt * dt
	}
	out.Rows = last + 1
	out.late = r.held[top].v >= out.FromV+arrivedShare*(to-out.FromV)
	lasted := was - r.before.t
	// the last sample may hold the beginning of another draw, or not the end of the charge
	uEnd := (r.held[last].a - base) * (was - r.at(last-1)) * rectangular
	out.ChargeU = math.Hypot(math.Hypot(n.a*math.Sqrt(squares), uBase*lasted), math.Hypot(uEnd, accuracyShare*rectangular*out.ChargeC))
	if out.PeakA > max(r.before.a, end)+spikeSigmas*n.a && out.ChargeC > 3*out.ChargeU && to-r.before.v >= riseStepV {
		r.out.add(out)
	}
}

// at is the time of a held sample, or of the one before them.
func (r *riseFinder) at(i int) float64 {
	if i < 0 {
		return r.before.t
	}
	return r.held[i].t
}

// tail is where the charge that stands clear of noise up to last is over: it takes
// as long again as from its peak, or as long as it falls, and ends where another
// draw begins.
func (r *riseFinder) tail(last, top int, n noise) int {
	moves := clearSigmas * n.a
	for until := 2*last - top + 1; last+1 < len(r.held); last++ {
		step := r.held[last+1].a - r.held[last].a
		if step > moves || last >= until && step > -moves {
			break
		}
	}
	return last
}

// base is the draw beneath the charge up to the last held sample, and its
// standard uncertainty. When the draw of before turned to that of the end is
// not seen, unless it is still missing after the charge.
func (r *riseFinder) base(end float64, last int, n noise) (base, u float64) {
	before := r.before.a
	u = math.Hypot(n.a, n.qa*rectangular)
	low := r.held[last].a
	for _, p := range r.held[last:] {
		low = min(low, p.a)
	}
	if math.Abs(low-before) < math.Abs(low-end) {
		return before, u
	}
	return (before + end) / 2, math.Hypot(u, math.Abs(end-before)/2*rectangular)
}

func (r *riseFinder) finish(left *int) []Rise { return r.out.take(left) }
