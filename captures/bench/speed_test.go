package bench

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
)

var long = flag.Bool("long", false, "run every scenario and family with many more seeds, and meters at ten thousand rows a second")

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

// Rows read off within the solver's steps are what rows that end its steps
// are. The noise is the same in both, so that only the circuit differs.
func TestRowsWithinStepsAreThoseAtTheirEnds(t *testing.T) {
	run := func(p Parameters, ends bool) []captures.Sample {
		b, err := newBench(p, rand.New(rand.NewPCG(5, 5)))
		require.NoError(t, err)
		b.meter.endsSteps = ends
		require.NoError(t, b.run())
		return b.meter.rows
	}
	rows, differ := 0, 0
	for _, f := range Families() {
		for _, averages := range []bool{false, true} {
			s := f.Draw(1)
			p := &s.Parameters
			p.MeterHz, p.MeterAverages, p.DurationS = 500, averages, 5
			if *long {
				p.MeterHz = 10000
			}
			p.MeterStepV, p.MeterStepA = 0.0001, 0.0001
			p.MeterDropped = 0
			ends, within := run(*p, true), run(*p, false)
			require.InDelta(t, len(ends), len(within), 1, f.Name)
			for i := range min(len(ends), len(within)) {
				rows++
				if math.Abs(ends[i].Volts-within[i].Volts) > 0.005 || math.Abs(ends[i].Amps-within[i].Amps) > 0.005 {
					differ++ // an event that a step moved across the edge of one row
				}
			}
		}
	}
	t.Logf("%d of %d rows differ", differ, rows)
	assert.Less(t, float64(differ)/float64(rows), 0.002)
}
