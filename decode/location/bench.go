package location

import "math"

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
}

// band ends below a figure; the last one has no end.
type band struct {
	below   float64
	outcome string
}

// outcome puts a reading into its band. A powered node that reads open, or a
// trial for which there is nothing at hand, says nothing.
func (m measurement) outcome(r Reading) (string, bool) {
	if m.bands == nil {
		return r.Word, m.topic.index(r.Word) >= 0
	}
	if math.IsNaN(r.Value) || m.powers && math.IsInf(r.Value, 1) {
		return "", false
	}
	for _, b := range m.bands {
		if r.Value < b.below {
			return b.outcome, true
		}
	}
	return m.bands[len(m.bands)-1].outcome, true
}

func upTo(x float64, outcome string) band { return band{below: x, outcome: outcome} }
func above(outcome string) band           { return band{below: math.Inf(1), outcome: outcome} }

// measurements lists what can be asked of the bench. A contract decides what
// the node between switches and charger ought to read; cc1 and cc2 count as a
// pair once one of them is known.
func measurements(contract bool, given []Reading) []measurement {
	out := coldMeasurements()
	out = append(out, ccMeasurements(given)...)
	out = append(out, poweredMeasurements(contract)...)
	return append(out, trials()...)
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

// coldTopic is a node read with nothing powered: a short, a leak, or neither.
func coldTopic(name string, reads [3]string, others [3]float64, shorts, leaks like) topic {
	rest := like{}
	for p, x := range shorts {
		rest[p] = 100 - x - leaks[p]
	}
	return topic{name: name, cap: coldCap, rows: []row{
		{short, reads[0], others[0], shorts, "a short on the node itself", practice},
		{leaky, reads[1], others[1], leaks, "a leak on the node, or a short seen through something", practice},
		{sound, reads[2], others[2], rest, "capacitors and junctions only", practice},
	}}
}

func coldMeasurements() []measurement {
	ohms := func(reading, words string, minutes float64, inside bool, shortBelow, leakBelow float64, t topic) measurement {
		return measurement{reading: reading, words: words + " to ground, in ohms", minutes: minutes, inside: inside,
			bands: []band{upTo(shortBelow, short), upTo(leakBelow, leaky), above(sound)}, topic: t}
	}
	diode := func(reading, words string, inside bool, shortBelow, leakBelow float64, t topic) measurement {
		return measurement{reading: reading, words: words + " in diode mode, red on ground", minutes: 2, inside: inside,
			bands: []band{upTo(shortBelow, short), upTo(leakBelow, leaky), above(sound)}, topic: t}
	}
	return []measurement{
		ohms("vbus-ohm", "VBUS at the port", 2, false, 10, 1000, coldTopic("vbus cold",
			[3]string{"below 10 ohm", "10 ohm to 1 kohm", "above 1 kohm, often rising, or open"}, [3]float64{0.5, 1.5, 98},
			like{vbusShort: 95, vbusLeak: 5, inputSwitch: 4, inputShort: 6, healthyPart: 0.3},
			like{vbusShort: 4, vbusLeak: 80, inputSwitch: 5, inputShort: 4, healthyPart: 1.2})),
		diode("vbus-diode-v", "VBUS at the port", false, 0.1, 0.35, coldTopic("vbus cold",
			[3]string{"below 0.1 V", "0.1 to 0.35 V", "0.4 to 0.6 V, or open"}, [3]float64{0.7, 4, 95.3},
			like{vbusShort: 93, vbusLeak: 8, inputSwitch: 4, inputShort: 5, healthyPart: 0.3},
			like{vbusShort: 5, vbusLeak: 62, inputSwitch: 6, inputShort: 5, healthyPart: 3})),
		mainRailOhms(),
		diode("main-rail-diode-v", "main rail", true, 0.05, 0.25, coldTopic("main rail cold",
			[3]string{"0.00 to 0.05 V", "0.05 to 0.25 V", "0.35 to 0.5 V"}, [3]float64{1, 5, 94},
			like{railShort: 86, railLeak: 10, chargerIC: 10, downstream: 6, inputShort: 3, healthyPart: 0.3},
			like{railShort: 12, railLeak: 66, chargerIC: 10, downstream: 14, inputShort: 6, healthyPart: 3})),
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
			like{supply: 60, controller: 15, downstream: 4, healthyPart: 0.3},
			like{supply: 20, controller: 12, downstream: 3, healthyPart: 2})),
	}
}

