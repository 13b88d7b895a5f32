package evaluate_test

import (
	"flag"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/evaluate"
)

var covered = flag.Int("covered", 60, "how many cases of each quantity the coverage draws")

// TestEvaluateCoverage prints how often the truth lies within two stated
// uncertainties. With few cases the bars leave room for chance.
func TestEvaluateCoverage(t *testing.T) {
	all := evaluate.Cover(*covered, 1)
	require.NoError(t, evaluate.PrintCoverage(t.Output(), all))
	for _, c := range all {
		assert.Positive(t, c.Given, c.Quantity)
		if *covered >= 1000 {
			assert.True(t, c.Honest(), "%s: %.1f %% within two uncertainties, median ratio %.2f", c.Quantity, 100*c.Within, c.Ratio)
			continue
		}
		assert.GreaterOrEqual(t, c.Within, 0.75, c.Quantity)
	}
}

// An offset is off by less than one look of the slower recorder, or 5 ms, in half of
// the cases: a source's own wait of 25 to 35 ms is not in the data.
func TestOffsetsByMeter(t *testing.T) {
	for _, interval := range []float64{0.001, 0.01, 0.1, 1} {
		c := evaluate.CoverOffsets(*covered, 7, interval)
		t.Logf("%g s: %d of %d given, %.1f %% within 2 u, median error %.2g s, beyond 5 u %d", interval, c.Given, c.Cases, 100*c.Within, c.Error, c.Gross)
		assert.LessOrEqual(t, c.Error, max(interval, 0.005))
		assert.Zero(t, c.Gross)
		assert.GreaterOrEqual(t, c.Within, 0.85)
	}
}

// Clocks that run apart for an hour spoil no offset.
func TestOffsetsOfLongSessions(t *testing.T) {
	c := evaluate.CoverLongOffsets(*covered, 5)
	t.Logf("%d of %d given, %.1f %% within 2 u, median error %.2g s, beyond 5 u %d", c.Given, c.Cases, 100*c.Within, c.Error, c.Gross)
	assert.Greater(t, c.Given, *covered*9/10)
	assert.Zero(t, c.Gross)
	assert.GreaterOrEqual(t, c.Within, 0.85)
}

// No row need show the largest current of an inrush: its bounds do.
func TestPeaksLieWithinTheirBounds(t *testing.T) {
	b := evaluate.CoverPeaks(5**covered, 3)
	require.NoError(t, evaluate.PrintBounded(t.Output(), b))
	assert.Positive(t, b.Above)
	assert.GreaterOrEqual(t, b.Inside, 0.97)
	assert.Greater(t, b.Least, 0.1)
	assert.Less(t, b.Most, 20.0)
}
