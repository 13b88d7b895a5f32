package draw

import (
	"math"
	"slices"
)

const (
	taperPoints  = 5    // fewer have no curve
	taperS       = 60.0 // a charge's constant-voltage phase has a time constant of 10 to 60 minutes: common practice
	fadeS        = 6.0  // a fall so short has a taper's shape too: a charge that is at its end
	taperFall    = 0.75 // it ends at this share of its beginning or lower
	fadeFit      = 0.97 // determination that it needs, with fewer points to doubt it by
	taperFit     = 0.93 // determination of ln(I-I0) on time; a real cell falls faster at first and reaches 0.95
	taperSkip    = 0.15 // of its length may be bursts of another load
	taperSkipS   = 10.0
	taperVolts   = 0.03 // VBUS, or the cell, stands still meanwhile
	dropPace     = 3.0  // a fall this much faster than the one before ends it: the charger switched off
	leapShare    = 0.5  // so much of a fall lies between two pieces and not within them: it is a step
	maxPoints    = 2048
	clearSigmas  = 3.0
	flatShare    = 0.3 // a first piece that falls less within itself than to the next was still constant current
	restsTried   = 32  // between nothing and the last current of a fall whose end was not seen
	pieceSamples = 3   // a piece with fewer has no slope
)

// piece is one segment of a fall.
type piece struct {
	t0, t1, t, a, v float64
	n               int
	fall            float64 // within the piece, by its slope; NaN unknown
}

func newPiece(c cell) piece {
	p := piece{t0: c.t0, t1: c.t1, t: c.t0 + c.sT/float64(c.n), a: c.meanA(), v: c.meanV(), n: c.n, fall: math.NaN()}
	if c.n >= pieceSamples {
		p.fall = -c.slope() * (c.t1 - c.t0)
	}
	return p
}

// taperFinder follows runs of falling segments.
type taperFinder struct {
	run  []piece
	skip []piece // bursts above the fall, which may yet go on
	done []piece // a fall that ended in a drop; the next draw that lasts is what it fell to
	rest *piece
	out  keep[Taper]
	fade keep[Taper] // those too short for a charge's time constant
}

func (f *taperFinder) init() {
	size := func(t Taper) float64 { return t.EndS - t.StartS }
	f.out.size, f.fade.size = size, size
}

func (f *taperFinder) clone() taperFinder {
	c := taperFinder{run: slices.Clone(f.run), skip: slices.Clone(f.skip), done: slices.Clone(f.done), out: f.out.clone(), fade: f.fade.clone()}
	if f.rest != nil {
		rest := *f.rest
		c.rest = &rest
	}
	return c
}

func (f *taperFinder) segment(c cell, sigma float64) { f.take(newPiece(c), sigma) }

func (f *taperFinder) take(p piece, sigma float64) {
	if f.rest != nil && (f.rest.n >= pieceSamples || p.a >= f.rest.a) {
		f.judge(sigma)
	} else if f.rest != nil {
		f.rest = &p // what came before was only passed through
	}
	if len(f.run) == 0 {
		f.run = append(f.run, p)
		return
	}
	last := f.run[len(f.run)-1]
	switch {
	case math.Abs(p.v-last.v) > taperVolts*math.Abs(last.v):
		f.end(&p, sigma)
		f.run = append(f.run, p)
	case f.dropped(p, sigma):
		f.end(&p, sigma)
		f.run = append(f.run, p)
	case p.a <= last.a+clearSigmas*sigma:
		f.run = append(f.run, p)
		f.skip = f.skip[:0]
		if len(f.run) > maxPoints {
			f.halve()
		}
	case p.t1-last.t1 <= max(taperSkipS, taperSkip*(last.t1-f.run[0].t0)) && len(f.run) >= taperPoints && len(f.skip) < maxPoints:
		f.skip = append(f.skip, p)
	default:
		f.end(nil, sigma)
		f.run = append(f.run, p)
	}
}

