package signs

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/signs/build"
)

// What is rare and yet a port's is not strange: 28 V, a programmable contract that
// follows its battery, VBUS that comes and goes each second, capacitors that hold
// their charge behind a pulled plug, and rows that are the means of tries.
func TestRareIsNotStrange(t *testing.T) {
	for name, b := range map[string]build.Build{
		"28 V": build.Logged(100, build.SteadyAt(28, 4)), "48 V": build.Logged(10, build.SteadyAt(48.6, 4.9)),
		"programmable": build.Logged(100, func(t float64) (float64, float64) { return 8 + 0.02*math.Floor(t/0.5), 2 }),
		"tries": build.Logged(20, func(t float64) (float64, float64) {
			if math.Mod(t, 1) < 0.2 {
				return 5, 0.5
			}
			return 0, 0
		}),
		"pulled": build.Logged(50, func(t float64) (float64, float64) {
			if t < 12 {
				return 20, 1.5
			}
			return 1 + 19*math.Exp(-(t-12)/0.4), 0
		}),
		"means of a slow meter":              build.Logged(1, func(t float64) (float64, float64) { return 1.2 + 0.1*math.Sin(t), 0.1 }),
		"a short held at the source's limit": build.Logged(100, build.SteadyAt(1.2, 3)),
	} {
		weight, text := seeing(b).Strange()
		assert.Zero(t, weight, "%s: %s", name, text)
	}
}
