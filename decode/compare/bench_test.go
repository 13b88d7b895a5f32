package compare_test

import (
	"testing"
	"time"

	"portside/captures"
	"portside/decode"
	"portside/decode/compare"
)

// BenchmarkCompare sets two meter logs beside each other: the figure is for one
// sample of either, so that 10 million samples cost 10 million times as much.
func BenchmarkCompare(b *testing.B) {
	engines := [2]*decode.Engine{decode.NewEngine(decode.Options{}), decode.NewEngine(decode.Options{})}
	n := 0
	for b.Loop() {
		t := time.Duration(n) * time.Millisecond
		s := captures.Sample{At: t, Volts: 20, Amps: 1 + 0.5*float64(n/5000%2)}
		engines[n%2].Sample(&s)
		n++
	}
	compare.Compare(
		compare.Recording{Diagnosis: engines[0].Diagnose(nil, nil)},
		compare.Recording{Diagnosis: engines[1].Diagnose(nil, nil)})
}
