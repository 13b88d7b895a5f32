package location

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/signs/build"
)

// A contract with the draw of a machine in standby: sound and switched off, or not
// starting; every node reads sound either way.
func TestAMachineAtRestIsRecordedAgain(t *testing.T) {
	standby := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5, 0.02), build.Level(1, 60, 20, 0.035), build.Messages(20, 20), build.Contract(1, 20000, 3000)}
	sound := []string{"main-rail-ohm=20kohm", "main-rail-v=12V", "always-on-rail-v=3.3V"}
	r := after(t, standby, sound...)
	assert.Contains(t, r.NotSeen, startsWhen)
	assert.NotContains(t, after(t, standby, "main-rail-ohm=0.4ohm", "main-rail-diode-v=0.001V").NotSeen, startsWhen)
	assert.NotContains(t, after(t, build.Nothing(), "vbus-ohm=1ohm").NotSeen, startsWhen)
}
