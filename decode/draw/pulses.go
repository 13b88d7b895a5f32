package draw

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

const (
	leastPulseA  = 0.010 // above this over rest: a 12-bit monitor may be off by 10 mA, data sheet SBOS844C
	longestPulse = 3.0   // seconds; the longest retry family is under 3 s
	trainPulses  = 3     // fewer have no period: common practice
	peakRatio    = 4.0   // pulses of one train; a slow meter catches more or less of each
	restShare    = 0.12  // between retries next to nothing is drawn
	restA        = 0.10
	restLeap     = 3.0  // times the rest itself
	evenShare    = 0.25 // spread of the distances over their median: common practice
	alikeShare   = 0.5  // spread of on-times and heights over their medians, likewise
	briefSamples = 2.0  // on for so few samples on average, a pulse may fall between two
	missedShare  = 0.1  // distances are whole numbers of the period within this share of it
	missedSingle = 12   // one distance in so many at least is the shortest, odd ones aside
	missedParts  = 3    // of which the period may be a part
	missedLeast  = 5    // distances; fewer fit some period by chance
	beatS        = 0.1  // single samples this far apart or more may beat with the pulses
	wholePulses  = 2    // of two samples or more: then none fits between two samples
	aliasOdds    = 0.05 // that every second pulse was missed by chance: below it the period is named
	lockedDrift  = 2.0  // samples by which pulses move against the sampling; by less, and every second one is missed all along
	pulseCells   = 4096 // stretches of one pulse: a fast log cuts its edges into rows
	heldPulses   = 64   // distances kept to judge how even they are
	longestRest  = 6.0  // seconds between two pulses of one train: a poor-source test and a reset, common practice
	tryLeastS    = 0.02 // from one try to the next: the shortest pause of a protection is 32 ms (data sheet SLUSBP6D); what comes faster is ripple, or a converter that works in bursts. Common practice
	quietS       = 3.0  // nothing for this long after a train: a latch, not a pause
)

// pulse is one short draw with rest before and after it.
type pulse struct {
	start, end, peak, rest float64
	n                      int
	minV, restV, onV       float64
}

type pulseFinder struct {
	base     cell // last rest
	hasBase  bool
	on       []cell
	top      float64 // the largest of their means
	train    []pulse // the last pulses of the train, bounded
	first    float64
	count    int
	peak     float64
	minV     float64
	gone     int // pulses between which VBUS was off
	single   int // pulses of one sample
	onS      float64
	rests    float64
	out      keep[Pulses]
	lastDraw float64 // last time anything else than a pulse was drawn
	interval float64
}

func (f *pulseFinder) init() {
	f.out.size = func(p Pulses) float64 { return float64(p.Count) * p.PeakA }
}

func (f *pulseFinder) clone() pulseFinder {
	c := *f
	c.on, c.train = slices.Clone(f.on), slices.Clone(f.train)
	c.out = f.out.clone()
	return c
}

// segment follows the draw: up from rest opens a pulse, back to rest closes it.
func (f *pulseFinder) segment(c cell, sigma, q float64) {
	if !f.hasBase {
		f.base, f.hasBase = c, true
		return
	}
	margin := max(leastPulseA, 6*sigma, 3*q)
	base := f.base.meanA()
	if f.base.nV > 0 && f.base.meanV() <= offVolts {
		margin = max(leastPulseA, 3*sigma, 3*q) // VBUS coming on says the same once more
	}
	switch {
	case len(f.on) == 0 && c.meanA() > base+margin:
		f.push(c)
	case len(f.on) == 0 && c.n < shortest && c.meanA() > base:
		// on the way up: no rest to measure from
	case len(f.on) == 0:
		f.base = c
		f.rested(c)
	case c.meanA() <= base+max(margin, 0.3*(f.top-base)):
		f.close(c)
		f.on = f.on[:0]
		f.base = c
		f.rested(c)
	case c.t1-f.on[0].t0 > longestPulse || len(f.on) >= pulseCells:
		f.on = f.on[:0]
		f.base = c
		f.end()
		f.lastDraw = c.t1
	case f.fromRest(c, base):
		f.base = f.on[len(f.on)-1]
		f.on = f.on[:0]
		f.push(c)
	default:
		f.push(c)
	}
}

// fromRest reports a draw that leaps up from what was the rest all along: the
// little that is drawn once VBUS is on.
func (f *pulseFinder) fromRest(c cell, base float64) bool {
	last := f.on[len(f.on)-1]
	low := last.meanA() <= restA && last.n >= settledN && last.t1-last.t0 >= lastingS
	return low && c.meanA()-last.meanA() > restLeap*(last.meanA()-base)
}

// rested notes a draw that is no rest between retries.
func (f *pulseFinder) rested(c cell) {
	if c.meanA() > restA {
		f.lastDraw = c.t1
	}
}