// dropped reports a fall that leaves the pace of the run behind.
func (f *taperFinder) dropped(p piece, sigma float64) bool {
	n := len(f.run)
	if n < taperPoints {
		return false
	}
	last, was := f.run[n-1], f.run[n-3]
	drop := last.a - p.a
	if leaps(last, p, sigma) {
		return true
	}
	if drop <= max(6*sigma, 0.05*(f.run[0].a-last.a)) {
		return false
	}
	pace := max(was.a-last.a, sigma) / max(last.t-was.t, 1e-9)
	return drop/max(p.t-last.t, 1e-9) > dropPace*pace || drop > dropPace*max(was.a-last.a, sigma)
}

// leaps reports a fall that lies between two pieces and not within them.
func leaps(a, b piece, sigma float64) bool {
	if a.n < pieceSamples {
		return false
	}
	within := 0.0 // a single row
	if b.n >= pieceSamples {
		within = b.fall
	}
	leap := a.a - a.fall/2 - b.a - within/2
	pace := a.fall / (a.t1 - a.t0)
	return leap > max(6*sigma, leapShare*(a.a-b.a), dropPace*pace*(b.t0-a.t1))
}

// halve joins pieces in pairs, so that a fall of days stays bounded.
func (f *taperFinder) halve() {
	out := f.run[:0]
	for i := 0; i+1 < len(f.run); i += 2 {
		a, b := f.run[i], f.run[i+1]
		n := float64(a.n + b.n)
		wa, wb := float64(a.n)/n, float64(b.n)/n
		out = append(out, piece{
			t0: a.t0, t1: b.t1, t: wa*a.t + wb*b.t, a: wa*a.a + wb*b.a, v: wa*a.v + wb*b.v,
			n: a.n + b.n, fall: a.fall + b.fall + (a.a-b.a)/2,
		})
	}
	f.run = out
}

// end closes the run; after is what followed its end, if it fell away.
func (f *taperFinder) end(after *piece, sigma float64) {
	f.judge(sigma)
	f.done, f.run = f.run, nil
	f.skip = f.skip[:0]
	if after == nil {
		f.judge(sigma)
		return
	}
	rest := *after
	f.rest = &rest
}

// judge publishes the fall that ended, where it is a taper.
func (f *taperFinder) judge(sigma float64) {
	switch t, ok := fitTaper(f.done, f.rest, sigma); {
	case ok && t.EndS-t.StartS >= taperS:
		f.out.add(t)
	case ok:
		f.fade.add(t)
	}
	f.done, f.rest = nil, nil
}

func (f *taperFinder) part(sigma float64) {
	f.judge(sigma)
	f.end(nil, sigma)
}

func (f *taperFinder) result(left *int) (tapers, fades []Taper) {
	return f.out.take(left), f.fade.take(left)
}

// fitTaper judges a run of falling pieces.
func fitTaper(run []piece, after *piece, sigma float64) (Taper, bool) {
	run = trimHead(run, sigma)
	if len(run) < taperPoints {
		return Taper{}, false
	}
	rest, uRest, seen := 0.0, sigma, false
	if after != nil && after.a < run[len(run)-1].a {
		rest, uRest, seen = after.a, sigma/math.Sqrt(float64(after.n)), true
	}
	first, last := run[0], run[len(run)-1]
	if tail := last; tail.n >= pieceSamples && tail.t1-tail.t0 > 0.25*(tail.t1-first.t0) && math.Abs(tail.fall) < 2*sigma && after == nil {
		rest, uRest, seen, run = tail.a, sigma/math.Sqrt(float64(tail.n)), true, run[:len(run)-1]
		last = run[len(run)-1]
	}
	out := Taper{StartS: first.t0, EndS: last.t1, FromA: first.a, ToA: last.a}
	if len(run) < taperPoints || out.EndS-out.StartS < fadeS || last.a-rest > taperFall*(first.a-rest) || first.a-last.a < 10*sigma {
		return Taper{}, false
	}
	fit := fitLog(run, rest, sigma, 0)
	least := taperFit
	if out.EndS-out.StartS < taperS {
		least = fadeFit
	}
	if fit.n < taperPoints || fit.slope >= 0 || fit.r2 < least {
		return Taper{}, false
	}
	fit = fitLog(run, rest, sigma, fit.slope)
	tau := -1 / fit.slope
	half := len(run) / 2
	early, late := fitLog(run[:half+1], rest, sigma, fit.slope), fitLog(run[half:], rest, sigma, fit.slope)
	u := math.Hypot(fit.se*tau*tau, timerShare*rectangular*tau)
	u = math.Hypot(u, bendShare*(1-last.a/first.a)*tau*tau/(last.t-first.t))
	if early.slope < 0 && late.slope < 0 && early.n > 1 && late.n > 1 {
		d, own := 1/early.slope-1/late.slope, math.Hypot(early.se/(early.slope*early.slope), late.se/(late.slope*late.slope))
		u = math.Hypot(u, math.Sqrt(max(0, d*d-own*own))*rectangular)
	}
	// what it falls to is known to the noise
	if other := fitLog(run, rest+uRest, sigma, fit.slope); other.slope < 0 {
		u = math.Hypot(u, math.Abs(-1/other.slope-tau))
	}
	if !seen {
		u = math.Hypot(u, math.Abs(freeTau(run, sigma, fit.slope)-tau)*rectangular)
	}
	out.TauS, out.TauU = &tau, &u
	return out, true
}

