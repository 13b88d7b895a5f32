package draw

import (
	"math"

	"portside/pd"
)

// Slide is VBUS going down under load more slowly than a source changes from one fixed
// contract to another: something gives way, or a programmable contract is asked for less.
type Slide struct {
	StartS, EndS float64 // from the last sample at the top to the first far below it
	FromV, ToV   float64
	AtA          float64 // the lesser of the currents at its two ends
}

const (
	slideFoot   = 0.85 // fixed voltages lie at least 25 % apart, so a change of contract goes through here
	slideOver   = 1.05 // a higher contract, or vSrcNew left upwards
	slideFromV  = FiveTo
	slideLeastA = 0.1  // less flows from capacitors behind a plug that was pulled: common practice
	slideFilter = 0.05 // of a meter's filter: common practice
	slideMostS  = 10.0 // slower is a programmable contract that follows its battery: common practice
	slideSudden = 0.6  // of the way in one row, where a row is
	slideRow    = 0.35 // no more than this of the time: a fall that ends a sag. Common practice
	stoodS      = 0.5  // as long as a transition takes
	stoodLowerS = 2.0  // a slide of a volt in two seconds passes by
	stoodN      = 5
)

// slideFinder follows VBUS down from the voltage that it stood at.
type slideFinder struct {
	ref   float64 // what VBUS stood at, 0 where that is not known
	top   point   // the last sample there
	last  point
	fromT float64 // of the run of samples that stand
	sum   float64
	n     int
	out   keep[Slide]
}

func (f *slideFinder) init() {
	f.out.size = func(s Slide) float64 { return s.FromV - s.ToV }
}

func (f *slideFinder) clone() slideFinder {
	c := *f
	c.out = f.out.clone()
	return c
}

// add takes a sample with a voltage.
func (f *slideFinder) add(p point, n noise) {
	if p.t-f.last.t > max(minGapS, gapFactor*n.intervalS) {
		f.ref, f.n = 0, 0
	}
	f.stand(p)
	switch {
	case f.ref == 0:
	case p.v > slideOver*f.ref:
		f.ref = 0
	case p.v >= topShare*f.ref:
		f.top = p
	case p.v <= slideFoot*f.ref:
		f.arrive(p, n)
	}
	f.last = p
}

// stand keeps the run of samples about one voltage, and takes that for what VBUS stood
// at: the first one soon, a lower one only once no slide would dwell there.
func (f *slideFinder) stand(p point) {
	if mean := f.sum / float64(max(f.n, 1)); f.n == 0 || math.Abs(p.v-mean) > (1-topShare)*mean {
		f.fromT, f.sum, f.n = p.t, 0, 0
	}
	f.sum += p.v
	f.n++
	mean, stood := f.sum/float64(f.n), p.t-f.fromT
	first := f.ref == 0 && stood >= stoodS
	lower := mean < topShare*f.ref && stood >= stoodLowerS
	if f.n >= stoodN && mean >= slideFromV && (first || lower) {
		f.ref, f.top = mean, p
	}
}

// arrive ends the way down. A row may be a mean, so that either end is a row's length
// uncertain.
func (f *slideFinder) arrive(p point, n noise) {
	took, amps := p.t-f.top.t, min(f.top.a, p.a)
	sudden := f.last.v-p.v > slideSudden*(f.ref-p.v) && p.t-f.last.t <= slideRow*took
	if !sudden && took > settles(f.ref)+slideFilter+2*n.intervalS && took < slideMostS && amps >= slideLeastA {
		f.out.add(Slide{StartS: f.top.t, EndS: p.t, FromV: f.ref, ToV: p.v, AtA: amps})
	}
	f.ref = 0
}

// settles is the longest that a fixed supply takes from one voltage to another.
func settles(from float64) float64 {
	longest := pd.TSrcSettleSPR
	if from > pd.PPSMaxVoltage.Volts() {
		longest = pd.TSrcSettleEPR
	}
	return longest.Limits(pd.Revision3x).MaxSI()
}

// addChunk passes over a chunk that stands where VBUS stood.
func (f *slideFinder) addChunk(c *chunk, n noise) {
	if f.ref > 0 && c.minV >= topShare*f.ref && c.maxV <= slideOver*f.ref {
		f.top, f.last, f.n = c.samples[c.n-1], c.samples[c.n-1], 0
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}
