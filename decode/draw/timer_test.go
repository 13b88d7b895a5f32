package draw_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// wandering are tries of a timer that begins anew after each, by so much off each time.
func wandering(r *rand.Rand, n int, onS, periodS, wander float64) func(t float64) (v, a float64) {
	starts := []float64{2}
	for len(starts) < n {
		starts = append(starts, starts[len(starts)-1]+periodS*(1+wander*r.NormFloat64()))
	}
	return func(t float64) (float64, float64) {
		for _, s := range starts {
			if t >= s && t < s+onS {
				return 20, 0.5
			}
		}
		return 20, 0.012
	}
}

// Of a hundred truths 90 to 99 lie within two uncertainties, whether the rows blur the
// starts by more than the timer wanders, or by less.
func TestPeriodOfATimerThatWanders(t *testing.T) {
	for _, interval := range []float64{0.001, 0.01, 0.05} {
		r := rand.New(rand.NewPCG(7, 5))
		within, given, far := 0, 0, 0
		for seed := range uint64(150) {
			period := 0.3 + 0.5*r.Float64()
			n := 4 + r.IntN(16)
			end := 2 + float64(n+2)*period
			q := rows(int(end/interval), interval, noisy(seed, wandering(r, n, 0.06, period, 0.01*r.Float64()))).Result().Measured.RetryPeriodS
			if q == nil {
				continue
			}
			given++
			off := math.Abs(q.Value-period) / *q.Uncertainty
			if off <= 2 {
				within++
			}
			if off > 6 {
				far++
			}
		}
		share := float64(within) / float64(given)
		assert.Greater(t, given, 100)
		assert.GreaterOrEqual(t, share, 0.90, "rows of %g s", interval)
		assert.LessOrEqual(t, share, 0.99, "rows of %g s", interval)
		assert.LessOrEqual(t, far, 1, "few distances may be alike by chance")
	}
}

// Instants 10 ms apart may miss every second try of a regulator's 2 to 7 ms (data sheet
// SLVSEG3E), and a few regular distances are no proof that they did not.
func TestTriesShorterThanARowAreNotNamedTwiceTheirPeriod(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	given := 0
	for seed := range uint64(1500) {
		period := 0.1 + 0.6*r.Float64()
		n := 4 + r.IntN(10)
		end := 2 + float64(n)*period + 0.5
		q := rows(int(end/0.01), 0.01, noisy(seed, wandering(r, n, 0.006, period, 0.002*r.Float64()))).Result().Measured.RetryPeriodS
		if q == nil {
			continue
		}
		given++
		assert.InDelta(t, period, q.Value, 0.1*period, "%d tries, seed %d", n, seed)
	}
	assert.Greater(t, given, 300)
}
