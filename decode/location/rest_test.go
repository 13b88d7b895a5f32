package location

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A contract with the draw of a machine in standby: sound and switched off, or not
// starting; every node reads sound either way.
func TestAMachineAtRestIsRecordedAgain(t *testing.T) {
	standby := []build{meter(100, 60), level(0, 1, 5, 0.02), level(1, 60, 20, 0.035), messages(20, 20), contract(1, 20000, 3000)}
	sound := []string{"main-rail-ohm=20kohm", "main-rail-v=12V", "always-on-rail-v=3.3V"}
	r := after(t, standby, sound...)
	assert.Contains(t, r.NotSeen, startsWhen)
	assert.NotContains(t, after(t, standby, "main-rail-ohm=0.4ohm", "main-rail-diode-v=0.001V").NotSeen, startsWhen)
	assert.NotContains(t, after(t, nothing(), "vbus-ohm=1ohm").NotSeen, startsWhen)
}
