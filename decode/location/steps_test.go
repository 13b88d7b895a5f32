package location

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/signs/build"
)

// The steps open the case once, before the first of them that needs it, look at the
// likeliest part itself, and warn where power, mains or hot air come in. Sources: a
// sense resistor of 5 or 10 mohm, input switches as two transistors: common practice.
func TestStepsToThePart(t *testing.T) {
	tests := []struct {
		name     string
		builds   []build.Build
		readings []string
		step     string // part of a step that must be there
		opens    int
	}{
		{"charger circuit", build.Quiet(), []string{"main-rail-ohm=20kohm", "charger-input-v=19.9V", "main-rail-v=0.1V"}, "current-sense resistors", 0},
		{"input switch", build.Quiet(), []string{"main-rail-ohm=20kohm", "charger-input-v=0.02V"}, "gate to source", 0},
		{"CC contact", build.Nothing(), []string{"vbus-ohm=50kohm", "cc1-ohm=5.1kohm", "cc2-ohm=open"}, "each contact of the receptacle", 1},
		{"short on the rail", build.Quiet(), []string{"main-rail-ohm=0.4ohm"}, "inject into the main rail", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			steps := after(t, tt.builds, tt.readings...).Locate
			require.NotEmpty(t, steps)
			opened, found := 0, false
			for _, s := range steps {
				if strings.HasPrefix(s.Step, "open the case") {
					opened++
					assert.InDelta(t, OpenMinutes, s.Minutes, 1e-9)
				}
				if s.Caution != nil && *s.Caution == hotAirCaution {
					assert.LessOrEqual(t, s.Limits["air_celsius"], 400.0, s.Step) // makers' instructions: hot air of 315 to 400 deg C at 5 mm and more
					assert.GreaterOrEqual(t, s.Limits["nozzle_mm"], 5.0, s.Step)
				}
				if strings.HasPrefix(s.Step, "replace") {
					assert.InDelta(t, 25, s.Limits["rated_v"], 1e-9)
				}
				found = found || strings.Contains(s.Step, tt.step)
				for _, word := range []string{"inject", "take out", "replace", "first power", "power button"} {
					if strings.Contains(s.Step, word) {
						assert.NotNil(t, s.Caution, s.Step)
					}
				}
			}
			assert.True(t, found, tt.step)
			assert.Equal(t, tt.opens, opened)
		})
	}
}
