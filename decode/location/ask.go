package location

import (
	"slices"

	"portside/decode/probe"
)

// Ask is a measurement that can be asked for, and what it takes.
type Ask struct {
	Reading string  // as [ParseReading] names it
	Words   string  // what to do
	Minutes float64 // of a senior's bench, without opening the case: common practice
	Inside  bool    // the case must be open
	Powers  bool    // the unit is powered for it
}

// OpenMinutes is what opening the case takes, once: common practice.
const OpenMinutes = 12.0

// Asks lists what can be asked of a bench, cold readings first.
func Asks() []Ask {
	var out []Ask
	for _, m := range measurements(shown{contract: true}, nil) {
		out = append(out, Ask{m.reading, m.words, m.minutes, m.inside, m.powers})
	}
	return out
}

// ColdReadings names the readings, any one of which shows a short of a part
// before power; empty for a part that needs none.
func ColdReadings(name string) []string {
	for _, g := range gates() {
		if string(g.short) == name {
			return slices.Clone(g.cold)
		}
	}
	return nil
}

// ReadsShort reports a reading that shows a shorted node.
func ReadsShort(r probe.Reading) bool {
	for _, m := range measurements(shown{contract: true}, nil) {
		if m.reading == r.Name {
			outcome, ok := m.outcome(r)
			return ok && outcome == short
		}
	}
	return false
}
