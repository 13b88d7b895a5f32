package draw

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// anyLog goes from one voltage and current to another, at once or over some rows.
func anyLog(rows int) []point {
	r := rand.New(rand.NewPCG(1, 1))
	lengths := []int{1, 2, 5, 20, 200}
	var log []point
	var before, v, a float64
	for len(log) < rows {
		v1 := []float64{0, 5, 9, 20, v, v, max(0, v-0.6), before}[r.IntN(8)]
		a1 := []float64{a, a, 0.01, 0.1, 0.5, v1 / 20}[r.IntN(6)]
		n, sudden := lengths[r.IntN(len(lengths))], r.IntN(2) == 0
		for i := range n {
			way := float64(i+1) / float64(n)
			if sudden {
				way = 1
			}
			log = append(log, point{t: float64(len(log)) * 0.01, v: v + way*(v1-v), a: a + way*(a1-a)})
		}
		before, v, a = v, v1, a1
	}
	return log
}

// Neither of a finder and its clone sees what the other one does.
func TestClonesShareNothing(t *testing.T) {
	const every = 50
	log, n := anyLog(200_000), &noise{v: 0.001, a: 0.001, intervalS: 0.01}
	state := func(f finder) string { return fmt.Sprintf("%+v", f) }
	for _, f := range finders() {
		t.Run(fmt.Sprintf("%T", f), func(t *testing.T) {
			for i := 0; i+2*every <= len(log); i += every {
				before, clone := state(f), f.clone()
				for _, p := range log[i+every : i+2*every] {
					clone.add(p, n)
				}
				clone.result(&Result{}, new(int))
				require.Equal(t, before, state(f))
				before = state(clone)
				for _, p := range log[i : i+every] {
					f.add(p, n)
				}
				require.Equal(t, before, state(clone))
			}
		})
	}
}
