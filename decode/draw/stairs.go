package draw

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"portside/decode/series"
)

const (
	leastSteps  = 4 // rising steps of a climb: common practice
	stepA       = 0.010
	stepShare   = 0.015 // of the draw: 64 mA at 3 A, which an embedded controller steps by, are more
	stepSpread  = 0.35  // steps and dwells of one climb differ by less: common practice
	stepFlat    = 0.5   // within a step the draw rises by less than this of a step, else it is a ramp
	stepSamples = 3     // a step with fewer has no slope
	collapseOf  = 0.5   // of the climb's height
	settleDwell = 3.0   // dwells
	backOff     = 2.5   // steps; a search goes back two and stays
	maxSteps    = 512
	footSteps   = 2.0 // climbs of one staircase begin so near each other
	maxFalls    = 64
	leastDwellS = 0.05 // a search waits for the source to give way; faster steps are a converter's soft start: common practice
	coarseS     = 0.25 // dwell: faster steps that no meter resolved are a ramp
	coarseFalls = 2    // collapses that make a climb of unresolved steps a staircase; a charge's ramp stays up
	warpBand    = 0.1  // of the length: Sakoe & Chiba 1978
	climbPauseS = 10.0 // between climbs of one staircase
)

type step struct {
	t0, t1, a, v, rise float64
	n                  int
}

type climb struct {
	start, end, inc, dwell, top, sag float64
	steps                            int
	collapsed, backedOff             bool
	coarse                           bool // too few samples a step to tell it from a ramp
	settled                          *float64
	shape                            []float64 // height in steps
}

// stairFinder follows rising segments, and joins climbs that repeat.
type stairFinder struct {
	held     cell // waits until the next segment shows whether it was a transition
	hasHeld  bool
	steps    []step
	tail     step // a single sample a little under the top: the collapse may lie within it
	hasTail  bool
	stairs   *Staircase
	last     climb
	falls    []float64 // times of the last collapses of the open staircase
	evident  bool      // it is no ramp: its steps can be seen, or it searched and backed off
	interval float64
	out      keep[Staircase]
}

func (f *stairFinder) init() {
	f.out.size = func(s Staircase) float64 { return float64(s.Steps) * float64(s.Resets+1) }
}

func (f *stairFinder) clone() stairFinder {
	c := *f
	c.steps = slices.Clone(f.steps)
	c.falls = slices.Clone(f.falls)
	c.out = f.out.clone()
	if f.stairs != nil {
		s := *f.stairs
		c.stairs = &s
	}
	return c
}

// segment drops single samples on the way to a step of more than one.
func (f *stairFinder) segment(c cell, sigma, q float64) {
	if f.hasHeld && f.held.n == 1 && len(f.steps) > 0 && c.n > 1 {
		from, mid, to := f.steps[len(f.steps)-1].a, f.held.meanA(), c.meanA()
		if (from < mid && mid < to) || (from > mid && mid > to) {
			f.hasHeld = false
		}
	}
	if f.hasHeld {
		f.take(f.held, sigma, q)
	}
	f.held, f.hasHeld = c, true
}

func (f *stairFinder) take(c cell, sigma, q float64) {
	s := step{t0: c.t0, t1: c.t1, a: c.meanA(), v: c.meanV(), n: c.n, rise: c.slope() * (c.t1 - c.t0)}
	if len(f.steps) == 0 {
		f.steps = append(f.steps, s)
		return
	}
	margin := max(stepA, stepShare*s.a, joinSigmas*sigma, joinSteps*q)
	if f.hasTail {
		f.hasTail = false
		if s.a < f.tail.a-margin {
			f.endClimb(&s)
			f.steps = append(f.steps[:0], s)
			return
		}
		f.endClimb(&f.tail)
		f.steps = append(f.steps[:0], f.tail)
	}
	last := &f.steps[len(f.steps)-1]
	switch d := s.a - last.a; {
	case math.Abs(d) <= margin:
		n := float64(last.n + s.n)
		last.a = (last.a*float64(last.n) + s.a*float64(s.n)) / n
		last.rise += s.rise
		last.n, last.t1 = last.n+s.n, s.t1
	case d > 0:
		if len(f.steps) == maxSteps {
			f.steps = append(f.steps[:0], f.steps[1:]...)
		}
		f.steps = append(f.steps, s)
	case s.n == 1 && len(f.steps) > leastSteps && -d < collapseOf*(last.a-f.steps[0].a):
		f.tail, f.hasTail = s, true
	default:
		f.endClimb(&s)
		f.steps = append(f.steps[:0], s)
	}
}

// endClimb judges the rising steps; after is the lower draw that follows, nil
// at the end of the recording.
func (f *stairFinder) endClimb(after *step) {
	c, ok := judgeClimb(f.steps, after, f.interval)
	if ok {
		f.join(c)
	}
}

