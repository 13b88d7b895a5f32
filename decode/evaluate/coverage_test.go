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
