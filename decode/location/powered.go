package location

import (
	"math"

	"portside/decode/draw"
	"portside/decode/probe"
	"portside/decode/signs"
)

// shown is what the recording says of the path that a powered node hangs on.
type shown struct {
	contract bool // VBUS above 5 V was reached
	fed      bool // the board took a draw that stood: what lies before it did its work
	passes   bool // power went through at times: no part of the path is dead
	vbus     bool // the meter saw VBUS
	absent   bool // a meter was there and saw none
	atDevice bool // that meter sits at the cable's far end
	clamps   bool // VBUS stood idle at 5 V, and something takes it down above

	input, rail nodeState // what the two nodes before it read, for the next one behind
}

// nodeState is what a powered node was read at.
type nodeState int

const (
	unread nodeState = iota
	dead
	live
)

// Nothing is made of a node below the first, and a node at the second or above
// can feed the next one. Common practice.
const (
	deadV = 1.0
	liveV = 4.4
)

func state(given []probe.Reading, reading string) nodeState {
	switch v, known := probe.Figure(given, reading); {
	case !known || math.IsInf(v, 1):
		return unread
	case v < deadV:
		return dead
	case v >= liveV:
		return live
	}
	return unread
}

// upstream are the parts that a node behind the input switches hangs on.
func upstream() []part {
	return []part{source, cable, mains, controller, supply, ccContact, powContact, inputSwitch}
}

// pathOf asks the recording.
func pathOf(p signs.Picture) shown {
	s := shown{contract: p.Contract, clamps: p.State[signs.CutPulled] > 0.5}
	if d := p.Meter(); d != nil {
		s.vbus = d.Sampling.MaxV >= draw.FiveFrom
		s.absent, s.atDevice = !s.vbus, p.Facts.MeterAt == "device"
	}
	s.input, s.rail = state(p.Readings, "charger-input-v"), state(p.Readings, "main-rail-v")
	if !p.Contract {
		return s
	}
	pattern, _ := p.DrawSeen()
	s.fed = mostly(pattern, signs.DrawStandby, signs.DrawLight, signs.DrawWorking, signs.DrawTaper, signs.DrawPrecharge, signs.DrawAtLimit, signs.DrawLeap, signs.DrawStairsSettle, signs.DrawWakes, signs.DrawGivesUp)
	s.passes = s.fed || mostly(pattern, signs.DrawFast, signs.DrawCharger, signs.DrawSlow, signs.DrawOnOff, signs.DrawStairsFall, signs.DrawStarved, signs.DrawOver, signs.DrawWakes, signs.DrawGivesUp)
	return s
}

// mostly reports that nearly all that was seen is one of the patterns.
func mostly(s signs.Seen, patterns ...string) bool {
	total, hit := 0.0, 0.0
	for _, x := range s {
		total += x
	}
	for _, p := range patterns {
		hit += s[p]
	}
	return total > 0 && hit >= 0.8*total
}

// poweredCap is how far a voltage on the node itself may carry one part over
// another: a dead node may still be a probe that missed it. Common practice.
const poweredCap = 60

func poweredMeasurements(s shown) []measurement {
	volts := func(reading, words string, minutes float64, inside bool, absentBelow, lowBelow float64, lowWord, thereWord string, t topic) measurement {
		return measurement{reading: reading, words: words, minutes: minutes, inside: inside, powers: true,
			bands: []band{upTo(absentBelow, absent), upTo(lowBelow, lowWord), above(thereWord)}, topic: t}
	}
	if s.absent { // without VBUS every node is dead, and the log has told it
		return nil
	}
	out := []measurement{
		volts("vbus-v", "VBUS at the receptacle, in volts", 3, false, 0.8, 4.4, low, there, receptacleVolts(s)),
		volts("charger-input-v", "the node between input switches and charger circuit in volts, customer's charger in, battery disconnected", 3, true, 1, 8, five, "contract", chargerInputVolts(s)),
		volts("controller-supply-v", "the port controller's supply in volts", 3, true, 0.5, 2.9, low, there, controllerVolts(s)),
	}
	if s.input != dead { // what a dead node feeds is dead
		out = append(out, volts("main-rail-v", "main rail in volts, customer's charger in, battery disconnected", 3, true, 1, 5, low, there, mainRailVolts(s)))
		fed := alwaysOnVolts(s)
		if s.rail == dead {
			fed = deadTwice(mainRailVolts(s))
		}
		out = append(out, volts("always-on-rail-v", "the 3.3 V always-on rail in volts, customer's charger in, battery disconnected", 3.5, true, 0.5, 2.9, low, there, fed))
	}
	return out
}

// change sets how often a node is dead, and how often low, for some parts; the
// rest of the time it reads as it should.
func (t topic) change(dead like, low float64) {
	for p, x := range dead {
		t.rows[0].by[p], t.rows[1].by[p], t.rows[2].by[p] = x, low, 100-x-low
	}
}

