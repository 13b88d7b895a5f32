// Package location says where a fault lies: it weighs what a recording shows
// and what was measured at the bench over the parts that may have failed, and
// sums them to the four locations. It measures nothing and prints nothing.
package location

import (
	"portside/decode/rules"
)

// part names a thing that may have failed.
type part = string

// Parts that may have failed, and two that are none.
const (
	source      part = "source"
	cable       part = "cable"
	mains       part = "mains"
	inputSwitch part = "input-switch"
	controller  part = "port-controller"
	supply      part = "port-controller-supply"
	ccContact   part = "cc-contact"
	powContact  part = "power-contact"
	vbusShort   part = "vbus-short"
	vbusLeak    part = "vbus-leak"
	railShort   part = "main-rail-short"
	railLeak    part = "main-rail-leak"
	inputShort  part = "charger-input-short"
	chargerIC   part = "charger-circuit"
	downstream  part = "downstream-rail"
	sequence    part = "power-on-sequence"
	battery     part = "battery"
	healthyPart part = "healthy"
	unknownPart part = "unknown"
)

// class is one thing that may be wrong, or nothing.
type class struct {
	part     part
	location rules.Location // "" for unknown
	prior    float64
	hides    float64 // share of one plug-in's recordings in which the fault shows nothing
	words    string  // the part in a sentence
	reason   string  // why the prior is what it is
	confirm  string  // the reading that would confirm it
}

// classes and their shares among machines that come in because they died
// while charging, and how often one plug-in shows nothing of the fault: contacts
// and chargers come and go, a short does not. Common practice: no published field
// data is known, so the shares are round, no single one decides, and none of the four
// sides is rare from the start.
func classes() []class {
	return []class{
		{source, rules.BeforePort, 0.125, 0.025, "the charger", "chargers are carried and dropped, and the machine is blamed first", "known-good-charger reads different"},
		{cable, rules.BeforePort, 0.07, 0.025, "the cable", "cables break at the plug", "other-cable reads different"},
		{mains, rules.BeforePort, 0.015, 0.01, "the outlet or mains lead", "mostly found at the counter", "the charger works at another outlet"},
		{inputSwitch, rules.AtPort, 0.05, 0.005, "the input switches", "they take every surge of VBUS", "charger-input-v near 0 V while a contract stands"},
		{controller, rules.AtPort, 0.065, 0.005, "the port controller", "stands next to VBUS on the connector", "controller-supply-v present while the offers go unanswered"},
		{supply, rules.AtPort, 0.04, 0.005, "the port controller's supply", "small regulators fail with the parts they feed", "controller-supply-v below 2.9 V, or controller-supply-ohm below 5 ohm"},
		{ccContact, rules.AtPort, 0.05, 0.015, "a CC contact or line", "contacts wear, corrode and touch VBUS", "plug-flipped reads different, or cc1-ohm differs from cc2-ohm"},
		{powContact, rules.AtPort, 0.02, 0.02, "a power contact of the receptacle", "four contacts share the current", "repeat or plug-flipped reads different"},
		{vbusShort, rules.AtPort, 0.04, 0.001, "a short on VBUS at the receptacle", "overstressed clamps and capacitors fail short", "vbus-ohm below 10 ohm"},
		{vbusLeak, rules.AtPort, 0.02, 0.01, "a leak on VBUS at the receptacle", "liquid or a damaged clamp", "vbus-ohm of 10 ohm to 1 kohm"},
		{railShort, rules.BehindPort, 0.12, 0.001, "a short on the main rail", "a cracked ceramic capacitor on the main rail is the commonest cause", "main-rail-ohm below 5 ohm"},
		{railLeak, rules.BehindPort, 0.03, 0.005, "a leak on the main rail", "a crack that has not become a short yet", "main-rail-ohm of 5 to 50 ohm"},
		{inputShort, rules.BehindPort, 0.025, 0.001, "a short at the charger circuit's input", "fewer capacitors stand there than on the main rail", "charger-input-ohm below 5 ohm"},
		{chargerIC, rules.BehindPort, 0.045, 0.003, "the charger circuit", "carries the whole power", "charger-input-v present and main-rail-v near 0 V with no short on the rail"},
		{downstream, rules.BehindPort, 0.045, 0.005, "a rail behind the main rail", "many rails, each with its regulator", "always-on-rail-ohm below 5 ohm"},
		{sequence, rules.BehindPort, 0.03, 0.005, "the power-on sequence", "everything is fed and nothing starts", "main-rail-v and always-on-rail-v present"},
		{battery, rules.BehindPort, 0.02, 0.007, "the battery", "named often, at fault seldom when nothing starts from the charger either", "the recording taken again with the battery disconnected"},
		{healthyPart, rules.Healthy, 0.165, 0, "nothing", "full batteries, wrong chargers and habits come in as faults", "the complaint does not come back"},
		{unknownPart, "", 0.025, 0, "none of the modelled faults", "no list of faults is complete", "none"},
	}
}

// locations in the order in which ties are told.
func locations() []rules.Location {
	return []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy}
}

// model is the classes with what is computed from them once.
type model struct {
	classes []class
	prior   []float64
	share   [][]float64 // class by location: where its mass counts
	found   Found       // on benches that others wrote
	both    bool        // meter and messages were recorded
}

func newModel() model {
	m := model{classes: classes(), found: founds()}
	places := locations()
	total := 0.0
	sum := make([]float64, len(places))
	for _, c := range m.classes {
		m.prior = append(m.prior, c.prior)
		row := make([]float64, len(places))
		for i, l := range places {
			if c.location == l {
				row[i] = 1
				sum[i] += c.prior
				total += c.prior
			}
		}
		m.share = append(m.share, row)
	}
	normalise(m.prior)
	for i, c := range m.classes {
		if c.part == unknownPart {
			for j := range places {
				m.share[i][j] = sum[j] / total
			}
		}
	}
	return m
}

// index of a part among the classes.
func (m model) index(p part) int {
	for i, c := range m.classes {
		if c.part == p {
			return i
		}
	}
	return -1
}