// mainRailOhms has a band more: between a leak and a plausible rail the
// sources disagree.
func mainRailOhms() measurement {
	return measurement{"main-rail-ohm", "main rail to ground, in ohms", 3, true, false,
		[]band{upTo(5, short), upTo(50, leaky), upTo(1000, "unclear"), above(sound)},
		topic{name: "main rail cold", cap: coldCap, rows: []row{
			{short, "below 5 ohm", 0.5, like{railShort: 96, railLeak: 10, chargerIC: 10, downstream: 7, inputShort: 4, healthyPart: 0.3}, "a short on the rail itself, or through a switch that feeds from it", rails},
			{leaky, "5 to 50 ohm", 1.2, like{railShort: 3, railLeak: 76, chargerIC: 6, downstream: 13, inputShort: 3, healthyPart: 0.9}, "a crack that conducts", rails},
			{"unclear", "50 ohm to 1 kohm", 13, like{railShort: 0.5, railLeak: 11, chargerIC: 13, downstream: 15}, "normal on some boards and a leak on others: hold it against the same board known good", rails},
			{sound, "above 1 kohm", 85.3, like{railShort: 0.5, railLeak: 3, chargerIC: 71, downstream: 65, inputShort: 80, healthyPart: 86}, "a rail that can be fed", rails},
		}}}
}

const unlike = "differ"

