package evaluate_test

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"runtime"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/evaluate"
	"portside/decode/rules"
)

var (
	cases = flag.Int("cases", 60, "how many cases the evaluation draws")
	first = flag.Uint64("first", 1, "the first seed")
)

// TestEvaluate draws cases and prints how right and how honest the verdict is.
// The bars it holds are far below what it reaches: they are for a verdict that
// has broken, not for its quality.
func TestEvaluate(t *testing.T) {
	inputs := []string{evaluate.Meter, evaluate.Messages, evaluate.Both}
	total := map[string]*evaluate.Score{}
	families, rates := map[string]*evaluate.Score{}, map[string]*evaluate.Score{}
	rivals := map[string]int{}
	of := func(m map[string]*evaluate.Score, key string) *evaluate.Score {
		if m[key] == nil {
			m[key] = &evaluate.Score{}
		}
		return m[key]
	}
	var mu sync.Mutex
	var workers sync.WaitGroup
	seeds := make(chan uint64)
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for seed := range seeds {
				c, err := evaluate.Draw(seed)
				if !assert.NoError(t, err, "seed %d", seed) {
					continue
				}
				for _, in := range inputs {
					j, d, ok, err := evaluate.Judge(c, in)
					if !ok {
						assert.NoError(t, err, "seed %d, %s", seed, in)
						continue
					}
					mu.Lock()
					of(total, in).Add(j)
					of(families, fmt.Sprintf("%s, %s", c.Family, in)).Add(j)
					if in == evaluate.Meter {
						of(rates, fmt.Sprintf("meter at %4.0f Hz", j.MeterHz)).Add(j)
					}
					for _, o := range evaluate.Opponents {
						if o.Tell(d) == j.Truth {
							rivals[in+", "+o.Name]++
						}
					}
					if j.Named != rules.Undetermined && j.Named != j.Truth && testing.Verbose() {
						t.Logf("wrong: seed %d %s %s at %g Hz: %s %.2f", seed, c.Family, in, j.MeterHz, j.Named, j.Shares[j.Named])
					}
					mu.Unlock()
				}
			}
		})
	}
	for i := range *cases {
		seeds <- *first + uint64(i)
	}
	close(seeds)
	workers.Wait()

	if testing.Verbose() {
		for _, in := range inputs {
			of(total, in).Print(os.Stdout, in)
			for _, o := range evaluate.Opponents {
				n := rivals[in+", "+o.Name]
				fmt.Printf("  %-34s right %5.1f %%\n", o.Name, 100*float64(n)/float64(total[in].N))
			}
		}
		for _, m := range []map[string]*evaluate.Score{rates, families} {
			for _, key := range slices.Sorted(maps.Keys(m)) {
				s := m[key]
				fmt.Printf("  %-46s %5d cases: right %3.0f %%, open %3.0f %%, wrong %3.0f %%, log-loss %.2f\n", key, s.N,
					100*float64(s.Right)/float64(s.N), 100*float64(s.Undecided)/float64(s.N), 100*float64(s.Wrong)/float64(s.N), s.LogLoss())
			}
		}
	}
	for _, in := range inputs {
		s := total[in]
		require.NotNil(t, s)
		assert.Less(t, float64(s.Wrong), 0.2*float64(s.N), "%s: wrong verdicts", in)
		assert.LessOrEqual(t, float64(s.Accused), 0.1*float64(max(s.Sound, 20)), "%s: sound machines accused", in)
	}
}

// Wilson's interval for 0 of 30 ends at 0.1135 and for 15 of 30 goes from 0.3315
// to 0.6685: computed from the published formula by hand.
func TestWilson(t *testing.T) {
	low, high := evaluate.Wilson(0, 30)
	assert.Zero(t, low)
	assert.InDelta(t, 0.1135, high, 5e-4)
	low, high = evaluate.Wilson(15, 30)
	assert.InDelta(t, 0.3315, low, 5e-4)
	assert.InDelta(t, 0.6685, high, 5e-4)
}

// A verdict that says 0.7 and is right 7 times in 10 is calibrated; one that
// says 0.9 and is right 5 times in 10 is not.
func TestScore(t *testing.T) {
	say := func(p float64, right, n int) *evaluate.Score {
		s := &evaluate.Score{}
		for i := range n {
			truth := rules.BehindPort
			if i >= right {
				truth = rules.AtPort
			}
			s.Add(evaluate.Judged{Truth: truth, Named: rules.BehindPort, Shares: map[rules.Location]float64{rules.BehindPort: p, rules.AtPort: 1 - p}})
		}
		return s
	}
	assert.InDelta(t, 0, say(0.7, 7, 10).CalibrationError(), 1e-9)
	assert.InDelta(t, 0.2, say(0.9, 5, 10).CalibrationError(), 1e-9) // 0.4 on two of four shares
	assert.Equal(t, 5, say(0.9, 5, 10).SureWrong)
	assert.Equal(t, 3, say(0.7, 7, 10).Wrong)
}
