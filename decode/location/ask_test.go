package location

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/probe"
)

// A shorted node is read cold before power, below 5 ohm on the main rail and
// below 10 ohm on VBUS: common practice.
func TestAsks(t *testing.T) {
	asks := map[string]Ask{}
	for _, a := range Asks() {
		asks[a.Reading] = a
		assert.Positive(t, a.Minutes, a.Reading)
	}
	assert.False(t, asks["vbus-ohm"].Powers)
	assert.False(t, asks["vbus-ohm"].Inside)
	assert.True(t, asks["main-rail-ohm"].Inside)
	assert.True(t, asks["main-rail-v"].Powers)
	assert.True(t, asks["known-good-charger"].Powers)
	assert.Equal(t, []string{"vbus-ohm"}, ColdReadings("vbus-short"))
	assert.Empty(t, ColdReadings("cable"))
	for text, want := range map[string]bool{
		"main-rail-ohm=4.9ohm": true, "main-rail-ohm=6ohm": false, "main-rail-ohm=open": false,
		"vbus-ohm=9ohm": true, "vbus-ohm=short": true, "battery=connected": false,
	} {
		r, err := probe.ParseReading(text)
		require.NoError(t, err)
		assert.Equal(t, want, ReadsShort(r), text)
	}
}
