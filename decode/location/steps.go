package location

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"portside/decode/probe"
	"portside/decode/rules"
)

// Bounds of an injection into a short. Trade guides differ: 1 V and 0.5 A up
// to 2 A and never over 3 V; 1 to 3 V at 1 to 3 A; common practice goes up to
// 5 A for milliohms. The lowest of each that still heats a part is taken.
const (
	startV        = 0.5
	startFirmV    = 1.0 // into a short of an ohm or more
	startA        = 0.5
	mostInjectA   = 2.0
	mostMilliohmA = 5.0
	milliohms     = 0.1 // ohm and below: amperes, not volts, make the heat
	leastCeilingV = 1.0
	mostCeilingV  = 3.0 // below the normal voltage of any rail of 3.3 V and more
	aimW          = 1.5 // in the part: ten times what a freeze spray or alcohol shows
	injectMostOhm = 50  // above it the rail is no short
	injectForS    = 30
	leastOhm      = 0.001
	ratedV        = 25 // the least rating of a part on a rail of 12 to 20 V: common practice
)

// injection computes start, limit and ceiling from a cold resistance.
func injection(ohm float64) map[string]float64 {
	r := max(ohm, leastOhm)
	most := mostInjectA
	if r <= milliohms {
		most = mostMilliohmA
	}
	ceiling := min(mostCeilingV, max(leastCeilingV, math.Sqrt(aimW*r)))
	start := startV
	if r >= 1 {
		start = startFirmV
	}
	limit := min(most, max(startA, math.Sqrt(aimW/r)))
	return map[string]float64{
		"start_v": start, "start_a": startA, "limit_a": round(limit), "ceiling_v": round(ceiling),
		"rail_ohm": ohm, "power_w": round(min(limit*limit*r, ceiling*ceiling/r)), "seconds_s": injectForS,
	}
}

// round keeps two figures behind the point, as a bench supply is set.
func round(x float64) float64 { return math.Floor(x*100) / 100 }

const (
	safeCaution   = "a battery feeds tens of amperes into a short: disconnect it first, and do not put it back before the unit starts from the charger alone. A swollen, hot or hissing battery stops the work. Local codes and licensed practice come first"
	injectCaution = "eye protection, no face over the board, nothing wet with alcohol while powered, less than 30 s at a time; never above the rail's own voltage; battery and charger out. Local codes and licensed practice come first"
	hotAirCaution = "hot air: fume extraction, eye protection against cracking parts, shields on connectors and plastic, never near cells (keep them below 60 C)"
	mainsCaution  = "a charger is tested from outside only: its primary side can kill. Mains work belongs to licensed persons under local codes"
	ignite        = "eye protection: a polarised part put in the wrong way bursts at first power. Unplug at once if anything heats. Local codes and licensed practice come first"
)

// hotAir are the limits of work with heat, with those of the step itself beside them:
// preheating keeps a ceramic part from cracking, and the nozzle stays off it (makers'
// soldering instructions for ceramic capacitors).
func hotAir(more map[string]float64) map[string]float64 {
	out := map[string]float64{"preheat_celsius": 150, "air_celsius": 400, "iron_celsius": 300, "nozzle_mm": 5, "cells_celsius": 60}
	maps.Copy(out, more)
	return out
}

// stepList collects steps.
type stepList struct {
	steps []Step
	open  bool // the case is
}

// openCase stands before the first step inside, once.
func (s *stepList) openCase() {
	if !s.open {
		s.open = true
		s.add("open the case; strap on, battery disconnected before a probe or a tool touches the board", "", OpenMinutes, "nothing swollen, burnt or wet", nil, safeCaution)
	}
}

func (s *stepList) add(step, reading string, minutes float64, expect string, limits map[string]float64, caution string) {
	x := Step{Step: step, Minutes: minutes, Expect: expect, Limits: limits}
	if x.Limits == nil {
		x.Limits = map[string]float64{}
	}
	if reading != "" {
		x.Reading = &reading
	}
	if caution != "" {
		x.Caution = &caution
	}
	s.steps = append(s.steps, x)
}

// steps lead from the location to the part; none before a location is named.
func (c *opinion) steps(l rules.Location) []Step {
	s := &stepList{steps: []Step{}, open: c.insideRead()}
	switch l {
	case rules.BeforePort:
		c.beforePort(s)
	case rules.AtPort:
		c.atPort(s)
	case rules.BehindPort:
		c.behindPort(s)
	}
	return s.steps
}

// leastSuspect is the share from which a part is worth a step of its own: common
// practice.
const leastSuspect = 0.01

