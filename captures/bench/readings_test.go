package bench

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the bench reads of faults and sound units. Sources: main rail below 5 ohm
// a short, VBUS below 10 ohm, Rd 4.6 to 5.6 kohm (port controller data sheets),
// both CC lines alike within 10 %, diode mode at 1 mA: common practice.
func TestReadings(t *testing.T) {
	figure := func(t *testing.T, family, name string) float64 {
		t.Helper()
		f, ok := FindFamily(family)
		require.True(t, ok, family)
		text, ok := f.Draw(5).Reading(name, 5)
		require.True(t, ok, name)
		if text == "open" {
			return math.Inf(1)
		}
		v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSuffix(text, "ohm"), "V"), 64)
		require.NoError(t, err, text)
		return v
	}
	assert.Less(t, figure(t, "hard-short-main-rail", "main-rail-ohm"), 5.0)
	assert.Less(t, figure(t, "hard-short-main-rail", "main-rail-diode-v"), 0.005)
	assert.Less(t, figure(t, "hard-short-main-rail", "main-rail-v"), 1.0)
	assert.Greater(t, figure(t, "sound-charging", "main-rail-ohm"), 50.0)
	assert.Greater(t, figure(t, "sound-charging", "main-rail-v"), 5.0)
	assert.Less(t, figure(t, "shorted-vbus", "vbus-ohm"), 10.0)
	assert.Less(t, figure(t, "shorted-vbus", "vbus-v"), 0.8)
	assert.InDelta(t, 5.1e3, figure(t, "sound-charging", "cc1-ohm"), 600)
	one, two := figure(t, "open-cc", "cc1-ohm"), figure(t, "open-cc", "cc2-ohm")
	assert.True(t, math.IsInf(one, 1) != math.IsInf(two, 1), "one line is open: %g, %g", one, two)
	assert.InDelta(t, 20, figure(t, "open-input-switch", "vbus-v"), 6)
	assert.Less(t, figure(t, "open-input-switch", "charger-input-v"), 1.0)
}

// A display has no exponent.
func TestReadingsAreWrittenAsShown(t *testing.T) {
	for x, want := range map[float64]string{0.2149: "0.215", 5.1e3: "5100", 37249: "37200", 1.5e6: "1500000"} {
		assert.Equal(t, want, threeDigits(x))
	}
}

func TestTrials(t *testing.T) {
	tests := []struct{ family, name, want string }{
		{"weak-charger", "known-good-charger", "different"}, {"weak-charger", "other-cable", "same"},
		{"broken-cable", "other-cable", "different"}, {"broken-cable", "known-good-charger", "same"},
		{"hard-short-main-rail", "known-good-charger", "same"},
	}
	for _, tt := range tests {
		f, ok := FindFamily(tt.family)
		require.True(t, ok, tt.family)
		got, ok := f.Draw(2).Reading(tt.name, 2)
		require.True(t, ok)
		assert.Equal(t, tt.want, got, "%s %s", tt.family, tt.name)
	}
	_, ok := Scenarios()[0].Reading("main-rail-colour", 1)
	assert.False(t, ok)
}

func TestReadingsRepeat(t *testing.T) {
	for _, f := range Families() {
		for name := range readings() {
			s := f.Draw(9)
			a, _ := s.Reading(name, 9)
			b, _ := s.Reading(name, 9)
			assert.Equal(t, a, b, "%s %s", f.Name, name)
		}
	}
}
