package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFades: a constant-voltage phase falls as an exponential (bench practice: log I on t is
// a line), of which a short recording shows a part; what it falls to comes after it.
func TestFades(t *testing.T) {
	fall := func(tau, until, rest float64) func(float64) float64 {
		return func(t float64) float64 {
			if t < 1 {
				return 0.05
			}
			if t > until {
				return rest
			}
			return rest + 1.2*math.Exp(-(t-1)/tau)
		}
	}
	for _, c := range []struct {
		name   string
		amps   func(float64) float64
		fades  int
		tapers int
	}{
		{"to a third in 20 s, and to its rest", fall(18, 21, 0.06), 1, 0},
		{"to a third in 100 s", fall(90, 101, 0.06), 0, 1},
		{"to a third in 4 s", fall(3.6, 5, 0.06), 0, 0},
		{"to nine tenths in 20 s", fall(190, 21, 0.06), 0, 0},
		{"along a line, and to its rest", func(t float64) float64 { return max(0.06, 1.2-max(0, t-1)*0.05) }, 0, 0},
		{"along half a wave, r^2 0.95 of its logarithm", func(t float64) float64 {
			if t < 1 || t > 21 {
				return 0.05
			}
			return 0.25 + 0.95*(0.5+0.5*math.Cos(math.Pi*(t-1)/20))
		}, 0, 0},
		{"as long as it stands", func(float64) float64 { return 1.2 }, 0, 0},
	} {
		r := rows(12000, 0.01, func(t float64) (float64, float64) { return 20, c.amps(t) }).Result()
		assert.Len(t, r.Fades, c.fades, c.name)
		assert.Len(t, r.Tapers, c.tapers, c.name)
		if c.fades == 1 && len(r.Fades) == 1 {
			f := r.Fades[0]
			require.NotNil(t, f.TauS, c.name)
			assert.InDelta(t, 18, *f.TauS, 2, c.name)
			assert.InDelta(t, 1.26, f.FromA, 0.1, c.name)
			assert.InDelta(t, 0.06+1.2*math.Exp(-20.0/18), f.ToA, 0.05, c.name)
		}
	}
}