// ccMeasurements asks for each CC line alone, or, once one is known, whether
// the other is like it.
func ccMeasurements(given []Reading) []measurement {
	levels := func(words [3]string) topic {
		return topic{name: "cc cold", cap: recordingCap, rows: []row{
			{short, words[0], 0.5, like{ccContact: 11, controller: 13, vbusShort: 2, healthyPart: 0.2}, "a line that is shorted to ground or VBUS", practice},
			{leaky, words[1], 1.5, like{ccContact: 10, controller: 11, supply: 3, healthyPart: 0.8}, "a damaged input", practice},
			{sound, words[2], 98, like{ccContact: 79, controller: 76, supply: 97, healthyPart: 99}, "Rd of 4.6 to 5.6 kohm, or open where it is shown only when the source pulls", "port controller data sheet (Rd 4.6 to 5.6 kohm); " + practice},
		}}
	}
	ohms, diode := levels([3]string{"below 200 ohm", "200 ohm to 4 kohm", "about 5.1 kohm, or open"}), levels([3]string{"below 0.1 V", "0.1 to 0.4 V", "0.4 to 0.8 V, or open"})
	var out []measurement
	add := func(name, other, words string, bands []band, alone topic) {
		m := measurement{reading: name, words: words, minutes: 1.5, bands: bands, topic: alone}
		if _, known := figure(given, other); known {
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
	return topic{name: "cc cold", cap: recordingCap, rows: []row{
		{"alike", "like the other line, within 10 percent", 97, like{ccContact: 42, controller: 62, healthyPart: 99}, "both lines of one controller are built alike", practice},
		{unlike, "unlike the other line by more than 10 percent", 3, like{ccContact: 58, controller: 38, healthyPart: 1}, "one contact, line or input is gone", practice},
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

func poweredMeasurements(contract bool) []measurement {
	return []measurement{
		{"vbus-v", "VBUS at the receptacle, in volts", 3, false, true,
			[]band{upTo(0.8, absent), upTo(4.4, low), above(there)},
			topic{name: "vbus powered", cap: recordingCap, rows: []row{
				{absent, "below 0.8 V", 2, like{source: 22, cable: 24, mains: 90, ccContact: 28, powContact: 22, controller: 5, supply: 5, vbusShort: 86, inputShort: 6, healthyPart: 0.5}, "VBUS does not arrive", practice},
				{low, "0.8 to 4.4 V", 1, like{source: 7, cable: 8, powContact: 10, vbusShort: 8, inputShort: 8, vbusLeak: 5, healthyPart: 0.3}, "VBUS is held down or lost on the way", practice},
				{there, "5 V or the contract", 97, like{source: 71, cable: 68, mains: 10, ccContact: 72, powContact: 68, controller: 95, supply: 95, vbusShort: 6, inputShort: 86, vbusLeak: 95, healthyPart: 99.2}, "VBUS arrives", practice},
			}}},
		{"main-rail-v", "main rail in volts, customer's charger in, battery disconnected", 3, true, true,
			[]band{upTo(1, absent), upTo(5, low), above(there)}, mainRailVolts(contract)},
		{"charger-input-v", "the node between input switches and charger circuit in volts, customer's charger in, battery disconnected", 3, true, true,
			[]band{upTo(1, absent), upTo(8, five), above("contract")}, chargerInputVolts(contract)},
		{"always-on-rail-v", "the 3.3 V always-on rail in volts, customer's charger in, battery disconnected", 3.5, true, true,
			[]band{upTo(0.5, absent), upTo(2.9, low), above(there)},
			topic{name: "always-on rail powered", cap: recordingCap, rows: []row{
				{absent, "below 0.5 V", 40, like{source: 50, cable: 48, mains: 80, inputSwitch: 70, controller: 58, supply: 60, ccContact: 60, powContact: 50, vbusShort: 85, vbusLeak: 8, railShort: 76, railLeak: 25, inputShort: 70, chargerIC: 50, downstream: 45, sequence: 14, battery: 8, healthyPart: 3}, "nothing feeds it, or it is held down", practice},
				{low, "0.5 to 2.9 V", 10, like{source: 12, cable: 12, mains: 5, inputSwitch: 8, powContact: 10, vbusShort: 5, vbusLeak: 8, railShort: 10, railLeak: 20, chargerIC: 14, downstream: 32, sequence: 26, battery: 8, healthyPart: 2}, "1.9 V on a 3.3 V rail was the fault in one published case", practice},
				{there, "3.3 V or 5 V", 50, like{source: 38, cable: 40, mains: 15, inputSwitch: 22, controller: 32, supply: 30, ccContact: 30, powContact: 40, vbusShort: 10, vbusLeak: 84, railShort: 14, railLeak: 55, inputShort: 20, chargerIC: 36, downstream: 23, sequence: 60, battery: 84, healthyPart: 95}, "the main rail feeds it", practice},
			}}},
		{"controller-supply-v", "the port controller's supply in volts", 3, true, true,
			[]band{upTo(0.5, absent), upTo(2.9, low), above(there)},
			topic{name: "controller supply powered", cap: recordingCap, rows: []row{
				{absent, "below 0.5 V", 3, like{source: 32, cable: 32, mains: 88, controller: 8, supply: 66, ccContact: 24, powContact: 24, vbusShort: 85, inputShort: 8, railShort: 4, healthyPart: 0.6}, "no VBUS, or its regulator is dead", practice},
				{low, "0.5 to 2.9 V", 3, like{source: 8, cable: 8, controller: 14, supply: 25, powContact: 12, vbusShort: 8, railShort: 4, downstream: 5, healthyPart: 0.6}, "the regulator or its load is damaged", practice},
				{there, "3.0 to 3.6 V", 94, like{source: 60, cable: 60, mains: 12, controller: 78, supply: 9, ccContact: 74, powContact: 64, vbusShort: 7, inputShort: 88, railShort: 92, downstream: 92, healthyPart: 98.8}, "the controller can live", practice},
			}}},
	}
}

// mainRailVolts: without a contract a board without battery often makes no
// main rail at all, whatever is wrong.
func mainRailVolts(contract bool) topic {
	t := topic{name: "main rail powered", cap: recordingCap, rows: []row{
		{absent, "below 1 V", 45, like{source: 55, cable: 50, mains: 80, inputSwitch: 86, controller: 60, supply: 62, ccContact: 60, vbusShort: 88, vbusLeak: 5, railShort: 87, railLeak: 20, inputShort: 80, chargerIC: 62, downstream: 22, sequence: 4, battery: 6, healthyPart: 8}, "a short, or nothing makes it", practice},
		{low, "1 to 5 V", 10, like{inputSwitch: 5, railShort: 11, railLeak: 40, chargerIC: 18, downstream: 30, sequence: 3, battery: 8, healthyPart: 4}, "held down, or carried by 5 V", practice},
		{there, "its nominal value", 45, like{source: 35, cable: 40, mains: 10, inputSwitch: 9, controller: 30, supply: 28, ccContact: 30, vbusShort: 2, vbusLeak: 85, railShort: 2, railLeak: 40, inputShort: 10, chargerIC: 20, downstream: 48, sequence: 93, battery: 86, healthyPart: 88}, "the rail is made: the fault stands behind it or nowhere", practice},
	}}
	if contract {
		for p, x := range (like{source: 25, cable: 20, controller: 40, supply: 35, ccContact: 15, healthyPart: 2}) {
			t.rows[0].by[p], t.rows[2].by[p] = x, 90-x
		}
	}
	return t
}

// chargerInputVolts: the switches may stay open until there is a contract.
func chargerInputVolts(contract bool) topic {
	t := topic{name: "charger input powered", cap: recordingCap, rows: []row{
		{absent, "below 1 V", 45, like{source: 55, cable: 55, mains: 80, inputSwitch: 80, controller: 62, supply: 64, ccContact: 56, vbusShort: 90, inputShort: 80, healthyPart: 35}, "the switches are open, or the node is shorted", practice},
		{five, "about 5 V", 50, like{source: 42, cable: 42, mains: 18, inputSwitch: 18, controller: 36, supply: 34, ccContact: 42, vbusShort: 9, inputShort: 18, healthyPart: 58}, "the switches carry 5 V", practice},
		{"contract", "the contract's voltage", 5, like{source: 3, cable: 3, mains: 2, inputSwitch: 2, controller: 2, supply: 2, ccContact: 2, vbusShort: 1, inputShort: 2, healthyPart: 7}, "the switches carry the contract", practice},
	}}
	if contract {
		closed := like{inputSwitch: 96, inputShort: 82, controller: 45, supply: 45, powContact: 18, source: 14, cable: 14, mains: 20, vbusShort: 60, healthyPart: 1}
		t.rows[0].others, t.rows[1].others, t.rows[2].others = 4, 4, 92
		t.rows[0].by, t.rows[1].by, t.rows[2].by = closed, like{}, like{}
		for p, x := range closed {
			t.rows[1].by[p], t.rows[2].by[p] = (100-x)*0.05, (100-x)*0.95
		}
	}
	return t
}

// trials are second trials beside the recording.
func trials() []measurement {
	trial := func(reading, words string, minutes, others float64, different like, reason string) measurement {
		same := like{}
		for p, x := range different {
			same[p] = 100 - x
		}
		return measurement{reading: reading, words: words, minutes: minutes, powers: true, topic: topic{name: reading, cap: trialCap, rows: []row{
			{"different", "it behaves differently", others, different, reason, practice},
			{"same", "the same as in the recording", 100 - others, same, reason, practice},
		}}}
	}
	return []measurement{
		trial("other-port", "the same charger and cable in another port of the unit", 1, 3,
			like{inputSwitch: 88, controller: 78, supply: 62, ccContact: 94, powContact: 94, vbusShort: 84, vbusLeak: 88, inputShort: 45, downstream: 6, healthyPart: 3},
			"each port has its own contacts, CC lines and switches"),
		trial("plug-flipped", "the same plug turned over", 1, 3.5,
			like{ccContact: 80, powContact: 45, cable: 30, controller: 15},
			"each side of the plug has its own CC contact"),
		trial("known-good-charger", "a charger known to be good, with the same cable", 2, 2.5,
			like{source: 95, mains: 40, cable: 15, powContact: 12, ccContact: 8, healthyPart: 2.5},
			"what goes with the charger lies in it"),
		trial("other-cable", "another cable that is known to be good", 2, 2,
			like{cable: 94, source: 6, powContact: 14, ccContact: 9, healthyPart: 2},
			"what goes with the cable lies in it"),
		trial("repeat", "the same set-up once more", 2, 6,
			like{powContact: 50, ccContact: 30, cable: 28, source: 17, mains: 20, railShort: 8, battery: 12, supply: 12, healthyPart: 5},
			"contacts come and go, shorts mostly stay; a cracked capacitor may wander"),
	}
}
