package evaluate_test

import (
	"flag"
	"runtime"
	"strings"
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

// TestEvaluate draws cases and holds bars far below what the verdict reaches:
// they are for a verdict that has broken, not for its quality.
func TestEvaluate(t *testing.T) {
	r, err := evaluate.OnBench(evaluate.Options{Cases: *cases, First: *first, Workers: runtime.GOMAXPROCS(0)})
	require.NoError(t, err)
	var b strings.Builder
	r.Print(&b)
	for _, part := range []string{"by where the fault was", "at-port, both", "meter alone, by its rate", "at 10 to 20 Hz", "by family"} {
		assert.Contains(t, b.String(), part)
	}
	for line := range strings.Lines(b.String()) {
		assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 80, line)
	}
	for _, in := range evaluate.Inputs() {
		n := 0
		for key, s := range r.Truths {
			if strings.HasSuffix(key, ", "+in) {
				n += s.N
			}
		}
		assert.Equal(t, r.Total[in].N, n, "%s: each case has one answer", in)
		s := r.Total[in]
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