// receptacleVolts: where a meter in line sees VBUS, only what lies behind the
// meter can keep it from the receptacle.
func receptacleVolts(s shown) topic {
	t := topic{name: "vbus powered", cap: poweredCap, rows: []row{
		{absent, "below 0.8 V", 2, like{source: 22, cable: 24, mains: 90, ccContact: 28, powContact: 22, controller: 5, supply: 5, vbusShort: 86, inputShort: 6, healthyPart: 0.5}, "VBUS does not arrive", practice},
		{low, "0.8 to 4.4 V", 1, like{source: 7, cable: 8, powContact: 10, vbusShort: 8, inputShort: 8, vbusLeak: 5, healthyPart: 0.3}, "VBUS is held down or lost on the way", practice},
		{there, "5 V or the contract", 97, like{source: 71, cable: 68, mains: 10, ccContact: 72, powContact: 68, controller: 95, supply: 95, vbusShort: 6, inputShort: 86, vbusLeak: 95, healthyPart: 99.2}, "VBUS arrives", practice},
	}}
	if !s.vbus && !s.contract {
		return t
	}
	for i, x := range []float64{0.7, 0.5, 98.8} {
		t.rows[i].others, t.rows[i].by = x, like{}
	}
	t.change(like{powContact: 22}, 8)
	if !s.atDevice {
		t.change(like{cable: 10}, 4)
	}
	t.change(like{healthyPart: 0.4}, 0.3)
	return t
}

// mainRailVolts: without a contract a board without battery often makes no
// main rail at all, whatever is wrong; what let a draw through lets it through
// again, mostly. With the node before the charger circuit live, what lies
// before that node is out of it.
func mainRailVolts(s shown) topic {
	t := topic{name: "main rail powered", cap: poweredCap, rows: []row{
		{absent, "below 1 V", 45, like{source: 55, cable: 50, mains: 80, inputSwitch: 86, controller: 60, supply: 62, ccContact: 60, vbusShort: 88, vbusLeak: 5, railShort: 87, railLeak: 12, inputShort: 80, chargerIC: 62, downstream: 22, sequence: 4, battery: 6, healthyPart: 8}, "a short, or nothing makes it", practice},
		{low, "1 to 5 V", 10, like{inputSwitch: 5, railShort: 11, railLeak: 20, chargerIC: 18, downstream: 30, sequence: 3, battery: 8, healthyPart: 4}, "held down, or carried by 5 V", practice},
		{there, "its nominal value", 45, like{source: 35, cable: 40, mains: 10, inputSwitch: 9, controller: 30, supply: 28, ccContact: 30, vbusShort: 2, vbusLeak: 85, railShort: 2, railLeak: 68, inputShort: 10, chargerIC: 20, downstream: 48, sequence: 93, battery: 86, healthyPart: 88}, "the rail is made: the fault stands behind it or nowhere", practice},
	}}
	if s.contract {
		t.change(like{source: 25, cable: 20, mains: 25, controller: 40, supply: 35, ccContact: 15, powContact: 25}, 8)
		t.change(like{healthyPart: 2}, 4)
	}
	if s.passes {
		t.change(like{inputSwitch: 40, chargerIC: 35}, 10)
	}
	if s.fed {
		t.change(like{source: 8, cable: 8, mains: 8, controller: 8, supply: 9, ccContact: 8, powContact: 9, inputSwitch: 30, chargerIC: 30}, 4)
		t.change(like{healthyPart: 1.5}, 2)
	}
	if s.input == live {
		for _, p := range upstream() {
			t.change(like{p: 8}, 4)
		}
		t.change(like{inputShort: 12}, 5)
		t.change(like{healthyPart: 1.5}, 2)
	}
	return t
}

// chargerInputVolts: the switches may stay open until there is a contract. A
// switch that was seen to pass power is not stuck open: it trips, and reads so
// now and then.
func chargerInputVolts(s shown) topic {
	t := topic{name: "charger input powered", cap: poweredCap, rows: []row{
		{absent, "below 1 V", 45, like{source: 55, cable: 55, mains: 80, inputSwitch: 80, controller: 62, supply: 64, ccContact: 56, vbusShort: 90, inputShort: 80, healthyPart: 35}, "the switches are open, or the node is shorted", practice},
		{five, "about 5 V", 50, like{source: 42, cable: 42, mains: 18, inputSwitch: 18, controller: 36, supply: 34, ccContact: 42, vbusShort: 9, inputShort: 18, healthyPart: 58}, "the switches carry 5 V", practice},
		{"contract", "the contract's voltage", 5, like{source: 3, cable: 3, mains: 2, inputSwitch: 2, controller: 2, supply: 2, ccContact: 2, vbusShort: 1, inputShort: 2, healthyPart: 7}, "the switches carry the contract", practice},
	}}
	if !s.contract {
		return t
	}
	// One switch in five that fails trips under load instead of staying open.
	closed := like{inputSwitch: 80, inputShort: 82, controller: 45, supply: 45, powContact: 18, source: 14, cable: 14, mains: 20, vbusShort: 60, healthyPart: 1}
	if s.passes {
		closed[inputSwitch] = 35
	}
	if s.fed {
		for _, p := range []part{controller, supply, powContact, source, cable, mains} {
			closed[p] = 7
		}
	}
	t.rows[0].others, t.rows[1].others, t.rows[2].others = 4, 4, 92
	t.rows[0].by, t.rows[1].by, t.rows[2].by = closed, like{}, like{}
	for p, x := range closed {
		t.rows[1].by[p], t.rows[2].by[p] = (100-x)*0.05, (100-x)*0.95
	}
	return t
}