// judgeClimb finds the longest run of like steps.
func judgeClimb(steps []step, after *step, interval float64) (climb, bool) {
	steps = resolved(steps)
	if len(steps) < leastSteps+1 {
		return climb{}, false
	}
	incs := make([]float64, len(steps)-1)
	for i := range incs {
		incs[i] = steps[i+1].a - steps[i].a
	}
	mid := middleOf(incs)
	from, to := 0, 0 // steps[from] is the foot, steps[to] the top
	for i := 0; i < len(incs); {
		j := i
		for j < len(incs) && math.Abs(incs[j]-mid) <= stepSpread*mid {
			j++
		}
		if j-i > to-from {
			from, to = i, j
		}
		i = max(j, i+1)
	}
	if to-from < leastSteps {
		return climb{}, false
	}
	run := steps[from : to+1]
	dwells := make([]float64, 0, len(run))
	for i := 1; i+1 < len(run); i++ {
		dwells = append(dwells, run[i+1].t0-run[i].t0)
	}
	dwell := middleOf(dwells)
	if dwell < leastDwellS {
		return climb{}, false
	}
	odd, sloped, short := 0, 0, 0
	for i, d := range dwells {
		if math.Abs(d-dwell) > max(stepSpread*dwell, min(1.5*interval, 0.5*dwell)) {
			odd++
		}
		switch s := run[i+1]; {
		case s.n < stepSamples:
			short++
		case math.Abs(s.rise) > stepFlat*mid:
			sloped++
		}
	}
	coarse := short*2 > len(dwells)
	if n := len(dwells); odd*5 > n || sloped*10 > 3*n || coarse && dwell < coarseS {
		return climb{}, false
	}
	foot, top := run[0], run[len(run)-1]
	c := climb{coarse: coarse, start: foot.t0, end: top.t1, inc: mid, dwell: dwell, top: top.a, sag: max(0, foot.v-top.v), steps: to - from}
	if foot.t1-foot.t0 > 1.5*dwell {
		c.start = run[1].t0 // the foot is the rest before it
	}
	if n := len(run) - 3; n >= leastSteps { // the first and the last step may be cut short
		c.inc = (run[n+1].a - run[1].a) / float64(n)
	}
	for _, s := range run {
		c.shape = append(c.shape, s.a/mid)
	}
	if last := len(steps) - 1; to >= last-1 { // the collapse may cut the top step short
		c.end = steps[last].t1
		c.finish(steps[last], after, steps[last].a-foot.a)
	}
	return c, true
}

// resolved leaves out the single samples of a ramp between steps, where the steps
// themselves are seen.
func resolved(steps []step) []step {
	var out []step
	for _, s := range steps {
		if s.n >= stepSamples {
			out = append(out, s)
		}
	}
	if len(out) <= leastSteps {
		return steps
	}
	return out
}

// finish says how the climb ended.
func (c *climb) finish(top step, after *step, height float64) {
	stays := top.t1-top.t0 >= settleDwell*c.dwell
	switch {
	case stays:
		a := top.a
		c.settled = &a
	case after == nil:
	case top.a-after.a > collapseOf*height:
		c.collapsed = true
		c.end = after.t0
	case top.a-after.a <= backOff*c.inc && after.t1-after.t0 >= settleDwell*c.dwell:
		a := after.a
		c.settled, c.backedOff = &a, true
	}
}

func middleOf(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[len(s)/2]
}

// join adds the climb to the open staircase where it repeats it.
func (f *stairFinder) join(c climb) {
	if f.stairs != nil && f.last.repeats(c) {
		s := f.stairs
		s.EndS = c.end
		if f.last.collapsed {
			s.Resets++
		}
		s.Steps = max(s.Steps, c.steps)
		s.TopA = max(s.TopA, c.top)
		s.VoltsSag = max(s.VoltsSag, c.sag)
		s.SettledA, s.Collapsed = c.settled, c.collapsed
	} else {
		f.publish()
		f.stairs = &Staircase{
			StartS: c.start, EndS: c.end, Steps: c.steps, StepA: c.inc, DwellS: c.dwell, TopA: c.top,
			VoltsSag: c.sag, SettledA: c.settled, Collapsed: c.collapsed,
		}
		f.falls, f.evident = f.falls[:0], false
	}
	f.evident = f.evident || !c.coarse || c.backedOff
	if c.collapsed {
		if len(f.falls) == maxFalls {
			f.falls = append(f.falls[:0], f.falls[1:]...)
		}
		f.falls = append(f.falls, c.end)
	}
	f.last = c
}

// repeats reports a climb that goes on where this one collapsed.
func (c climb) repeats(next climb) bool {
	if next.start-c.end > max(climbPauseS, c.end-c.start) || c.settled != nil {
		return false
	}
	if math.Abs(next.inc-c.inc) > stepSpread*c.inc || math.Abs(next.dwell-c.dwell) > stepSpread*c.dwell {
		return false
	}
	n := min(len(c.shape), len(next.shape)) // a climb that goes further repeats the lower one
	a, b := c.shape[:n], slices.Clone(next.shape[:n])
	off := stat.Mean(b, nil) - stat.Mean(a, nil)
	for i := range b {
		b[i] -= off // where the samples lie within a step shifts all of them
	}
	d, ok := series.DTW(a, b, warpBand)
	return ok && math.Abs(off) <= footSteps && d <= stepSpread*float64(n)
}

func (f *stairFinder) publish() {
	if f.stairs == nil {
		return
	}
	if f.evident || len(f.falls) >= coarseFalls {
		f.stairs.PeriodS = fallPeriod(f.falls)
		f.out.add(*f.stairs)
	}
	f.stairs = nil
}

// fallPeriod is the median distance of the collapses, since a climb that was
// not recognised leaves out one of them.
func fallPeriod(falls []float64) *float64 {
	if len(falls) < 2 {
		return nil
	}
	period := falls[1] - falls[0]
	if median, _, ok := series.Period(falls); ok {
		period = median
	}
	return &period
}

func (f *stairFinder) part(sigma, q float64) {
	if f.hasHeld {
		f.take(f.held, sigma, q)
		f.hasHeld = false
	}
	if f.hasTail {
		f.endClimb(&f.tail)
		f.hasTail = false
	} else {
		f.endClimb(nil)
	}
	f.steps = f.steps[:0]
}

func (f *stairFinder) result(left *int) []Staircase {
	f.publish()
	return f.out.take(left)
}
