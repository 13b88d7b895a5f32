package clocks_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"portside/decode/clocks"
)

// BenchmarkAlign is the alignment alone. It works on the steps, of which each side
// keeps 256 at most: a longer recording costs what the longest here costs.
func BenchmarkAlign(b *testing.B) {
	for _, n := range []int{16, 64, 256} {
		b.Run(fmt.Sprintf("%d steps", n), func(b *testing.B) {
			chance := rand.New(rand.NewPCG(1, 2))
			volts := []float64{5, 9, 15, 20}
			var meter, messages []clocks.Step
			now, from := 0.0, 5.0
			for len(meter) < n {
				now += 1 + 10*chance.Float64()
				to := volts[chance.IntN(4)]
				if to == from {
					continue
				}
				meter, messages = append(meter, at(now, 0.01, from, to)), append(messages, at(now+100, 0.05, from, to))
				from = to
			}
			for b.Loop() {
				align(meter, messages)
			}
		})
	}
}