// push takes a stretch of the pulse that is on.
func (f *pulseFinder) push(c cell) {
	if len(f.on) == 0 {
		f.top = math.Inf(-1)
	}
	f.on = append(f.on, c)
	f.top = max(f.top, c.meanA())
}

func (f *pulseFinder) close(after cell) {
	p := pulse{start: f.on[0].t0, end: after.t0, rest: f.base.meanA(), minV: math.NaN(), restV: min(f.base.meanV(), after.meanV())}
	p.peak, p.onV = math.Inf(-1), math.NaN()
	for _, c := range f.on {
		p.peak = max(p.peak, c.maxA)
		p.n += c.n
		if c.nV > 0 {
			p.minV = least(p.minV, c.minV)
			p.onV = most(p.onV, c.meanV())
		}
	}
	if p.end-p.start <= longestPulse {
		f.take(p)
	}
}

func (f *pulseFinder) spike(k Spike, sigma, q float64) {
	if k.PeakA-k.BaselineA < max(leastPulseA, spikeSigmas*sigma, 3*q) {
		return
	}
	f.take(pulse{start: k.TimeS, end: k.TimeS + k.DurationS, peak: k.PeakA, rest: k.BaselineA, n: 1, minV: k.VoltageV, restV: k.VoltageV, onV: k.VoltageV})
}

// take puts a pulse into the train, or begins another.
func (f *pulseFinder) take(p pulse) {
	if p.rest > max(restA, restShare*p.peak) {
		return
	}
	if f.count > 0 && !f.fits(p) {
		f.end()
	}
	f.count++
	f.note(p)
}

// note adds a pulse to the sums of the train.
func (f *pulseFinder) note(p pulse) {
	if f.count == 1 {
		f.first, f.peak, f.minV = p.start, p.peak, p.minV
		f.gone, f.single, f.onS, f.rests = 0, 0, 0, 0
	}
	f.peak = max(f.peak, p.peak)
	f.minV = least(f.minV, p.minV)
	f.onS += p.end - p.start
	f.rests += p.rest
	if p.n == 1 {
		f.single++
	}
	if p.restV <= offVolts && p.onV > leastFromV {
		f.gone++
	}
	if len(f.train) == heldPulses {
		f.train = append(f.train[:0], f.train[1:]...)
	}
	f.train = append(f.train, p)
}

// fits reports a pulse of the same height, at a like distance.
func (f *pulseFinder) fits(p pulse) bool {
	last := f.train[len(f.train)-1]
	height, was := p.peak-p.rest, last.peak-last.rest
	if height > peakRatio*was || was > peakRatio*height {
		return false
	}
	d := p.start - last.start
	if p.start-last.end > longestRest {
		return false
	}
	if len(f.train) < 2 {
		return true
	}
	return d <= 3*f.middle()
}

func (f *pulseFinder) distances() []float64 {
	var d []float64
	for i := 1; i < len(f.train); i++ {
		d = append(d, f.train[i].start-f.train[i-1].start)
	}
	slices.Sort(d)
	return d
}

func (f *pulseFinder) middle() float64 {
	d := f.distances()
	return d[len(d)/2]
}

// rhythm is the mean period of the train and the periods it was told from. ok
// is false where the distances are uneven.
func (f *pulseFinder) rhythm() (period, cycles float64, ok bool) {
	d := f.distances()
	if f.onS <= briefSamples*f.interval*float64(f.count) {
		if period, cycles, ok = f.withMissed(d); ok {
			return period, cycles, true
		}
	}
	m := d[len(d)/2]
	cycles = float64(f.count - 1)
	period = (f.train[len(f.train)-1].start - f.first) / cycles
	return period, cycles, upperQuartile(d, m) <= f.blur(m)
}

// blur is how far a distance may be off the period m.
func (f *pulseFinder) blur(m float64) float64 {
	return max(evenShare*m, min(1.01*f.interval, 0.5*m))
}

// withMissed finds the period of pulses so short that some fell between the
// samples: the largest of which all their sorted distances d are whole
// numbers, or else nearly all.
func (f *pulseFinder) withMissed(d []float64) (period, cycles float64, ok bool) {
	if len(d) < missedLeast {
		return 0, 0, false
	}
	train := f.train
	span := train[len(train)-1].start - train[0].start
	for _, odd := range [...]int{0, len(d) / 10} {
		for part := 1.0; part <= missedParts; part++ {
			if cycles, ok := f.wholes(d, d[len(d)/missedSingle]/part, odd); ok {
				return span / cycles, cycles, true
			}
		}
	}
	return 0, 0, false
}