// alwaysOnVolts: made from the main rail, so it falls with it; where that rail
// stands, only what lies behind it counts.
func alwaysOnVolts(s shown) topic {
	t := topic{name: "always-on rail powered", cap: poweredCap, rows: []row{
		{absent, "below 0.5 V", 40, like{source: 50, cable: 48, mains: 80, inputSwitch: 70, controller: 58, supply: 60, ccContact: 60, powContact: 50, vbusShort: 85, vbusLeak: 8, railShort: 76, railLeak: 15, inputShort: 70, chargerIC: 50, downstream: 45, sequence: 6, battery: 8, healthyPart: 3}, "nothing feeds it, or it is held down", practice},
		{low, "0.5 to 2.9 V", 10, like{source: 12, cable: 12, mains: 5, inputSwitch: 8, powContact: 10, vbusShort: 5, vbusLeak: 8, railShort: 10, railLeak: 12, chargerIC: 14, downstream: 32, sequence: 14, battery: 8, healthyPart: 2}, "1.9 V on a 3.3 V rail was the fault in one published case", practice},
		{there, "3.3 V or 5 V", 50, like{source: 38, cable: 40, mains: 15, inputSwitch: 22, controller: 32, supply: 30, ccContact: 30, powContact: 40, vbusShort: 10, vbusLeak: 84, railShort: 14, railLeak: 73, inputShort: 20, chargerIC: 36, downstream: 23, sequence: 80, battery: 84, healthyPart: 95}, "the main rail feeds it", practice},
	}}
	if s.contract {
		t.change(like{source: 25, cable: 22, mains: 30, controller: 45, supply: 42, ccContact: 25, powContact: 25}, 8)
	}
	if s.passes {
		t.change(like{inputSwitch: 40, chargerIC: 35}, 8)
	}
	if s.fed {
		t.change(like{source: 7, cable: 7, mains: 8, controller: 8, supply: 9, ccContact: 8, powContact: 8, vbusLeak: 5, inputSwitch: 28, chargerIC: 28}, 3)
	}
	if s.rail == live {
		for _, p := range append(upstream(), vbusLeak, railLeak, inputShort, chargerIC, battery) {
			t.change(like{p: 4}, 3)
		}
		t.change(like{healthyPart: 1.5}, 1.5)
	}
	return t
}

// A probe that misses a powered node reads it dead: percent, common practice.
const missedNode = 1.0

// deadTwice: what a dead rail feeds is dead, so it tells only whether the rail was:
// a rail that a probe missed feeds what hangs on it.
func deadTwice(rail topic) topic {
	dead, others := like{}, deadWith(rail.rows[0].others)
	for p, x := range rail.rows[0].by {
		dead[p] = deadWith(x)
	}
	t := topic{name: rail.name, cap: twiceCap, rows: []row{
		{absent, "below 0.5 V", others, dead, "nothing feeds it: the rail is dead", practice},
		{low, "0.5 to 2.9 V", 2, like{}, "the rail is not dead", practice},
		{there, "3.3 V or 5 V", 98 - others, like{}, "the rail feeds it: the probe missed", practice},
	}}
	t.change(dead, 2)
	return t
}

// deadWith is how often, in percent, what hangs on a rail is dead where the rail
// reads dead as often as given.
func deadWith(railDead float64) float64 {
	missed := min(1, missedNode/railDead)
	return 96*(1-missed) + 4*missed
}

// controllerVolts: a contract was made by a controller that had its supply.
func controllerVolts(s shown) topic {
	t := topic{name: "controller supply powered", cap: poweredCap, rows: []row{
		{absent, "below 0.5 V", 3, like{source: 32, cable: 32, mains: 88, controller: 8, supply: 66, ccContact: 24, powContact: 24, vbusShort: 85, inputShort: 8, railShort: 4, healthyPart: 0.6}, "no VBUS, or its regulator is dead", practice},
		{low, "0.5 to 2.9 V", 3, like{source: 8, cable: 8, controller: 14, supply: 25, powContact: 12, vbusShort: 8, railShort: 4, downstream: 5, healthyPart: 0.6}, "the regulator or its load is damaged", practice},
		{there, "3.0 to 3.6 V", 94, like{source: 60, cable: 60, mains: 12, controller: 78, supply: 9, ccContact: 74, powContact: 64, vbusShort: 7, inputShort: 88, railShort: 92, downstream: 92, healthyPart: 98.8}, "the controller can live", practice},
	}}
	if s.contract {
		t.change(like{source: 3, cable: 3, mains: 3, ccContact: 3, powContact: 4, controller: 6}, 2)
		t.change(like{supply: 50}, 25)
	}
	return t
}
