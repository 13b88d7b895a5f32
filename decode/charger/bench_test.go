package charger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/bench"
	"portside/decode/charger"
)

// The checks and the bench were written apart from the same standard: a sound
// charger of the bench fails none of them.
func TestSoundChargersOfTheBenchKeepTheStandard(t *testing.T) {
	seeds, passed := uint64(2), 0
	if *long {
		seeds = 50
	}
	for _, f := range bench.Families() {
		if f.Location != bench.Healthy || f.Parameters.ReplugS > 0 {
			continue // where the plug is pulled and nobody notes it, the voltage of a sound charger goes too
		}
		for seed := range seeds {
			s := f.Draw(seed)
			p := &s.Parameters
			p.MeterHz, p.MeterAverages, p.MeterDropped, p.MeterJitterS = 100, false, 0, 0
			p.MeterStartS, p.MessagesStartS, p.MeterClockPPM = 0, 0, 0
			p.MessagesRecorded = true
			p.DurationS = min(p.DurationS, p.MessagesFromS+14)
			recorded, err := bench.Simulate(s, seed)
			require.NoError(t, err)
			got := run(charger.Options{AtSource: p.Meter == bench.AtSource}, recorded.Messages, recorded.Rows)
			for _, c := range got.Checks {
				assert.NotEqual(t, charger.Fail, c.Result, "%s seed %d: %s: %s", f.Name, seed, c.Check, c.Text)
				if c.Result == charger.Pass {
					passed++
				}
			}
		}
	}
	assert.Greater(t, passed, 200)
}
