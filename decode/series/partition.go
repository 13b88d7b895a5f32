package series

import (
	"math"
	"slices"
)

// Moments are the sums of a run of values that are never cut apart: one value,
// or a quiet stretch taken as one.
type Moments struct{ N, Sum, Squares float64 }

// Of returns the moments of each value of x alone.
func Of(x []float64) []Moments {
	out := make([]Moments, len(x))
	for i, v := range x {
		out[i] = Moments{N: 1, Sum: v, Squares: v * v}
	}
	return out
}

// Partition is a series cut into segments of one mean each.
type Partition struct {
	Ends      []int   // exclusive end of each segment; the last is the length
	Objective float64 // sum of squared deviations, and beta for each cut
}

// Cuts are the indices at which a new segment begins.
func (p Partition) Cuts() []int {
	if len(p.Ends) == 0 {
		return nil
	}
	return p.Ends[:len(p.Ends)-1]
}

// OptimalPartition cuts the series where the sum of squared deviations from the
// segments' means, with beta for each cut, is least: Jackson et al. 2005, IEEE
// Sig. Proc. Lett. 12(2):105-108. No segment is shorter than least entries;
// least below 1 counts as 1, and a series shorter than it is one segment. Time
// goes with the square of the length.
func OptimalPartition(m []Moments, beta float64, least int) Partition {
	return partition(m, beta, least, false)
}

// PELT gives the same partition as [OptimalPartition] and drops each start that
// can never be best again, so that time goes with the length where changes are
// spread over it: Killick, Fearnhead & Eckley 2012, JASA 107(500):1590-1598.
func PELT(m []Moments, beta float64, least int) Partition {
	return partition(m, beta, least, true)
}

// Beta is the usual penalty of one cut for values of known standard deviation:
// weight times sigma² ln n. Weight 2 counts mean and place (SIC), 3 is stricter.
func Beta(weight, sigma float64, n int) float64 {
	return weight * sigma * sigma * math.Log(float64(n))
}

// start is a place where the last segment may begin. From dead on it cannot
// be the best one; 0 is not known to be dead.
type start struct{ at, dead int }

func partition(m []Moments, beta float64, least int, prune bool) Partition {
	n := len(m)
	if n == 0 {
		return Partition{}
	}
	least = max(1, least)
	if n < least {
		least = n
	}
	sums := cumulate(m)
	best := make([]float64, n+1)
	from := make([]int, n+1)
	for i := range best {
		best[i] = math.Inf(1)
	}
	best[0] = -beta
	var starts []start
	for end := least; end <= n; end++ {
		if at := end - least; at == 0 || at >= least {
			starts = append(starts, start{at: at})
		}
		starts = step(sums, best, from, starts, end, least, beta, prune)
	}
	return Partition{Ends: ends(from), Objective: best[n]}
}

// step finds the best last segment of the first end entries, and returns the
// starts that stay. A start beaten at end is so for good once a segment may
// begin at end, which is least entries later.
func step(sums []Moments, best []float64, from []int, starts []start, end, least int, beta float64, prune bool) []start {
	if prune {
		starts = slices.DeleteFunc(starts, func(s start) bool { return s.dead > 0 && end >= s.dead })
	}
	for _, s := range starts {
		if f := best[s.at] + deviation(sums, s.at, end) + beta; f < best[end] {
			best[end], from[end] = f, s.at
		}
	}
	if prune {
		for i, s := range starts {
			if s.dead == 0 && best[s.at]+deviation(sums, s.at, end) >= best[end] {
				starts[i].dead = end + least
			}
		}
	}
	return starts
}

// cumulate sums the entries about the mean of all, which keeps the squares
// from cancelling.
func cumulate(m []Moments) []Moments {
	var n, sum float64
	for _, c := range m {
		n, sum = n+c.N, sum+c.Sum
	}
	mean := sum / n
	out := make([]Moments, len(m)+1)
	for i, c := range m {
		out[i+1] = Moments{
			N:       out[i].N + c.N,
			Sum:     out[i].Sum + c.Sum - c.N*mean,
			Squares: out[i].Squares + c.Squares - 2*mean*c.Sum + c.N*mean*mean,
		}
	}
	return out
}

// deviation is the sum of squared deviations of entries from to end, end
// excluded, from their mean.
func deviation(sums []Moments, from, end int) float64 {
	a, b := sums[from], sums[end]
	d := b.Sum - a.Sum
	return max(0, b.Squares-a.Squares-d*d/(b.N-a.N))
}

func ends(from []int) []int {
	var out []int
	for end := len(from) - 1; end > 0; end = from[end] {
		out = append(out, end)
	}
	slices.Reverse(out)
	return out
}
