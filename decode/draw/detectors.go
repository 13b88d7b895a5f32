package draw

import (
	"math"
	"slices"
)

const (
	voltsEvery    = 4    // noise of VBUS decides little beside a current: one look in so many blocks
	gapFactor     = 3.0  // a longer distance of samples is a gap: common practice
	minGapS       = 1.0  // a charge is summed over this much anyway
	partS         = 0.25 // a shorter gap parts no steady draw: it hides nothing that lasts
	turnedA       = 0.03 // first draw above this decides the sign: offsets of 10 to 20 mA, data sheet SBOS844C
	turnedSigmas  = 10.0 // nor is it noise
	turnedRows    = 3    // a draw that never rests looks like noise: then rows of one sign decide
	standingShare = 0.03 // of VBUS, from one sample to the next: a cable's drop is less, a fall is more. Common practice
)

// detectors hold everything that is looked for, and what is known of the log as
// a whole.
type detectors struct {
	values    []float64 // room for those of one quantity
	chunk     chunk     // room for one: behind an interface, each would be allocated
	stretches int
	seen      statistics
	volts     noiseMeter
	stood     bool // VBUS was up
	amps      noiseMeter
	sign      float64 // 0 undecided
	plus      int     // rows before that, by their sign
	minus     int
	lastV     float64 // time of the last sample with a voltage
	lastA     float64
	noise     noise

	energy   energy
	trace    trace
	levels   leveller
	falls    fallFinder
	rises    riseFinder
	slides   slideFinder
	finders  []finder
	gaps     keep[Gap]
	segments segmenter
	shapes   shapes
}

// noise holds what the thresholds are made of.
type noise struct {
	v, a      float64 // standard deviations, floored
	qv, qa    float64 // resolutions, 0 unknown
	intervalS float64
	count     int // samples before these
}

func newDetectors() *detectors {
	d := &detectors{finders: finders()}
	d.gaps.size = func(g Gap) float64 { return g.EndS - g.StartS }
	d.levels.init()
	d.falls.init()
	d.rises.init()
	d.slides.init()
	d.shapes.init()
	return d
}

// takeAll takes samples block by block.
func (d *detectors) takeAll(samples []point) {
	for block := range slices.Chunk(samples, blockSamples) {
		d.take(block)
	}
}

// take takes a block, each stretch between gaps with the noise
// of its own, so that what follows a gap changes nothing before it.
func (d *detectors) take(block []point) {
	for i := range block {
		d.seen.add(&block[i])
	}
	d.noise.intervalS = d.seen.interval.median()
	limit := d.partLimit()
	from := 0
	for i := 1; i <= len(block); i++ {
		if i < len(block) && block[i].t-block[i-1].t <= limit {
			continue
		}
		d.takeStretch(block[from:i])
		from = i
	}
}

func (d *detectors) takeStretch(stretch []point) {
	values := d.values[:0]
	for _, p := range stretch {
		if p.a == p.a {
			values = append(values, p.a)
		}
	}
	d.noise.a, d.noise.qa = d.amps.block(values, floorA, d.noise.intervalS), d.amps.step
	if len(values) == 0 || d.stretches%voltsEvery == 0 || !d.stood {
		values = d.takeVolts(values[:0], stretch)
	}
	d.values = values
	d.stretches++
	d.noise.count = d.trace.total + len(stretch)
	if d.sign == 0 {
		d.decideSign(stretch)
	}
	if d.sign < 0 {
		for i := range stretch {
			stretch[i].a = -stretch[i].a
		}
	}
	for run := range slices.Chunk(stretch, chunkSamples) {
		d.takeRun(run)
	}
}

// takeVolts measures the noise of VBUS where it is up, since nothing is as calm as 0 V; before
// that, and in a log where it never is, of what there is. It returns the room that it used.
func (d *detectors) takeVolts(room []float64, stretch []point) []float64 {
	for _, p := range stretch {
		if p.v >= slideFromV {
			room = append(room, p.v)
		}
	}
	up := len(room) > leastDiffs
	if up && !d.stood {
		d.stood, d.volts.blocks = true, histogram{}
	}
	if !up {
		room = room[:0]
		for _, p := range stretch {
			if p.v == p.v {
				room = append(room, p.v)
			}
		}
	}
	if up || !d.stood {
		d.noise.v, d.noise.qv = d.volts.block(room, floorV, d.noise.intervalS), d.volts.step
	}
	return room
}

