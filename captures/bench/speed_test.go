package bench

import "testing"

// BenchmarkCase is one drawn case of every family in turn, as the evaluation
// draws them.
func BenchmarkCase(b *testing.B) {
	families := Families()
	rows := 0
	for n := range b.N {
		f := families[n%len(families)]
		seed := uint64(n / len(families)) //nolint:gosec // it counts up from 0
		run, err := Simulate(f.Draw(seed), seed)
		if err != nil {
			b.Fatal(err)
		}
		rows += len(run.Rows)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "cases/s")
	b.ReportMetric(float64(rows)/float64(b.N), "rows/case")
}
