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

// hiddenShare is how often another fault may hide in a recording that reads healthy, once
// the first one is gone: a lossy cable behind the meter, or a leak under a full draw on a
// meter of some rows a second. Of 3,500 pairs of other seeds it did in 1.1 %.
const hiddenShare = 0.02

// A machine that has another fault after is hardly ever called repaired.
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
		if c.Verdict == compare.Repaired {
			t.Logf("%s (%s) after %s (%s): %s", is.Name, is.Part, was.Name, was.Part, c.Summary)
		}
	}
	t.Log(said)
	assert.LessOrEqual(t, float64(said[compare.Repaired]), max(1, hiddenShare*float64(*pairs)))
}

// A machine that is recorded twice with its fault is never called repaired.
func TestTheSameFaultIsNotRepaired(t *testing.T) {
	for _, f := range bench.Families() {
		if f.Location == bench.Location(rules.Healthy) {
			continue
		}
		seeds := []uint64{34} // of a cable that garbled less the second time
		for seed := range uint64(*pairs / 12) {
			seeds = append(seeds, seed)
		}
		for _, seed := range seeds {
			s := f.Draw(seed)
			c := compare.Compare(simulated(t, s, seed), simulated(t, s, seed+1000))
			assert.NotEqual(t, compare.Repaired, c.Verdict, "%s, seed %d: %s", f.Name, seed, c.Summary)
		}
	}
}

// simulated is one recording of a bench, by its meter alone where no messages were
// recorded.
func simulated(t *testing.T, s bench.Scenario, seed uint64) compare.Recording {
	t.Helper()
	run, err := bench.Simulate(s, seed)
	require.NoError(t, err)
	c := evaluate.Simulated(s.Name, run)
	_, d, err := evaluate.Judge(c, evaluate.Both)
	if err != nil {
		_, d, err = evaluate.Judge(c, evaluate.Meter)
	}
	require.NoError(t, err)
	return compare.Recording{Diagnosis: d}
}
