package line

import (
	"math"
	"time"

	"portside/pd"
)

// Bins of the resting level in volts: no line at a port goes beyond.
const (
	restLowest = -1.0
	restStep   = 0.01
	restBins   = 700
)

// pieceNs is how much of a resting line is averaged to one level.
const pieceNs = 1_000_000

// stretch is a time at rest, and the mean level of the line.
type stretch struct {
	span
	volts float64
}

// restLevel gathers the level of a line between frames.
type restLevel struct {
	bins   []int64 // ns at each level
	recent [8]stretch
	n      int // stretches so far

	from, last int64
	sum, count float64
}

func (r *restLevel) add(v voltage) {
	if r.count == 0 {
		r.from = v.at
	}
	r.sum += v.volts
	r.count++
	r.last = v.at
	if v.at-r.from >= pieceNs {
		r.end()
	}
}

// end closes a stretch at rest.
func (r *restLevel) end() {
	if r.count > 0 && r.last > r.from {
		mean := r.sum / r.count
		if r.bins == nil {
			r.bins = make([]int64, restBins)
		}
		bin := int(math.Floor((mean - restLowest) / restStep))
		r.bins[min(max(bin, 0), restBins-1)] += r.last - r.from
		r.recent[r.n%len(r.recent)] = stretch{span{r.from, r.last}, mean}
		r.n++
	}
	r.sum, r.count = 0, 0
}

// before is the level in the last stretch that ended before at; NaN where
// none is remembered.
func (r *restLevel) before(at int64) float64 {
	for k := r.n - 1; k >= max(0, r.n-len(r.recent)); k-- {
		if s := r.recent[k%len(r.recent)]; s.to <= at {
			return s.volts
		}
	}
	return math.NaN()
}

// median is the level that the line rested at or below for half of the time.
func (r *restLevel) median() (float64, bool) {
	var total, sum int64
	for _, ns := range r.bins {
		total += ns
	}
	for i, ns := range r.bins {
		if sum += ns; ns > 0 && 2*sum >= total {
			return levelOf(i), true
		}
	}
	return 0, false
}

func levelOf(bin int) float64 { return restLowest + (float64(bin)+0.5)*restStep }

// only reports whether the line never rested at another level than this.
func (r *restLevel) only(volts float64) bool {
	want := pd.CCMeaning(volts)
	for i, ns := range r.bins {
		if ns > 0 && pd.CCMeaning(levelOf(i)) != want {
			return false
		}
	}
	return true
}

// levels are the times spent at each level, as a sink understands it.
func (r *restLevel) levels() []Rest {
	var times [pd.CCOutside + 1]int64
	for i, ns := range r.bins {
		times[pd.CCMeaning(levelOf(i))] += ns
	}
	out := []Rest{}
	for level, ns := range times {
		if ns > 0 {
			out = append(out, Rest{Level: pd.CCLevel(level).String(), S: time.Duration(ns).Seconds()})
		}
	}
	return out
}
