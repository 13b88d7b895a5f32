package location

import (
	"math"
	"slices"

	"portside/decode/probe"
)

// measurement is one reading that moves the verdict: what it asks, what it
// takes and how its figure is read.
type measurement struct {
	reading string
	words   string  // what to do, as a heading names it
	minutes float64 // of a senior's bench, common practice
	inside  bool    // the case must be open
	powers  bool    // the unit is powered for it
	bands   []band  // of a figure, rising; nil where the word is the outcome
	topic   topic
	again   bool        // the node has been read in another range, and is sound: not asked
	table   [][]float64 // likelihoods of the topic by outcome and class, where they have been made
}

// band ends below a figure; the last one has no end.
type band struct {
	below   float64
	outcome string
}

// outcome puts a reading into its band. A powered node that reads open, or a
// trial for which there is nothing at hand, says nothing.
func (m measurement) outcome(r probe.Reading) (string, bool) {
	if m.bands == nil {
		return r.Word, m.topic.index(r.Word) >= 0
	}
	if math.IsNaN(r.Value) || m.powers && math.IsInf(r.Value, 1) {
		return "", false
	}
	for _, b := range m.bands {
		if r.Value < b.below {
			return b.outcome, b.outcome != ""
		}
	}
	last := m.bands[len(m.bands)-1].outcome
	return last, last != ""
}

func upTo(x float64, outcome string) band { return band{below: x, outcome: outcome} }

func above(outcome string) band { return band{below: math.Inf(1), outcome: outcome} }

// measurements lists what can be asked of the bench. What the recording shows
// decides what a powered node ought to read; cc1 and cc2 count as a pair once
// one of them is known.
func measurements(s shown, given []probe.Reading) []measurement {
	return slices.Concat(coldMeasurements(s), ccMeasurements(given), poweredMeasurements(s), trials(given))
}

const (
	short  = "short"
	leaky  = "leaky"
	sound  = "sound"
	absent = "absent"
	low    = "low"
	there  = "present"
	five   = "5 V"
)

const rails = "resistance of a main rail, trade pages that disagree by 20 times on what is normal; " + practice

// nodeCap is how far a cold reading of a node may carry one part over another:
// a sound node that reads short is a slip of the probe, once in some hundreds.
// Common practice.
const nodeCap = 300

// coldTopic is a node read with nothing powered: a short, a leak, or neither.
func coldTopic(name string, reads [3]string, others [3]float64, shorts, leaks like) topic {
	rest := like{}
	for p, x := range shorts {
		rest[p] = 100 - x - leaks[p]
	}
	return topic{name: name, cap: nodeCap, rows: []row{
		{short, reads[0], others[0], shorts, "a short on the node itself", practice},
		{leaky, reads[1], others[1], leaks, "a leak on the node, or a short seen through something", practice},
		{sound, reads[2], others[2], rest, "capacitors and junctions only", practice},
	}}
}

// coldMeasurements: what takes VBUS down above 5 V alone shows nothing to a meter's volt.
func coldMeasurements(s shown) []measurement {
	ohms := func(reading, words string, minutes float64, inside bool, shortBelow, leakBelow float64, t topic) measurement {
		return measurement{reading: reading, words: words + " to ground, in ohms", minutes: minutes, inside: inside,
			bands: []band{upTo(shortBelow, short), upTo(leakBelow, leaky), above(sound)}, topic: t}
	}
	diode := func(reading, words string, inside bool, shortBelow, leakBelow float64, t topic) measurement {
		return measurement{reading: reading, words: words + " in diode mode, red on ground", minutes: 2, inside: inside,
			bands: []band{upTo(shortBelow, short), upTo(leakBelow, leaky), above(sound)}, topic: t}
	}
	out := []measurement{
		ohms("vbus-ohm", "VBUS at the port", 2, false, 10, 1000, coldTopic("vbus cold",
			[3]string{"below 10 ohm", "10 ohm to 1 kohm", "above 1 kohm, often rising, or open"}, [3]float64{0.5, 1.5, 98},
			like{vbusShort: 95, vbusLeak: 5, inputSwitch: 4, inputShort: 6, healthyPart: 0.3},
			like{vbusShort: 4, vbusLeak: 88, inputSwitch: 5, inputShort: 4, healthyPart: 0.7})),
		diode("vbus-diode-v", "VBUS at the port", false, 0.1, 0.35, coldTopic("vbus cold",
			[3]string{"below 0.1 V", "0.1 to 0.35 V", "0.4 to 0.6 V, or open"}, [3]float64{0.7, 4, 95.3},
			like{vbusShort: 93, vbusLeak: 8, inputSwitch: 4, inputShort: 5, healthyPart: 0.3},
			like{vbusShort: 5, vbusLeak: 62, inputSwitch: 6, inputShort: 5, healthyPart: 3})),
		mainRailOhms(),
		diode("main-rail-diode-v", "main rail", true, 0.05, 0.25, coldTopic("main rail cold",
			[3]string{"0.00 to 0.05 V", "0.05 to 0.25 V", "0.35 to 0.5 V"}, [3]float64{1, 7, 92},
			like{railShort: 86, railLeak: 10, chargerIC: 10, downstream: 6, inputShort: 3, healthyPart: 0.3},
			like{railShort: 11, railLeak: 66, chargerIC: 12, downstream: 16, inputShort: 8, healthyPart: 6})),
		ohms("charger-input-ohm", "the node between input switches and charger circuit", 3, true, 5, 1000, coldTopic("charger input cold",
			[3]string{"below 5 ohm", "5 ohm to 1 kohm", "above 1 kohm or open"}, [3]float64{0.5, 3, 96.5},
			like{inputShort: 95, chargerIC: 12, inputSwitch: 3, railShort: 4, vbusShort: 6, healthyPart: 0.3},
			like{inputShort: 4, chargerIC: 10, inputSwitch: 4, railShort: 4, vbusShort: 4, healthyPart: 1.5})),
		ohms("always-on-rail-ohm", "the 3.3 V or 5 V always-on rail", 3, true, 5, 100, coldTopic("always-on rail cold",
			[3]string{"below 5 ohm", "5 to 100 ohm", "100 ohm or more"}, [3]float64{1.2, 4, 94.8},
			like{downstream: 62, supply: 14, railShort: 2, healthyPart: 0.5},
			like{downstream: 14, supply: 10, railShort: 3, healthyPart: 3})),
		ohms("controller-supply-ohm", "the port controller's supply", 3, true, 5, 100, coldTopic("controller supply cold",
			[3]string{"below 5 ohm", "5 to 100 ohm", "100 ohm or more"}, [3]float64{0.8, 3, 96.2},
			like{supply: 32, controller: 12, downstream: 4, healthyPart: 0.3},
			like{supply: 20, controller: 12, downstream: 3, healthyPart: 2})),
	}
	if s.clamps {
		for _, q := range out[:2] {
			for i, percent := range [...]float64{8, 6, 86} { // some show it cold as well
				q.topic.rows[i].by[vbusShort], q.topic.rows[i].by[vbusLeak] = percent, percent
			}
		}
	}
	return out
}