// ask adds the steps that confirm parts of a location, those first that are
// likely and quick (Kadane & Simon 1977), cold before powered. What is given
// is not asked again, and nothing is powered into a node that reads short.
func (c *opinion) ask(s *stepList, readings map[string]part) {
	cold, shorted := c.now().due()
	var todo []measurement
	for _, q := range measurements(pathOf(c.Picture), c.Readings) {
		if _, given := probe.Find(c.Readings, q.reading); !given && readings[q.reading] != "" && c.probability(readings[q.reading]) >= leastSuspect && (!q.powers || len(cold) == 0 && !shorted) {
			todo = append(todo, q)
		}
	}
	slices.SortStableFunc(todo, func(a, b measurement) int {
		if a.powers != b.powers {
			if b.powers {
				return -1
			}
			return 1
		}
		x := perCost(c.probability(readings[a.reading]), a.minutes)
		y := perCost(c.probability(readings[b.reading]), b.minutes)
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	for _, q := range todo {
		p := readings[q.reading]
		if q.inside {
			s.openCase()
		}
		caution := coldCaution
		if q.powers {
			caution = poweredCaution
		}
		do := q.words
		if strings.HasSuffix(q.reading, "-ohm") || strings.HasSuffix(q.reading, "-v") {
			do = "measure " + do
		}
		s.add(do, q.reading, q.minutes, c.confirms(q, p), nil, caution)
	}
}

// confirms says what a reading shows if the part has failed, and if not.
func (c *opinion) confirms(q measurement, p part) string {
	if q.topic.name == ccNode {
		q.topic = ccPairTopic()
	}
	table := q.topic.likelihoods(c.model)
	i, h := c.index(p), c.index(healthyPart)
	bad, good, ratio, most := 0, 0, 0.0, 0.0
	for k, outcome := range table {
		if x := outcome[i] / outcome[h]; x > ratio {
			bad, ratio = k, x
		}
		if outcome[h] > most {
			good, most = k, outcome[h]
		}
	}
	return fmt.Sprintf("%s if it is %s; %s if not", q.topic.rows[bad].reads, c.classes[i].words, q.topic.rows[good].reads)
}

func (c *opinion) beforePort(s *stepList) {
	s.add("look at plug, cable and charger label: bent or burnt contacts, a rating below what the machine wants", "", 2, "clean contacts, and watts enough on the label", nil, mainsCaution)
	c.ask(s, map[string]part{"other-cable": cable, "known-good-charger": source})
	s.add("the customer's charger and cable at another outlet, on a machine that is known to be sound", "", 5, "the complaint goes with the charger or the cable; with neither, it lies in the outlet", nil, mainsCaution)
	s.add("record the machine once more with the charger and cable that are known to be good", "", 5, "a contract above 5 V and a draw that rises and stays", nil, poweredCaution)
}

func (c *opinion) atPort(s *stepList) {
	s.add("look into the receptacle under magnification, and move the plug: bent, burnt or green contacts, lint, play", "", 3, "a straight tongue with clean contacts; a plug that sits firm", nil, coldCaution)
	c.ask(s, map[string]part{
		"vbus-ohm": vbusShort, "cc1-ohm": ccContact, "cc2-ohm": ccContact, "controller-supply-ohm": supply,
		"plug-flipped": c.likelier(ccContact, powContact), "other-port": c.likelier(controller, powContact, inputSwitch), "controller-supply-v": supply, "charger-input-v": inputSwitch,
	})
	c.partSteps(s, rules.AtPort)
	s.add("take out or replace one suspect only, then read its node again cold before anything else", "", 20, "the node is back to what the same board known good reads", hotAir(nil), hotAirCaution)
	s.add("first power from a charger known to be good, battery still out, meter in line", "", 5, "a contract above 5 V within 2 s in both orientations of the plug, then below 1 W", map[string]float64{"contract_s": 2, "standby_w": 1}, ignite)
}

func (c *opinion) behindPort(s *stepList) {
	s.openCase()
	s.add("make it safe: wall charger out, battery disconnected, hold the button 10 s, wait for the main rail to fall", "", 3, "main rail below 0.5 V", map[string]float64{"rail_v": 0.5}, safeCaution)
	s.add("look under magnification near the port, the input switches, the sense resistors and the main rail's capacitors: cracked, raised, discoloured or missing parts", "", 5, "often something shows; a cracked capacitor may show nothing", nil, coldCaution)
	ohm, read := c.known("main-rail-ohm")
	if c.onRail() || c.railSuspect() {
		c.railSteps(s, ohm, read)
	} else {
		c.ask(s, map[string]part{
			"main-rail-ohm": railShort, "charger-input-ohm": inputShort, "always-on-rail-ohm": downstream,
			"main-rail-v": chargerIC, "charger-input-v": chargerIC, "always-on-rail-v": downstream,
		})
		c.partSteps(s, rules.BehindPort)
		s.add("take out one suspect, then read its node again before anything else", "", 15, "the node is back to what the same board known good reads", hotAir(nil), hotAirCaution)
	}
	s.add("first power from a bench supply or a charger known to be good, through the meter, battery still out", "", 5, "a contract, then below about 1 W, the main rail at its nominal value", map[string]float64{"standby_w": 1}, ignite)
	s.add("battery back in; ramp, both ports, both orientations, and the same recording as before the repair", "", 30, "the draw rises and stays; nothing but the charger circuit gets warm", nil, safeCaution)
}

// likelier is the part of several with the largest share.
func (c *opinion) likelier(parts ...part) part {
	return slices.MaxFunc(parts, func(a, b part) int { return cmp.Compare(c.probability(a), c.probability(b)) })
}

// shuntOhm is the most that a current-sense resistor of a charger circuit has: 5 or
// 10 mohm, common practice.
const shuntOhm = 0.01

// partSteps look at the likeliest part itself, beyond what a reading is named for.
func (c *opinion) partSteps(s *stepList, l rules.Location) {
	s.openCase()
	switch c.bestPart(l).part {
	case inputSwitch:
		s.add("the input switches, cold: each from drain to source in both directions and from gate to source, in ohms", "", 4, "a body diode one way, open the other way, and a gate that is not shorted", nil, coldCaution)
	case controller, supply:
		s.add("the parts around the port controller: its supply's capacitors, its memory, the lines between two controllers", "", 5, "no green crust, nothing lifted or shorted", nil, coldCaution)
	case ccContact, powContact:
		s.add("each contact of the receptacle against its pad on the board, in ohms, while the plug is moved", "", 4, "below 1 ohm each, and steady", nil, coldCaution)
	case chargerIC:
		s.add("the current-sense resistors and the inductor of the charger circuit, cold, with four wires", "", 4, "5 or 10 mohm each sense resistor; not open", map[string]float64{"sense_ohm": shuntOhm}, coldCaution)
	case downstream:
		s.add("the coil of each regulator behind the main rail to ground, in ohms: which one is low", "", 5, "100 ohm or more on a 3.3 V or 5 V rail; a processor's rail is a few ohm when sound", nil, coldCaution)
	case sequence:
		s.add("press the power button with the meter in line", "", 2, "the draw steps up by several watts and stays: it starts; no step: the always-on rails, the button and the real-time clock's cell are next", nil, poweredCaution)
	case battery:
		s.add("record again with the battery disconnected; then with a battery known to be good, or after half an hour on the charger", "", 5, "the complaint is gone without the battery; a precharge steps up within 30 min", nil, safeCaution)
	}
}

// onRail reports a cold reading that puts the short on the main rail.
func (c *opinion) onRail() bool {
	ohm, read := c.known("main-rail-ohm")
	return read && ohm < injectMostOhm
}

// railSuspect reports that the main rail is the likeliest part behind the
// port and no reading has cleared it.
func (c *opinion) railSuspect() bool {
	best := c.bestPart(rules.BehindPort).part
	ohm, read := c.known("main-rail-ohm")
	return (best == railShort || best == railLeak) && !(read && ohm >= injectMostOhm)
}

// railSteps: resistance, is it really this rail, inject, see, re-measure.
func (c *opinion) railSteps(s *stepList, ohm float64, read bool) {
	bands := map[string]float64{"short_ohm": 5, "leak_ohm": injectMostOhm, "plausible_ohm": 1000}
	if !read || probe.Word(c.Readings, "main-rail-ohm") == short {
		s.add("main rail to ground in ohms, leads zeroed; below 1 ohm with four wires", "main-rail-ohm", 3, "below 5 ohm is a short, 5 to 50 ohm a leak, above 1 kohm plausible", bands, coldCaution)
	}
	s.add("is it really this rail: the switch node of each buck stage against the main rail, in ohms", "", 5, "no stage reads a short to the main rail", nil,
		"a shorted high-side switch makes the processor part of this rail, and injecting into it would kill the processor: measure this first")
	s.add("set the rail apart where the board allows it: input switches open, or the inductor of the charger circuit lifted", "", 10, "the short stays on one side", hotAir(nil), hotAirCaution)
	if read && ohm < injectMostOhm && probe.Word(c.Readings, "main-rail-ohm") != short {
		x := injection(ohm)
		s.add(fmt.Sprintf("inject into the main rail: begin at %.2g V with the supply limited to %.2g A, raise the limit to at most %.2g A and the voltage to at most %.2g V, never above the rail's own voltage",
			x["start_v"], x["start_a"], x["limit_a"], x["ceiling_v"]), "", 10, injectExpect(x), x, injectCaution)
		s.add("find what warms: thermal camera, freeze spray or alcohol; for a few milliohms walk the rail with a milliohm meter", "", 5, "one part warms first; the lowest milliohms are at the fault", nil, injectCaution)
	}
	s.add("take out one suspect, then read the rail again before anything else", "main-rail-ohm", 10, "above 1 kohm, or what the same board known good reads, when it was the one; unchanged: put it on the list and go on", hotAir(map[string]float64{"plausible_ohm": 1000}), hotAirCaution)
	s.add("replace it: same capacitance, case and dielectric, the same or a higher voltage rating, never a used part", "", 10, "the rail reads the same as with the part out", hotAir(map[string]float64{"rated_v": ratedV}), hotAirCaution)
}

// injectExpect says what heat the figures give: 20 to 50 mW show on a thermal
// camera, about 0.2 W to freeze spray or alcohol (common practice).
func injectExpect(x map[string]float64) string {
	text := fmt.Sprintf("up to %.2g W in the fault", x["power_w"])
	if x["power_w"] < 0.2 {
		return text + ": for a thermal camera; the leads take more"
	}
	return text + ": enough for a camera, freeze spray or alcohol; a supply that holds its voltage means that the short is not hard"
}
