package draw

// Ebb is VBUS that sinks under a draw that keeps its power, and goes: its current rises as the
// inverse of the voltage, which no limit of current lets it do. A source's own capacitors are
// empty within milliseconds; so it does whose supply is gone, as its reservoir runs dry.
type Ebb struct {
	StartS, EndS float64
	FromV, ToV   float64
	AtW          float64
}

// Common practice unless said.
const (
	ebbS     = 0.02 // a period of the mains: its ripple moves VBUS too by then
	ebbRowS  = 0.05 // rows further apart show too little of it
	ebbDrawA = 0.3
	ebbLeast = 3    // such periods
	ebbStand = 0.97 // of what stood
	ebbToV   = 0.75 // of it, at which the draw must still keep its power,
	ebbLess  = 0.88 // of what it was, or
	ebbMore  = 1.25 // times as much: a converter loses more at less
	ebbFlat  = 1.005
	ebbGoneS = 2.0 // by which VBUS is gone
	ebbAgeS  = 0.3 // that it stood at least
)

// ebbFinder looks at VBUS and the draw period by period.
type ebbFinder struct {
	from       float64 // of the period that is filled
	last       float64
	sumV, sumA float64
	n          int

	ref, watts float64 // what stood, and what it drew
	since      float64
	lowest     float64
	count      int
	open       Ebb
	out        keep[Ebb]
}

func newEbbFinder() *ebbFinder {
	return &ebbFinder{out: keep[Ebb]{size: func(e Ebb) float64 { return e.FromV - e.ToV }}}
}

func (f *ebbFinder) clone() finder {
	c := *f
	c.out = f.out.clone()
	return &c
}

func (f *ebbFinder) result(r *Result, left *int) { r.Ebbs = f.out.take(left) }

// add takes a sample with both quantities.
func (f *ebbFinder) add(p point, n *noise) {
	if n.intervalS > ebbRowS {
		return
	}
	if f.n == 0 || p.t-f.last > gapFactor*ebbRowS {
		f.from, f.sumV, f.sumA, f.n = p.t, 0, 0, 0
	}
	f.last = p.t
	f.sumV, f.sumA, f.n = f.sumV+p.v, f.sumA+p.a, f.n+1
	if p.t-f.from+n.intervalS >= ebbS*0.99 {
		f.period(p.t, f.sumV/float64(f.n), f.sumA/float64(f.n))
		f.n = 0
	}
}

// period judges one of them.
func (f *ebbFinder) period(t, v, a float64) {
	watts := v * a
	switch {
	case f.count >= ebbLeast && f.open.ToV <= ebbToV*f.ref: // it kept its power for so long; now VBUS has to go
		switch {
		case v <= runOutToV && t-f.open.StartS < ebbGoneS:
			f.open.EndS = t
			f.out.add(f.open)
			f.ref = 0
		case v > f.lowest*ebbFlat+offVolts, t-f.open.StartS >= ebbGoneS:
			f.ref = 0
		default:
			f.lowest = min(f.lowest, v)
			f.keep(v, watts)
		}
		if f.ref == 0 {
			f.count = 0
		}
	case v < slideFromV || a < ebbDrawA:
		f.ref, f.count = 0, 0
	case f.ref == 0 || v >= ebbStand*f.ref:
		if f.ref == 0 || v > f.ref/ebbStand {
			f.since = t
		}
		f.ref, f.watts, f.count = v, watts, 0
		f.open = Ebb{StartS: t, FromV: v, ToV: v, AtW: watts}
		f.lowest = v
	case v <= f.lowest*ebbFlat && f.keeps(watts) && f.open.StartS-f.since >= ebbAgeS:
		f.lowest = min(f.lowest, v)
		f.count++
		f.open.ToV = v
	default:
		f.ref, f.count = 0, 0
	}
}

func (f *ebbFinder) keeps(watts float64) bool {
	return watts >= ebbLess*f.watts && watts <= ebbMore*f.watts
}

func (f *ebbFinder) keep(v, watts float64) {
	if f.keeps(watts) {
		f.open.ToV = min(f.open.ToV, v)
	}
}

// addChunk takes a chunk that stands as one period, and passes over one without VBUS.
func (f *ebbFinder) addChunk(c *chunk, n *noise) {
	stands := f.ref > 0 && c.minV >= ebbStand*f.ref && c.maxV <= f.ref/ebbStand && c.minA >= ebbDrawA
	if n.intervalS <= ebbRowS && f.count == 0 && (stands || c.maxV < slideFromV) {
		f.period(c.t1, c.sV/float64(c.n), c.sA/float64(c.n))
		f.n, f.last = 0, c.t1
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
