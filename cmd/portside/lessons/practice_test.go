package lessons

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/bench"
	"portside/decode/location"
	"portside/decode/rules"
)

// caseOf is a case of a family, not drawn.
func caseOf(t *testing.T, family string) *Case {
	t.Helper()
	f, ok := bench.FindFamily(family)
	require.True(t, ok)
	run, err := bench.Simulate(f.Draw(4), 4)
	require.NoError(t, err)
	return &Case{Number: 1, Level: 1, Seed: 4, Run: run, Plain: diagnose(run, false)}
}

func TestPoweringAShortLoses(t *testing.T) {
	tests := []struct {
		family   string
		measured []string
		unsafe   bool
	}{
		{"hard-short-main-rail", []string{"known-good-charger"}, true},            // not read cold
		{"hard-short-main-rail", []string{"vbus-ohm", "main-rail-v"}, true},       // another node
		{"hard-short-main-rail", []string{"main-rail-ohm", "main-rail-v"}, true},  // in spite of the reading
		{"hard-short-main-rail", []string{"main-rail-ohm", "vbus-ohm"}, false},    // nothing powered
		{"shorted-vbus", []string{"other-cable"}, true},                           // VBUS itself
		{"shorted-charger-input", []string{"main-rail-ohm", "other-port"}, true},  // the node before it
		{"weak-charger", []string{"known-good-charger", "other-cable"}, false},    // nothing is shorted
		{"short-under-voltage", []string{"main-rail-ohm", "other-cable"}, false},  // cold it does not show
		{"short-under-voltage", []string{"other-cable", "main-rail-ohm"}, true},   // but it must be looked for
		{"downstream-retries", []string{"always-on-rail-ohm", "vbus-ohm"}, false}, // cold
		{"sound-charging", []string{"main-rail-v", "repeat"}, false},
	}
	for _, tt := range tests {
		c := caseOf(t, tt.family)
		for _, name := range tt.measured {
			_, _, err := c.Measure(name)
			require.NoError(t, err)
		}
		assert.Equal(t, tt.unsafe, c.Unsafe != "", "%s %v: %s", tt.family, tt.measured, c.Unsafe)
		if tt.unsafe {
			assert.Zero(t, c.Score(c.Truth()))
		}
	}
}

// The minutes are those of the advice: 3 for the main rail and 12 for opening
// the case, once (common practice).
func TestMinutesAndScore(t *testing.T) {
	c := caseOf(t, "hard-short-main-rail")
	_, ask, err := c.Measure("main-rail-ohm")
	require.NoError(t, err)
	assert.Equal(t, 15.0, ask.Minutes)
	_, ask, err = c.Measure("main-rail-diode-v")
	require.NoError(t, err)
	assert.Equal(t, 2.0, ask.Minutes)
	assert.Equal(t, 17.0, c.Minutes)
	assert.Equal(t, 83, c.Score(rules.BehindPort))
	assert.Zero(t, c.Score(rules.AtPort))
	c.Minutes = 1000
	assert.Equal(t, leastPoints, c.Score(rules.BehindPort))
	_, _, err = c.Measure("main-rail-colour")
	require.ErrorIs(t, err, ErrNoReading)
}

// Each measurement that is on offer has an answer that the engine reads.
func TestEveryAskIsAnswered(t *testing.T) {
	c := caseOf(t, "sound-charging")
	for _, a := range c.Asks() {
		_, _, err := c.Measure(a.Reading)
		require.NoError(t, err, a.Reading)
	}
	assert.Len(t, c.Readings, len(c.Asks()))
	assert.Len(t, c.Asks(), len(location.Asks()), "the bench answers whatever the advice can ask")
	assert.Equal(t, rules.Healthy, c.Explained().Verdict.Location)
}

func TestCasesRepeatAndAreGraded(t *testing.T) {
	for level := 1; level <= Levels; level++ {
		for number := 1; number <= 1; number++ {
			a, err := NewCase(11, number, level)
			require.NoError(t, err)
			b, err := NewCase(11, number, level)
			require.NoError(t, err)
			assert.Equal(t, a.Run.Scenario, b.Run.Scenario)
			assert.Equal(t, a.Seed, b.Seed)
			assert.Equal(t, level, a.Level)
			share := a.Plain.Verdict.Locations[a.Truth()]
			assert.Equal(t, level == 1, share >= plain, "level %d: %g", level, share)
		}
	}
}
