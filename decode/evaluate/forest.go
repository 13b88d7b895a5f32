package evaluate

import (
	"math"
	"math/rand/v2"
)

// The forest: extremely randomised trees (Geurts, Ernst & Wehenkel 2006,
// Machine Learning 63:3-42). A split is drawn at random and the best of a few
// is kept; a leaf keeps the shares of its cases.
const (
	trees     = 80
	tries     = 40 // splits drawn at a node: few of a hundred features tell one side from another
	leafCases = 8  // fewer are not split
	classes   = 4  // locations
)

type node struct {
	feature     int32 // -1: a leaf
	cut         float32
	left, right int32
	share       [classes]float32
}

type tree []node

type forest []tree

// example is one case: what is seen, and the place of the truth.
type example struct {
	X     []float32
	Truth int
}

// grow makes a forest. The same examples and seed give the same one.
func grow(all []example, seed uint64) forest {
	f := make(forest, trees)
	for i := range f {
		g := grower{all: all, random: rand.New(rand.NewPCG(seed, uint64(i)))}
		at := make([]int32, len(all))
		for j := range at {
			at[j] = int32(j) //nolint:gosec // far fewer cases
		}
		g.node(at)
		f[i] = g.tree
	}
	return f
}

type grower struct {
	all    []example
	random *rand.Rand
	tree   tree
}

// node adds the node of these cases and everything below it.
func (g *grower) node(at []int32) int32 {
	place := int32(len(g.tree)) //nolint:gosec // far fewer nodes
	var counts [classes]float64
	for _, i := range at {
		counts[g.all[i].Truth]++
	}
	n := node{feature: -1}
	for c, k := range counts {
		n.share[c] = float32(k / float64(len(at)))
	}
	g.tree = append(g.tree, n)
	if len(at) < leafCases || impurity(counts) == 0 {
		return place
	}
	feature, cut, ok := g.split(at)
	if !ok {
		return place
	}
	k := 0
	for i, c := range at {
		if g.all[c].X[feature] < cut {
			at[i], at[k] = at[k], at[i]
			k++
		}
	}
	left := g.node(at[:k])
	right := g.node(at[k:])
	g.tree[place].feature, g.tree[place].cut = int32(feature), cut //nolint:gosec // a hundred features
	g.tree[place].left, g.tree[place].right = left, right
	return place
}

// split draws cuts between two cases and keeps the purest.
func (g *grower) split(at []int32) (feature int, cut float32, ok bool) {
	best := math.Inf(1)
	for range tries {
		f := g.random.IntN(len(g.all[0].X))
		a, b := g.all[at[g.random.IntN(len(at))]].X[f], g.all[at[g.random.IntN(len(at))]].X[f]
		if a == b {
			continue
		}
		c := min(a, b) + float32(g.random.Float64())*(max(a, b)-min(a, b))
		if c <= min(a, b) {
			c = max(a, b)
		}
		var low, high [classes]float64
		for _, i := range at {
			if g.all[i].X[f] < c {
				low[g.all[i].Truth]++
			} else {
				high[g.all[i].Truth]++
			}
		}
		if x := impurity(low) + impurity(high); x < best {
			best, feature, cut, ok = x, f, c, true
		}
	}
	return feature, cut, ok
}

// impurity is Gini's, times the number of cases.
func impurity(counts [classes]float64) float64 {
	n, squares := 0.0, 0.0
	for _, k := range counts {
		n += k
		squares += k * k
	}
	if n == 0 {
		return 0
	}
	return n - squares/n
}

// tell gives the mean shares of the leaves that a case falls into.
func (f forest) tell(x []float32) [classes]float64 {
	var out [classes]float64
	for _, t := range f {
		n := &t[0]
		for n.feature >= 0 {
			if x[n.feature] < n.cut {
				n = &t[n.left]
			} else {
				n = &t[n.right]
			}
		}
		for c, s := range n.share {
			out[c] += float64(s) / float64(len(f))
		}
	}
	return out
}
