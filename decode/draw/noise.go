package draw

import (
	"math"
	"slices"

	"portside/decode/series"
)

const (
	// floorA and floorV are the least noise any logging meter has: its class
	// shows 1 mA and 1 mV at best, common practice. Cuts below it are noise.
	floorA = 0.001
	floorV = 0.001

	coarsest        = 0.02       // no meter's last digit counts for more than 20 mA or 20 mV: common practice
	quarterWidth    = 0.63727873 // of the middle quarter of a standard normal
	shortestMost    = 1.5        // the shortest quarter of a sample is so much narrower by chance
	loudest         = 3.0        // a stretch may be this much noisier than the log is; beyond it is activity
	rippleS         = 0.020      // what comes and goes within this is ripple: half a period of 25 Hz mains products, common practice
	rippleSamples   = 16         // that tell it
	rippleRuns      = 16         // looked at in a block
	quarterDistance = 1.349      // between the quartiles of a standard normal
	noiseDiffs      = 128        // differences that tell the noise of a block
	leastDiffs      = 8          // fewer tell nothing
	gridValues      = 64         // values that tell the resolution of a block
	gridLeast       = 4          // distinct values, before their smallest step is the meter's
	gridBlocks      = 16         // blocks looked at for it at the beginning, then one in so many
	finestDigit     = 6          // decimals; finer is no digit but arithmetic
)

// noiseMeter follows the noise and the resolution of one quantity, block by
// block.
type noiseMeter struct {
	blocks histogram // noise of each block that had some
	step   float64   // resolution, 0 unknown
	n      int
}

// block takes the next values and returns their noise: from first differences,
// and on a fast log from its ripple; never below what the resolution leaves,
// the floor, and what most of the log has, and never far above that, since most differences of a busy block are
// activity.
func (m *noiseMeter) block(x []float64, floor, intervalS float64) float64 {
	if m.n < gridBlocks || m.n%gridBlocks == 0 {
		m.look(x)
	}
	m.n++
	s := quietSigma(differences(x), m.step)
	if rippleSamples*intervalS <= rippleS {
		s = max(s, ripple(x))
	}
	if s > 0 {
		m.blocks.add(s)
	}
	usual := m.blocks.median()
	return series.Floored(max(usual, min(s, loudest*usual)), m.step, floor)
}

// differences are those of neighbours, evenly thinned out.
func differences(x []float64) []float64 {
	stride := max(1, len(x)/noiseDiffs)
	out := make([]float64, 0, len(x)/stride+1)
	for i := 1; i < len(x); i += stride {
		out = append(out, x[i]-x[i-1])
	}
	return out
}

// quietSigma is the noise from the median absolute deviation of differences
// (Rice 1984), or from the shortest interval that holds a quarter of them where
// that is much less: then the draw itself moves in half of the samples.
func quietSigma(d []float64, step float64) float64 {
	if len(d) < leastDiffs {
		return 0
	}
	for i := range d {
		d[i] += step * dither(i)
	}
	slices.Sort(d)
	shortest := math.Inf(1)
	for i := 0; i+len(d)/4 < len(d); i++ {
		shortest = min(shortest, d[i+len(d)/4]-d[i])
	}
	_, mad := series.SortedMAD(d)
	return min(series.MADToSigma*mad, shortestMost*shortest/quarterWidth) / math.Sqrt2
}

// ripple is the deviation within most runs of a few samples, by the quarters in
// their middle, which a spike does not move. The draw of a switching load rises
// and falls evenly, and its differences alone look calm.
func ripple(x []float64) float64 {
	var room [rippleSamples]float64
	var runs [rippleRuns]float64
	n := 0
	stride := max(rippleSamples, len(x)/rippleRuns)
	for at := 0; at+rippleSamples <= len(x) && n < rippleRuns; at += stride {
		run := append(room[:0], x[at:at+rippleSamples]...)
		slices.Sort(run)
		const quarter = rippleSamples / 4
		upper := run[rippleSamples-quarter-1] + run[rippleSamples-quarter]
		runs[n] = (upper - run[quarter-1] - run[quarter]) / 2 / quarterDistance
		n++
	}
	if n < leastDiffs {
		return 0
	}
	slices.Sort(runs[:n])
	return runs[n/2]
}

// dither spreads the values of a meter evenly over its step. Where noise is no
// more than a step or two, the bare median jumps between nothing and a whole
// step. The golden ratio fills the step evenly without chance: Weyl 1916.
func dither(i int) float64 {
	_, part := math.Modf(float64(i) * math.Phi)
	return part - 0.5
}

// look takes the finest resolution seen: the smallest step where all values are
// multiples of it, else the last decimal digit in use.
func (m *noiseMeter) look(x []float64) {
	values := make([]float64, 0, gridValues)
	for i := 0; i < len(x); i += max(1, len(x)/gridValues) {
		values = append(values, x[i])
	}
	slices.Sort(values)
	values = slices.Compact(values)
	if len(values) < 2 {
		return
	}
	step := series.Resolution(values)
	if len(values) < gridLeast || !onGrid(values, step) {
		step = lastDigit(values)
	}
	step = min(step, coarsest)
	if m.step == 0 || (step > 0 && step < m.step) {
		m.step = step
	}
}

func onGrid(x []float64, step float64) bool {
	const slack = 1e-3 // of a step: values come as rounded decimals
	for _, v := range x {
		k := v / step
		if math.Abs(k-math.Round(k)) > slack {
			return false
		}
	}
	return true
}

// lastDigit is the decimal place in which the values end, 0 beyond the finest.
func lastDigit(x []float64) float64 {
	for k := range finestDigit + 1 {
		if step := math.Pow10(-k); onGrid(x, step) {
			return step
		}
	}
	return 0
}