// harmlessOhm is where a leak on a rail of 15 V takes 1 W, what a sleeping board
// does, and keeps nothing from starting (15 V x 15 V / 1 W, about): it is hardly
// the fault.
const harmlessOhm = 250

// mainRailOhms has two bands more: between a leak and a plausible rail the
// sources disagree.
func mainRailOhms() measurement {
	return measurement{reading: "main-rail-ohm", words: "main rail to ground, in ohms", minutes: 3, inside: true,
		bands: []band{upTo(5, short), upTo(50, leaky), upTo(harmlessOhm, "unclear"), upTo(1000, "low"), above(sound)},
		topic: topic{name: "main rail cold", cap: nodeCap, rows: []row{
			{short, "below 5 ohm", 0.5, like{railShort: 93, railLeak: 10, chargerIC: 10, downstream: 7, inputShort: 4, healthyPart: 0.3}, "a short on the rail itself, or through a switch that feeds from it", rails},
			{leaky, "5 to 50 ohm", 1.2, like{railShort: 3, railLeak: 76, chargerIC: 6, downstream: 13, inputShort: 3, healthyPart: 0.4}, "a crack that conducts", rails},
			{"unclear", "50 to 250 ohm", 6.5, like{railShort: 0.8, railLeak: 9, chargerIC: 7, downstream: 9}, "normal on some boards and a leak on others: hold it against the same board known good", rails},
			{"low", "250 ohm to 1 kohm", 6.5, like{railShort: 0.2, railLeak: 2, chargerIC: 6, downstream: 6}, "normal on some boards; as a leak it takes less than 1 W", rails},
			{sound, "above 1 kohm", 85.3, like{railShort: 3, railLeak: 3, chargerIC: 71, downstream: 65, inputShort: 80, healthyPart: 86}, "a rail that can be fed", rails},
		}}}
}

const unlike = "differ"

const ccNode = "cc cold"

// ccMeasurements asks for each CC line alone, or, once one is known, whether
// the other is like it.
func ccMeasurements(given []probe.Reading) []measurement {
	levels := func(words [3]string) topic {
		return topic{name: ccNode, cap: recordingCap, rows: []row{
			{short, words[0], 0.5, like{ccContact: 11, controller: 13, vbusShort: 2, healthyPart: 0.2}, "a line that is shorted to ground or VBUS", practice},
			{leaky, words[1], 1.5, like{ccContact: 10, controller: 11, supply: 3, healthyPart: 0.8}, "a damaged input", practice},
			{sound, words[2], 98, like{ccContact: 79, controller: 76, supply: 97, healthyPart: 99}, "Rd of 4.6 to 5.6 kohm, or open where it is shown only when the source pulls", "port controller data sheet (Rd 4.6 to 5.6 kohm); " + practice},
		}}
	}
	ohms, diode := levels([3]string{"below 200 ohm", "200 ohm to 4 kohm", "about 5.1 kohm, or open"}), levels([3]string{"below 0.1 V", "0.1 to 0.4 V", "0.4 to 0.8 V, or open"})
	var out []measurement
	add := func(name, other, words string, bands []band, alone topic) {
		m := measurement{reading: name, words: words, minutes: 1.5, bands: bands, topic: alone}
		if _, known := probe.Figure(given, other); known {
			m.bands, m.topic = nil, ccPairTopic()
		}
		out = append(out, m)
	}
	ohmBands := []band{upTo(200, short), upTo(4000, leaky), above(sound)}
	diodeBands := []band{upTo(0.1, short), upTo(0.4, leaky), above(sound)}
	add("cc1-ohm", "cc2-ohm", "CC1 to ground at the port, in ohms", ohmBands, ohms)
	add("cc2-ohm", "cc1-ohm", "CC2 to ground at the port, in ohms", ohmBands, ohms)
	add("cc1-diode-v", "cc2-diode-v", "CC1 at the port in diode mode, red on ground", diodeBands, diode)
	add("cc2-diode-v", "cc1-diode-v", "CC2 at the port in diode mode, red on ground", diodeBands, diode)
	return out
}

