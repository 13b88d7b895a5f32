package location

import (
	"math"
)

// posterior weighs a distribution by one likelihood for each class (Bayes).
func posterior(p, like []float64) []float64 {
	out := make([]float64, len(p))
	for i := range p {
		out[i] = p[i] * like[i]
	}
	normalise(out)
	return out
}

// normalise makes the sum 1. Nothing is done to a vector without mass.
func normalise(p []float64) {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	if sum <= 0 {
		return
	}
	for i := range p {
		p[i] /= sum
	}
}

// capped lifts small likelihoods so that none is more than ratio below the
// largest: no single fact decides alone.
func capped(like []float64, ratio float64) []float64 {
	most := 0.0
	for _, x := range like {
		most = max(most, x)
	}
	out := make([]float64, len(like))
	for i, x := range like {
		out[i] = max(x, most/ratio)
	}
	return out
}

// entropyBits is the entropy of a distribution.
func entropyBits(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}

// grouped sums classes to groups: share[class][group] adds up to 1 over the
// groups of a class.
func grouped(p []float64, share [][]float64) []float64 {
	out := make([]float64, len(share[0]))
	for i, x := range p {
		for j, s := range share[i] {
			out[j] += x * s
		}
	}
	return out
}

// gainBits is what a test is expected to tell (Lindley 1956): of the bits in doubt
// those that no outcome leaves. table[outcome][class] is the chance of an outcome.
func gainBits(doubt float64, p []float64, table [][]float64, left func(outcome int) float64) float64 {
	for i, outcome := range table {
		doubt -= chance(p, outcome) * left(i)
	}
	return max(doubt, 0)
}

// chance is how likely an outcome is before the test.
func chance(p, outcome []float64) float64 {
	sum := 0.0
	for i := range p {
		sum += p[i] * outcome[i]
	}
	return sum
}

// decibans is the weight of evidence of a likelihood ratio (Good 1950).
func decibans(ratio float64) float64 { return 10 * math.Log10(ratio) }

// perCost is the order in which to try things that may each be the cause:
// probability over cost, largest first (Kadane & Simon 1977).
func perCost(p, cost float64) float64 { return p / cost }

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}
