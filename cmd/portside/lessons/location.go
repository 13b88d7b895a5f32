package lessons

import (
	"portside/captures/bench"
	"portside/decode/rules"
)

// locationOf is the bench's answer as the engine names it.
func locationOf(s *bench.Scenario) rules.Location { return rules.Location(s.Location) }
