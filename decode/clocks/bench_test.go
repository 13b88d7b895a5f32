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

// BenchmarkMessageSteps is the reading of a message list: linear in its contracts, which
// need not move VBUS.
func BenchmarkMessageSteps(b *testing.B) {
	for _, count := range []int{100, 1000, 10000} {
		b.Run(fmt.Sprintf("%d contracts", count), func(b *testing.B) {
			var ready []float64
			var ma []int
			for k := range count {
				ready, ma = append(ready, 10*float64(k+1)), append(ma, 500)
			}
			n := contracts(ready, ma)
			b.ResetTimer()
			for b.Loop() {
				clocks.MessageSteps(n)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*count), "ns/contract")
		})
	}
}