// takeRun takes neighbouring samples at once where all are alike.
func (d *detectors) takeRun(run []point) {
	before := d.falls.recent[0] // the last sample with both quantities
	if d.falls.n == recentLen && before.t == d.trace.lastT() {
		var whole bool
		if d.chunk, whole = sum(run, before, d.gapLimit()); whole {
			d.takeChunk(&d.chunk)
			return
		}
	}
	for _, p := range run {
		d.takeSample(p)
	}
}

// takeChunk does with a chunk what take does with each of its samples.
func (d *detectors) takeChunk(c *chunk) {
	d.lastV, d.lastA = c.t1, c.t1
	d.trace.addChunk(c, d.gapLimit())
	d.energy.addChunk(c)
	d.levels.addChunk(c, d.noise)
	d.slides.addChunk(c, d.noise)
	for _, f := range d.finders {
		f.addChunk(c, &d.noise)
	}
	if !d.rises.open && d.falls.calm(c) {
		d.falls.skip(c)
	} else {
		for _, p := range c.samples {
			d.falls.add(p)
			d.rises.add(p, d.falls.recent[:d.falls.n], d.noise)
			d.falls.remember(p)
		}
	}
	d.cutChunk(c)
}

func (d *detectors) takeSample(p point) {
	d.trace.add(p, d.gapLimit())
	d.findGap(p)
	hasV, hasA := p.v == p.v, p.a == p.a
	if hasV {
		d.lastV = p.t
	}
	if hasA {
		d.lastA = p.t
	}
	if hasV && hasA {
		d.energy.add(p, d.gapLimit())
		for _, f := range d.finders {
			f.add(p, &d.noise)
		}
	}
	if hasV {
		d.levels.add(p, d.noise)
		d.slides.add(p, d.noise)
		d.falls.add(p)
		d.rises.add(p, d.falls.recent[:d.falls.n], d.noise)
	}
	if hasV && hasA {
		d.falls.remember(p)
	}
	d.cut(p, hasV, hasA)
}

// cut hands the sample to the segments: by its current, or by VBUS where the
// log has no current so far.
func (d *detectors) cut(p point, hasV, hasA bool) {
	n := d.noise
	voltsOnly := d.seen.withA == 0
	if voltsOnly {
		p.a, n.a, n.qa = p.v, n.v, n.qv
		hasA = hasV
	}
	if !hasA {
		return
	}
	d.ready(p.t, p.t, n, voltsOnly)
	d.segments.add(p, n, &d.shapes)
}

// cutChunk hands a chunk to the segments.
func (d *detectors) cutChunk(c *chunk) {
	d.ready(c.t0, c.t1, d.noise, false)
	if d.segments.alike(c, d.noise) {
		d.segments.addChunk(c, d.noise, &d.shapes)
		return
	}
	for _, p := range c.samples {
		d.segments.add(p, d.noise, &d.shapes)
	}
}

// ready parts the segments where the samples from first to last do not go on
// from those before, and tells the shapes what the thresholds are made of.
func (d *detectors) ready(first, last float64, n noise, voltsOnly bool) {
	if d.segments.began && (first-d.segments.lastT > d.partLimit() || voltsOnly != d.shapes.voltsOnly) {
		d.segments.flush(&d.shapes)
		d.shapes.part()
	}
	d.segments.began, d.segments.lastT = true, last
	d.shapes.voltsOnly = voltsOnly
	d.shapes.a, d.shapes.q = n.a, n.qa
	d.shapes.pulses.interval, d.shapes.stairs.interval = n.intervalS, n.intervalS
}