// trimHead drops leading pieces that were not falling yet, or fell by a step.
func trimHead(run []piece, sigma float64) []piece {
	for len(run) >= 3 {
		a, b, c := run[0], run[1], run[2]
		drop := a.a - b.a
		flat := a.n >= pieceSamples && a.fall < max(flatShare*drop, sigma) && a.t1-a.t0 > 2*(b.t1-b.t0)
		first, second := drop/max(b.t-a.t, 1e-9), (b.a-c.a)/max(c.t-b.t, 1e-9)
		step := drop > 6*sigma && first > dropPace*max(second, 0)
		if !flat && !step {
			return run
		}
		run = run[1:]
	}
	return run
}

// freeTau is the time constant towards whatever rest straightens the fall best.
func freeTau(run []piece, sigma, pace float64) float64 {
	best, tau := math.Inf(-1), math.NaN()
	for k := range restsTried {
		f := fitLog(run, run[len(run)-1].a*float64(k)/restsTried, sigma, pace)
		if f.slope < 0 && f.n >= min(taperPoints, len(run)) && f.r2 > best {
			best, tau = f.r2, -1/f.slope
		}
	}
	return tau
}

func (p piece) log(rest, pace float64) float64 {
	fall := pace * (p.t1 - p.t0)
	return math.Log(p.a-rest) - fall*fall/24
}

type logFit struct {
	n             int
	slope, se, r2 float64
}

// fitLog regresses ln(I-I0) on time, all rows alike, as far as the current
// stands clear of noise. The mean of a piece that falls at the pace given, 0
// unknown, is above the curve in its middle: by the square of the fall over 24,
// the first term of sinh(x)/x.
func fitLog(run []piece, rest, sigma, pace float64) logFit {
	var f logFit
	var w, st, sy float64
	t0 := run[0].t
	for _, p := range run {
		if p.a-rest <= clearSigmas*sigma {
			break
		}
		k := float64(p.n)
		f.n++
		w, st, sy = w+k, st+k*(p.t-t0), sy+k*p.log(rest, pace)
	}
	if f.n < 2 {
		return f
	}
	mt, my := st/w, sy/w
	var stt, sty, syy float64
	for _, p := range run[:f.n] {
		k, dt, dy := float64(p.n), p.t-t0-mt, p.log(rest, pace)-my
		stt, sty, syy = stt+k*dt*dt, sty+k*dt*dy, syy+k*dy*dy
	}
	if stt <= 0 || syy <= 0 {
		return f
	}
	f.slope = sty / stt
	f.r2 = sty * sty / (stt * syy)
	if f.n > 2 {
		f.se = math.Sqrt(max(0, syy-f.slope*sty) / float64(f.n-2) / stt)
	}
	return f
}
