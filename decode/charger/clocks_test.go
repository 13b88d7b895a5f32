package charger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/charger"
)

// crossing are the checks that need messages and meter on one clock.
var crossing = []string{
	"transition-start", "voltage-settle-time", "voltage-window", "transition-window", "slew-rate", "power-ready-before-voltage",
	"hard-reset-off", "hard-reset-recover", "hard-reset-turn-on", "pps-voltage", "pps-current-limit", "cable-voltage-drop",
}

// TestNoCheckCrossesClocks: without a stated offset nothing is judged from messages
// and samples together, whatever their times look like.
func TestNoCheckCrossesClocks(t *testing.T) {
	var zero time.Duration
	apart := []captures.Clock{{Path: "messages", Offset: &zero, Reference: true}, {Path: "meter"}}
	for _, x := range brokenAlone {
		r := x.make().check(charger.Options{Clocks: apart})
		for _, name := range crossing {
			c := find(t, r, name)
			assert.Equal(t, charger.NotObserved, c.Result, "%s: %s: %s", x.name, name, c.Text)
		}
	}
	stated := []captures.Clock{{Path: "messages", Offset: &zero, Reference: true}, {Path: "meter", Offset: &zero, Stated: true}}
	r := newRig()
	simple(r)
	assert.Equal(t, charger.Pass, find(t, r.check(charger.Options{Clocks: stated}), "voltage-window").Result)
}
