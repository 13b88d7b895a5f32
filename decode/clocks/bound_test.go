package clocks_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/clocks"
)

// TestSurely draws two recorders whose clocks run apart by up to 1000 ppm (a
// resonator, common practice) and what each says of two to six steps. Wherever
// they are matched, the true time lies in the bound, and it is no wider than a step
// is known beside the drift.
func TestSurely(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	found, rated := 0, 0
	for range 3000 {
		offset, rate := 200*rng.Float64()-100, 2e-3*rng.Float64()-1e-3
		if rng.IntN(2) == 0 {
			rate /= 20
		}
		shown := func(t float64) float64 { return t + offset + rate*t } // by the messages
		known := 0.001 + 0.2*rng.Float64()
		volts := []float64{0, 5, 20, 9, 15, 5, 12}
		var meter, messages []clocks.Step
		now := 5.0
		for i := range 2 + rng.IntN(5) {
			now += 1 + 200*rng.Float64()
			off := func() float64 { return known * (2*rng.Float64() - 1) }
			m, p := at(now+off()/4, known/4, volts[i], volts[i+1]), at(shown(now)+off(), known, volts[i], volts[i+1])
			meter, messages = append(meter, m), append(messages, p)
		}
		a := align(meter, messages)
		if !a.Determined {
			continue
		}
		found++
		if a.RateU > 0 {
			rated++
		}
		for range 20 {
			x := (now + 20) * rng.Float64()
			s := a.Surely(x)
			require.LessOrEqual(t, s.Lo, shown(x), "%+v at %v", a, x)
			require.GreaterOrEqual(t, s.Hi, shown(x), "%+v at %v", a, x)
			assert.InDelta(t, s.Hi-s.Lo, a.Spread(s.Hi), 1e-6)
		}
		if a.RateU == 0 {
			s := a.Surely(now)
			assert.Less(t, s.Hi-s.Lo, 2.5*known+0.002+2e-3*(now+20))
		}
	}
	assert.Greater(t, found, 1000)
	assert.Greater(t, rated, 100)
}
