package location

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
	"portside/decode/signs/build"
)

// A named verdict says what reading would change it, and the reading does what is
// said. Nothing is powered for that where a short is to be read cold first (common
// practice).
func TestWhatWouldChange(t *testing.T) {
	figures := map[string]map[string]string{
		"main-rail-ohm":      {"below 5 ohm": "0.5ohm", "5 to 50 ohm": "20ohm", "above 1 kohm": "20kohm"},
		"vbus-ohm":           {"below 10 ohm": "1ohm", "10 ohm to 1 kohm": "100ohm"},
		"charger-input-ohm":  {"below 5 ohm": "0.5ohm"},
		"main-rail-diode-v":  {"0.00 to 0.05 V": "0.01V"},
		"vbus-diode-v":       {"below 0.1 V": "0.02V"},
		"known-good-charger": {"it behaves differently": "different"},
	}
	tried := 0
	for name, builds := range map[string][]build.Build{"quiet": build.Quiet(), "nothing": build.Nothing(), "sound": {build.Meter(10, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 60, 20, 1.5)}} {
		for _, given := range [][]string{nil, {"main-rail-ohm=20kohm"}, {"main-rail-ohm=0.4ohm"}, {"vbus-ohm=1ohm"}, {"other-port=different"}} {
			was := Locate(evidence(t, given, builds...))
			if was.Verdict.Location == rules.Undetermined {
				assert.Empty(t, was.Verdict.WouldChange, name)
			}
			assert.NotNil(t, was.Verdict.WouldChange)
			for _, x := range was.Verdict.WouldChange {
				for _, s := range was.Suspects {
					assert.False(t, s.Part == railShort && s.Probability >= 0.3 && given == nil && powersUnit(x.Reading), "%s: %s", name, x.Reading)
				}
				figure, known := figures[x.Reading][x.Reads]
				if !known {
					continue
				}
				tried++
				is := Locate(evidence(t, append(given[:len(given):len(given)], x.Reading+"="+figure), builds...))
				assert.Equal(t, x.Location, is.Verdict.Location, "%s %v: %s", name, given, x.Reading)
				assert.InDelta(t, x.Probability, is.Verdict.Probability, 0.1, "%s %v: %s", name, given, x.Reading)
				assert.Less(t, is.Verdict.Locations[was.Verdict.Location], was.Verdict.Probability-0.1, "%s %v: %s", name, given, x.Reading)
			}
		}
	}
	require.Positive(t, tried)
	t.Logf("%d readings tried", tried)
}