// wholes counts the units in the distances. ok is false where more than odd of
// them are no whole number of it.
func (f *pulseFinder) wholes(d []float64, unit float64, odd int) (cycles float64, ok bool) {
	limit := max(missedShare*unit, 1.01*f.interval)
	if limit > unit/4 {
		return 0, false
	}
	for _, x := range d {
		k := math.Round(x / unit)
		cycles += k
		if math.Abs(x-k*unit) > limit {
			odd--
		}
	}
	return cycles, odd >= 0
}

// alike reports pulses of one kind: a retry does the same each time, and what
// a machine does when it boots does not.
func (f *pulseFinder) alike() bool {
	var on, height []float64
	for _, p := range f.train {
		if p.n >= shortest {
			on, height = append(on, p.end-p.start), append(height, p.peak-p.rest)
		}
	}
	if len(on) < trainPulses {
		return true
	}
	m, h := middleOf(on), middleOf(height)
	return upperQuartile(on, m) <= max(alikeShare*m, 1.01*f.interval) && upperQuartile(height, h) <= alikeShare*h
}

// upperQuartile is what three quarters of x are off m at most.
func upperQuartile(x []float64, m float64) float64 {
	off := make([]float64, len(x))
	for i, v := range x {
		off[i] = math.Abs(v - m)
	}
	slices.Sort(off)
	return off[len(off)*3/4]
}

// end closes the train and publishes it where it is one.
func (f *pulseFinder) end() {
	if f.count >= trainPulses {
		f.trim()
	}
	if f.count >= trainPulses && f.alike() {
		if period, cycles, ok := f.rhythm(); ok && period >= tryLeastS {
			f.out.add(f.publish(period, cycles))
		}
	}
	f.count = 0
	f.train = f.train[:0]
}

// trim drops first and last pulses at an odd distance, such as the inrush
// before a train, as long as the whole train is held.
func (f *pulseFinder) trim() {
	if f.count != len(f.train) {
		return
	}
	run := f.train
	odd := func(d, m float64) bool { return math.Abs(d-max(1, math.Round(d/m))*m) > f.blur(m) }
	m := f.middle()
	for len(run) > trainPulses && odd(run[1].start-run[0].start, m) {
		run = run[1:]
	}
	for len(run) > trainPulses && odd(run[len(run)-1].start-run[len(run)-2].start, m) {
		run = run[:len(run)-1]
	}
	if len(run) == len(f.train) {
		return
	}
	kept := slices.Clone(run)
	f.count, f.train = 0, f.train[:0]
	for _, p := range kept {
		f.count++
		f.note(p)
	}
}

func (f *pulseFinder) publish(period, cycles float64) Pulses {
	last := f.train[len(f.train)-1]
	n := float64(f.count)
	p := Pulses{
		StartS: f.first, EndS: last.end, Count: f.count, PeakA: f.peak, RestA: f.rests / n,
		VoltageV: last.onV, MinV: f.minV, WithVBUS: f.gone*2 > f.count,
	}
	mostlySingle := f.single*2 > f.count
	if f.interval <= period/2 && !(mostlySingle && f.interval >= 0.99*beatS) {
		exact, u := f.timed(period, cycles)
		if p.SeenS = &exact; f.complete(period, cycles) {
			p.PeriodS, p.PeriodU = &exact, &u
		}
	}
	if on := f.onS / n; !mostlySingle && on > f.interval {
		p.OnS = &on
	}
	return p
}

// complete reports that the sampling cannot have missed every second pulse, which
// would make the period twice the true one. Pulses that move against the
// sampling are missed by chance; where twice the period is an odd number of
// samples, they do not, and all those between fall between two samples.
func (f *pulseFinder) complete(period, cycles float64) bool {
	if f.count-f.single >= wholePulses {
		return true
	}
	samples := period / f.interval
	odd := 2*math.Floor(samples/2) + 1
	return f.missedOdds(cycles) <= aliasOdds && math.Abs(samples-odd)*cycles >= lockedDrift
}

// missedOdds is how likely twice as many pulses, every second one of them missed,
// would show what was seen, beside the cycles that were. Each pulse is seen with
// one chance, of which nothing is known.
func (f *pulseFinder) missedOdds(cycles float64) float64 {
	seen := float64(f.count)
	return math.Exp(mathext.Lbeta(seen+1, 2*cycles+2-seen) - mathext.Lbeta(seen+1, cycles+2-seen))
}

func (f *pulseFinder) part() {
	f.end()
	f.on = f.on[:0]
	f.hasBase = false
}

// result adds whether nothing followed each train.
func (f *pulseFinder) result(left *int, endS float64) []Pulses {
	out := f.out.take(left)
	for i := range out {
		next := endS
		if i+1 < len(out) {
			next = out[i+1].StartS
		}
		out[i].Quiet = next-out[i].EndS >= quietS && f.lastDraw <= out[i].EndS && i+1 == len(out)
	}
	return out
}
