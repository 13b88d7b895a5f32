package evaluate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/bench"
	"portside/decode/evaluate"
)

func simulated(t *testing.T, family string, seed uint64) evaluate.Case {
	t.Helper()
	f, ok := bench.FindFamily(family)
	require.True(t, ok, family)
	run, err := bench.Simulate(f.Draw(seed), seed)
	require.NoError(t, err)
	return evaluate.Simulated(f.Name, run)
}

// A short on VBUS reads at once and outside the unit: the senior's order begins
// with it, and the advice is no slower.
func TestWalksEndAtTheTruth(t *testing.T) {
	c := simulated(t, "shorted-vbus", 6)
	advice, err := evaluate.FollowAdvice(c, evaluate.Meter)
	require.NoError(t, err)
	order, err := evaluate.FollowOrder(c, evaluate.Meter)
	require.NoError(t, err)
	assert.False(t, advice.Wrong)
	assert.False(t, math.IsInf(advice.Minutes, 1))
	assert.LessOrEqual(t, advice.Minutes, order.Minutes)
	assert.Positive(t, order.Steps)
}

// The advice never powers a node whose short is likely and unread, and is
// hardly ever certain of another side. The order does not know of safety.
func TestAdvice(t *testing.T) {
	r, err := evaluate.Advice(evaluate.Options{Cases: 24, First: 71, Workers: 2})
	require.NoError(t, err)
	wrong, quicker, slower := 0, 0, 0
	for i, w := range r.Advice {
		assert.Zero(t, w.Unsafe)
		if w.Wrong {
			wrong++
		}
		switch {
		case w.Minutes < r.Order[i].Minutes:
			quicker++
		case w.Minutes > r.Order[i].Minutes:
			slower++
		}
	}
	assert.LessOrEqual(t, wrong, 2)
	assert.Greater(t, quicker, 2*slower)
}

// VBUS at the receptacle is read in 2 minutes (common practice), and nothing less
// shows its short; whoever knows the readings is no slower than who does not.
func TestQuickest(t *testing.T) {
	c := simulated(t, "shorted-vbus", 6)
	minutes, err := evaluate.Quickest(c, evaluate.Meter, 10)
	require.NoError(t, err)
	assert.Equal(t, 2.0, minutes)
	minutes, err = evaluate.Quickest(c, evaluate.Meter, 1.9)
	require.NoError(t, err)
	assert.True(t, math.IsInf(minutes, 1))
	c = simulated(t, "open-input-switch", 1)
	advice, err := evaluate.FollowAdvice(c, evaluate.Meter)
	require.NoError(t, err)
	minutes, err = evaluate.Quickest(c, evaluate.Meter, 60)
	require.NoError(t, err)
	assert.LessOrEqual(t, minutes, advice.Minutes)
	assert.Positive(t, minutes)
}
