package location

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/rules"
	"portside/decode/signs/build"
)

// The diode range takes about 1 mA (data sheets of hand-held meters), so the drop of
// a resistance is foreseen by its ohms; a sound node that reads sound again is one
// fact (common practice).
func TestSecondLooks(t *testing.T) {
	tests := []struct {
		name        string
		once, twice []string
		builds      []build.Build
		side        rules.Location
		moves       int // of the side's share by the second look: up, down or not at all
	}{
		{"a sound rail", []string{"main-rail-ohm=20kohm"}, []string{"main-rail-diode-v=0.43V"}, build.Quiet(), rules.BehindPort, 0},
		{"a sound rail of low ohms", []string{"main-rail-ohm=110ohm"}, []string{"main-rail-diode-v=0.11V"}, build.Quiet(), rules.BehindPort, 0},
		{"both lines alike", []string{"cc1-ohm=5.1kohm", "cc2-ohm=5.2kohm"}, []string{"cc1-diode-v=0.55V", "cc2-diode-v=0.55V"}, build.Nothing(), rules.AtPort, 0},
		{"a line that only the diode range tells", []string{"cc1-ohm=5.1kohm", "cc2-ohm=5.2kohm"}, []string{"cc1-diode-v=0.55V", "cc2-diode-v=open"}, build.Nothing(), rules.AtPort, 1},
		{"a leak as foreseen", []string{"main-rail-ohm=10.4ohm"}, []string{"main-rail-diode-v=0.010V"}, build.Drawing(), rules.BehindPort, 1},
		{"a leak that was a slip", []string{"main-rail-ohm=10.4ohm"}, []string{"main-rail-diode-v=0.45V"}, build.Drawing(), rules.BehindPort, -1},
		{"a short that only the diode range tells", []string{"main-rail-ohm=20kohm"}, []string{"main-rail-diode-v=0.002V"}, build.Quiet(), rules.BehindPort, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			one := after(t, tt.builds, tt.once...).Verdict.Locations[tt.side]
			two := after(t, tt.builds, append(tt.once, tt.twice...)...).Verdict.Locations[tt.side]
			switch tt.moves {
			case 0:
				assert.InDelta(t, one, two, 1e-9)
			case 1:
				assert.Greater(t, two/(1-two), 1.3*one/(1-one))
			default:
				assert.Less(t, two, one-0.01)
			}
		})
	}
}

// What was read sound in ohms is not asked for in diode mode.
func TestASoundNodeIsNotAskedTwice(t *testing.T) {
	for _, x := range after(t, build.Quiet(), "main-rail-ohm=20kohm", "vbus-ohm=1Mohm").Next {
		assert.NotContains(t, []string{"main-rail-diode-v", "vbus-diode-v"}, *x.Reading)
	}
}

// A part that lets the ohms read low does so in the other range as well; what never
// does slipped.
func TestTheOtherRangeAgrees(t *testing.T) {
	rail := mainRailOhms().topic
	again := secondTopic(rail, rail.index(leaky)).rows[0]
	for _, p := range []part{railLeak, downstream} {
		assert.Greater(t, again.by[p], 80.0, p)
	}
	assert.Less(t, again.by[healthyPart], 10.0)
	assert.Less(t, again.others, 10.0)
}