// ccPairTopic holds one CC line against the other.
func ccPairTopic() topic {
	return topic{name: ccNode, cap: coldCap, rows: []row{
		{"alike", "like the other line, within 10 percent", 98.5, like{ccContact: 42, controller: 62, vbusShort: 96, healthyPart: 99}, "both lines of one controller are built alike", practice},
		{unlike, "unlike the other line by more than 10 percent", 1.5, like{ccContact: 58, controller: 38, vbusShort: 4, healthyPart: 1}, "one contact, line or input is gone", practice},
	}}
}

// ccUnlike is how far two CC lines may differ: common practice.
const ccUnlike = 0.10

func ccPair(a, b float64) string {
	if math.IsInf(a, 1) && math.IsInf(b, 1) || math.Abs(a-b) <= ccUnlike*max(a, b) && !math.IsInf(max(a, b), 1) {
		return "alike"
	}
	return unlike
}

// swapCap is how far a second trial carries: with the part out, its fault goes.
// A sound machine shows no complaint either time. Common practice.
const swapCap = 100

// trials are second trials beside the recording.
func trials(given []probe.Reading) []measurement {
	trial := func(reading, words string, minutes, others float64, different like, reason string) measurement {
		same := like{}
		for p, x := range different {
			same[p] = 100 - x
		}
		return measurement{reading: reading, words: words, minutes: minutes, powers: true, topic: topic{name: reading, cap: swapCap, rows: []row{
			{"different", "it behaves differently", others, different, reason, practice},
			{"same", "the same as in the recording", 100 - others, same, reason, practice},
		}}}
	}
	out := []measurement{
		trial("other-port", "try the same charger and cable in another port of the unit", 1, 3,
			like{inputSwitch: 88, controller: 78, supply: 62, ccContact: 94, powContact: 94, vbusShort: 84, vbusLeak: 88, inputShort: 45, downstream: 6, healthyPart: 2},
			"each port has its own contacts, CC lines and switches"),
		trial("plug-flipped", "try the same plug turned over", 1, 3.5,
			like{ccContact: 80, powContact: 45, cable: 30, controller: 15},
			"each side of the plug has its own CC contact"),
		trial("known-good-charger", "try a charger known to be good, with the same cable", 2, 2.5,
			like{source: 95, mains: 40, cable: 15, powContact: 12, ccContact: 8, healthyPart: 1},
			"what goes with the charger lies in it"),
		trial("other-cable", "try another cable that is known to be good", 2, 2,
			like{cable: 94, source: 6, powContact: 14, ccContact: 9, healthyPart: 1},
			"what goes with the cable lies in it"),
	}
	again, others := like{powContact: 50, ccContact: 30, cable: 28, source: 17, mains: 20, railShort: 8, battery: 12, supply: 12, healthyPart: 2}, 6.0
	for _, swap := range out {
		if probe.Word(given, swap.reading) == "different" {
			again, others = swap.byChance(again, others)
		}
	}
	return append(out, trial("repeat", "try the same set-up once more", 2, others, again, "contacts come and go, shorts mostly stay; a cracked capacitor may wander"))
}

// comesAndGoes is how often, in percent, the same set-up behaves differently where
// a swap changed the complaint by chance: like a bad contact. Common practice.
const comesAndGoes = 45.0

// byChance is how often the same set-up behaves differently once more, after a swap
// has changed the complaint. Where the swap took the fault out, the complaint is back
// with it; where a part has no hand in the swap, it came and went by chance.
func (m measurement) byChance(again like, others float64) (like, float64) {
	swap := m.topic.rows[m.topic.index("different")]
	out := like{}
	for p, x := range swap.by {
		was, named := again[p]
		if !named {
			was = others
		}
		chance := min(1, swap.others/x)
		out[p] = max(was, comesAndGoes*chance+was*(1-chance))
	}
	for p, was := range again {
		if _, named := swap.by[p]; !named {
			out[p] = max(was, comesAndGoes)
		}
	}
	return out, max(others, comesAndGoes)
}
