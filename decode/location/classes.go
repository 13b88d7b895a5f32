// Package location says where a fault lies: it weighs findings and bench
// readings over the parts that may have failed and sums them to the four
// locations. It measures nothing and prints nothing.
package location

import "portside/decode/rules"

// class is one thing that may be wrong, or nothing.
type class struct {
	part     string
	location rules.Location // "" for unknown
	prior    float64
	confirm  string // the reading that would confirm it
}

const (
	healthyPart = "healthy"
	unknownPart = "unknown"
)

// classes and their shares among machines that come in after they died while
// charging: a shorted capacitor on the main rail is the commonest. Common
// practice; no published field data is known.
func classes() []class {
	return []class{
		{"main-rail-short", rules.BehindPort, 0.17, "main-rail-ohm below 5 ohm"},
		{"main-rail-leak", rules.BehindPort, 0.05, "main-rail-ohm of 5 to 50 ohm"},
		{"charger-input-short", rules.BehindPort, 0.05, "charger-input-ohm below 5 ohm"},
		{"charger-circuit", rules.BehindPort, 0.07, "charger-input-v present and main-rail-v near 0 V"},
		{"downstream-rail", rules.BehindPort, 0.06, "always-on-rail-ohm below 5 ohm"},
		{"power-on-sequence", rules.BehindPort, 0.04, "main-rail-v and always-on-rail-v present"},
		{"battery", rules.BehindPort, 0.03, "the same recording with the battery disconnected"},
		{"input-switch", rules.AtPort, 0.05, "charger-input-v near 0 V with VBUS present"},
		{"port-controller", rules.AtPort, 0.09, "controller-supply-v present and the CC line silent"},
		{"port-controller-supply", rules.AtPort, 0.05, "controller-supply-v below 2.5 V"},
		{"cc-contact", rules.AtPort, 0.06, "cc1-ohm against cc2-ohm, or plug-flipped different"},
		{"power-contact", rules.AtPort, 0.03, "plug-flipped or repeat different"},
		{"vbus-short", rules.AtPort, 0.04, "vbus-ohm below 10 ohm"},
		{"vbus-leak", rules.AtPort, 0.02, "vbus-ohm of 10 to 1000 ohm"},
		{"source", rules.BeforePort, 0.07, "known-good-charger different"},
		{"cable", rules.BeforePort, 0.05, "other-cable different"},
		{"mains", rules.BeforePort, 0.01, "the charger at another outlet"},
		{healthyPart, rules.Healthy, 0.12, "the complaint does not come back"},
		{unknownPart, "", 0.03, "none"},
	}
}

// locations in the order in which ties are told.
func locations() []rules.Location {
	return []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy}
}