// decideSign finds the sign of the current: the first significant draw from a
// VBUS that stands is into the device by definition. While VBUS falls the
// device's own capacitors give back. What came before it in the same stretch
// has it too. Where nothing stands out, rows that all have one sign decide.
func (d *detectors) decideSign(stretch []point) {
	bar := math.Max(turnedA, turnedSigmas*d.noise.a)
	for i, p := range stretch {
		before, after := stretch[max(i-1, 0)].v, stretch[min(i+1, len(stretch)-1)].v
		switch {
		case math.Abs(p.a) > bar && (p.v != p.v || standing(before, p.v) && standing(after, p.v)):
			d.sign = math.Copysign(1, p.a)
			return
		case p.v < before*(1-standingShare): // falling
		case p.a > turnedA:
			d.plus++
		case p.a < -turnedA:
			d.minus++
		}
	}
	switch {
	case d.plus >= turnedRows && d.minus == 0:
		d.sign = 1
	case d.minus >= turnedRows && d.plus == 0:
		d.sign = -1
	}
}

// standing reports VBUS that is there and does not move from one sample to the
// next.
func standing(other, v float64) bool {
	return v > offVolts && (other != other || math.Abs(v-other) <= standingShare*v)
}

func (d *detectors) gapLimit() float64 {
	if d.noise.intervalS == 0 {
		return math.Inf(1)
	}
	return gapFactor * d.noise.intervalS
}

func (d *detectors) partLimit() float64 { return math.Max(partS, d.gapLimit()) }

// findGap notes a stretch without samples or without one quantity.
func (d *detectors) findGap(p point) {
	if d.trace.total == 1 {
		d.lastV, d.lastA = p.t, p.t
		return
	}
	from := p.t
	if p.v == p.v && d.seen.withV > 0 {
		from = d.lastV
	}
	if p.a == p.a && d.seen.withA > 0 {
		from = math.Min(from, d.lastA)
	}
	d.noteGap(from, p.t)
}

func (d *detectors) noteGap(from, to float64) {
	if to-from > d.gapLimit() {
		d.gaps.add(Gap{StartS: from, EndS: to})
	}
}

// endGap notes a quantity that is missing up to the end.
func (d *detectors) endGap() {
	from := d.seen.endS
	if d.seen.withV > 0 {
		from = math.Min(from, d.lastV)
	}
	if d.seen.withA > 0 {
		from = math.Min(from, d.lastA)
	}
	d.noteGap(from, d.seen.endS)
}

// clone copies all state, so that a snapshot can be finished while the log goes on.
func (d *detectors) clone() *detectors {
	c := *d
	c.values = nil
	c.trace.bins = slices.Clone(d.trace.bins)
	c.gaps = d.gaps.clone()
	c.levels = d.levels.clone()
	c.falls = d.falls.clone()
	c.rises = d.rises.clone()
	c.slides = d.slides.clone()
	c.finders = make([]finder, len(d.finders))
	for i, f := range d.finders {
		c.finders[i] = f.clone()
	}
	c.segments = d.segments.clone()
	c.shapes = d.shapes.clone()
	return &c
}

// result ends everything that is open.
func (d *detectors) result() *Result {
	if d.seen.n > 0 {
		d.endGap()
	}
	d.segments.flush(&d.shapes)
	d.shapes.finish()
	r := &Result{
		Trace:    d.trace.result(),
		Sampling: d.seen.sampling(&d.volts, &d.amps, d.sign < 0),
		Turned:   d.sign < 0,
		Fitted:   d.energy.n,
		EnergyWh: d.energy.result(),
	}
	unpublished := 0
	r.Gaps = d.gaps.take(&unpublished)
	r.Levels = d.levels.finish(&unpublished)
	r.Collapses = d.falls.finish(&unpublished)
	r.Rises = d.rises.finish(&unpublished)
	r.Slides = d.slides.out.take(&unpublished)
	for _, f := range d.finders {
		f.result(r, &unpublished)
	}
	r.Sampling.Averaging = d.shapes.edges.averaging(r.Sampling.IntervalS)
	d.shapes.result(r, d.seen.endS)
	d.measure(r)
	r.Peak = peak(r, d.noise)
	return r
}
