package compare_test

import (
	"flag"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/bench"
	"portside/decode/compare"
	"portside/decode/evaluate"
	"portside/decode/rules"
)

var pairs = flag.Int("pairs", 12, "how many pairs of drawn benches are compared")

// drawn is a bench of a seed, read as a user's files are.
func drawn(t *testing.T, seed uint64, inputs string) (compare.Recording, bench.Scenario) {
	t.Helper()
	c, err := evaluate.Draw(seed)
	require.NoError(t, err)
	_, d, err := evaluate.Judge(c, inputs)
	require.NoError(t, err)
	return compare.Recording{Diagnosis: d}, c.Run.Scenario
}

// A machine that is still faulty, whether with the same fault or another, is never
// called repaired.
func TestFaultyMachinesAreNotRepaired(t *testing.T) {
	chance := rand.New(rand.NewPCG(11, 12))
	said := map[compare.Verdict]int{}
	for n := 0; n < *pairs; {
		before, was := drawn(t, chance.Uint64(), evaluate.Both)
		after, is := drawn(t, chance.Uint64(), evaluate.Both)
		if was.Location == bench.Location(rules.Healthy) || is.Location == bench.Location(rules.Healthy) {
			continue
		}
		n++
		c := compare.Compare(before, after)
		said[c.Verdict]++
		assert.NotEqual(t, compare.Repaired, c.Verdict, "%s (%s) after %s (%s): %s", is.Name, is.Part, was.Name, was.Part, c.Summary)
	}
	t.Log(said)
}
