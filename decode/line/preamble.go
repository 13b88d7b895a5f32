package line

import "math"

// Bit rates that are followed, in bit/s: a fifth beyond what the standard
// allows (270 to 330 kbit/s, USB PD R3.2 V1.1, table 5.17), so that a
// transmitter outside it is read and told.
const (
	slowestBits = 240_000
	fastestBits = 360_000
)

const (
	// lockEdges are the intervals looked at to recognise a preamble: 12 bits.
	lockEdges = 18
	lockBits  = 12
	// periodEdges is the period of the pattern: a 0 has one edge, a 1 two.
	periodEdges = 3
	// longOverShort tells the interval of a 0 (2 halves of a bit) from those of
	// a 1; half-way between equal and double.
	longOverShort = 1.5
	// lockResidual is how far the edges of a preamble may scatter about an even
	// clock, in halves of a bit: a grid of 1 MS/s gives 0.19, jitter at the
	// receive mask 0.08 (USB PD R3.2 V1.1, table 5.16).
	lockResidual = 0.35
)

// lock is a preamble that was recognised: a clock that ran over its edges.
type lock struct {
	edge  int // which begins a 0
	clock clock
}

// findPreamble looks for alternating bits among edges, times in ns, from an
// index on. rises says whether edges[0] rises.
func findPreamble(edges []int64, from int, rises bool) (lock, bool) {
	const (
		shortest = int64(lockBits * 1_000_000_000 / fastestBits)
		longest  = int64(lockBits * 1_000_000_000 / slowestBits)
	)
	for i := from; i+lockEdges+periodEdges <= len(edges); i++ {
		if d := edges[i+lockEdges] - edges[i]; d < shortest || d > longest {
			continue
		}
		first, ok := zeroEdge(edges[i : i+lockEdges+1])
		if !ok {
			continue
		}
		l := lock{edge: i + first}
		if l.clock, ok = fitPreamble(edges[l.edge:], rises == (l.edge%2 == 0)); ok {
			return l, true
		}
	}
	return lock{}, false
}

// zeroEdge finds which of the first three edges begins a 0: the interval
// behind it is twice as long as the other two.
func zeroEdge(edges []int64) (int, bool) {
	var sums [periodEdges]int64
	for i := range lockEdges {
		sums[i%periodEdges] += edges[i+1] - edges[i]
	}
	longest := 0
	for i, s := range sums {
		if s > sums[longest] {
			longest = i
		}
	}
	for i, s := range sums {
		if i != longest && float64(sums[longest]) < longOverShort*float64(s) {
			return 0, false
		}
	}
	return longest, true
}

// fitPreamble puts an even clock through the edges of a preamble that begins
// with a 0, and says how late its rising edges lie.
func fitPreamble(edges []int64, rises bool) (clock, bool) {
	var n, sx, sy, sxx, sxy, skew float64
	for k := range lockEdges {
		x, y := halvesOfPreamble(k), float64(edges[k]-edges[0])
		n++
		sx += x
		sy += y
		sxx += x * x
		sxy += x * y
	}
	half := (n*sxy - sx*sy) / (n*sxx - sx*sx)
	start := (sy - half*sx) / n
	var squares float64
	sign := signOf(rises)
	for k := range lockEdges {
		e := float64(edges[k]-edges[0]) - start - half*halvesOfPreamble(k)
		squares += e * e
		skew += sign * e / n
		sign = -sign
	}
	squares -= n * skew * skew
	last := lockEdges - 1
	return clock{
		origin: edges[0], at: start + half*halvesOfPreamble(last), half: half, skew: skew,
		sign: signOf(rises) * signOf(last%2 == 0), edges: n, jitter: math.Sqrt(max(0, squares) / n),
	}, squares < n*lockResidual*lockResidual*half*half
}

// halvesOfPreamble is how many halves of a bit lie before the k-th edge.
func halvesOfPreamble(k int) float64 {
	within := [periodEdges]float64{0, 2, 3}
	return float64(4*(k/periodEdges)) + within[k%periodEdges]
}

func signOf(rises bool) float64 {
	if rises {
		return 1
	}
	return -1
}
