package location

import (
	"portside/decode/signs"
)

// Sources of what retries.
const (
	hiccup   = "data sheets SLUSDU3 and SLUSE65A (10 ms on, 500 ms off, 7 tries in 90 s, then latched)"
	families = "data sheets SLVSEG3E, JAJSJF0D (0.1 to 0.3 s), SLVSGF4B (0.62 s), SLVSDJ5D (1 to 1.4 s), SLUSDL3A (2 s)"
)

// closesTopic: what stands behind the switches takes its charge as they close, if they do. A
// switch that opens slowly, or had closed at 5 V already, shows nothing of it.
func closesTopic() topic {
	return topic{name: "switches", cap: recordingCap, rows: []row{
		{signs.ClosesUnseen, "no charge flows in once VBUS stands", 32, like{inputSwitch: 17, controller: 43, supply: 43, ccContact: 40, powContact: 40, vbusShort: 45, vbusLeak: 40, inputShort: 50}, "the switches stay open, or close too slowly to be seen", practice},
		{signs.ClosesNever, "nor more than a controller takes, at any moment", 18, like{inputSwitch: 80, controller: 50, supply: 50, ccContact: 30, powContact: 35, vbusShort: 40, vbusLeak: 35, inputShort: 20}, "capacitors behind switches that close would fill, and a board behind them would take its standby", practice},
		{signs.ClosesLost, "a charge flows in, and the contract is lost later", 0.5, like{inputSwitch: 0.03}, "switches that close are no open ones", practice},
		{signs.ClosesSeen, "a charge flows in, and nothing after it", 50, like{inputSwitch: 3, controller: 7, supply: 7, ccContact: 30, powContact: 25, vbusShort: 15, vbusLeak: 25, inputShort: 30}, "capacitors fill behind switches that close", practice},
	}}
}

// lifeTopic: a machine that runs takes more and less from moment to moment; a short that is
// not quite one, a limit that is held and a charge take the same all the time.
func lifeTopic() topic {
	return topic{name: "life", cap: weakCap, rows: []row{
		{signs.LifeMoves, "moves as a machine that runs does", 45, like{railShort: 12, railLeak: 18, chargerIC: 25, sequence: 25, inputSwitch: 25, inputShort: 20, healthyPart: 50}, "fans, storage and processor come and go", practice},
		{signs.LifeSteady, "steady, or in one ramp", 55, like{railShort: 88, railLeak: 82, chargerIC: 75, sequence: 75, inputSwitch: 75, inputShort: 80, healthyPart: 50}, "a charge, a limit or a resistor", practice},
	}}
}

// stillTopic: what is there at once and never moves is no charge that ramps, and no machine at work.
func stillTopic() topic {
	return topic{name: "stillness", cap: recordingCap, rows: []row{
		{signs.Still, "comes at once and stands still", 2, like{railShort: 15, railLeak: 30, inputShort: 25, chargerIC: 8, sequence: 6, battery: 8, vbusLeak: 20, vbusShort: 10, healthyPart: 1.5}, "a resistor takes its current as VBUS comes to it; a charge is ramped, and a processor comes and goes", practice},
		{"moves", "moves, or comes by and by, or is light", 98, like{railShort: 85, railLeak: 70, inputShort: 75, chargerIC: 92, sequence: 94, battery: 92, vbusLeak: 80, vbusShort: 90, healthyPart: 98.5}, "most draws", practice},
	}}
}

// stirTopic is the same of a draw of a few watts: what idles stirs. What does not may be a
// precharge or a sleep as well as a leak, and says nothing.
func stirTopic() topic {
	return topic{name: "life", cap: recordingCap, rows: []row{
		{signs.LifeMoves, "stirs as a machine does that idles", 30, like{
			source: 25, cable: 35, powContact: 35, vbusLeak: 5, inputSwitch: 20, railShort: 6, railLeak: 5, inputShort: 5, chargerIC: 14, sequence: 10, battery: 8, healthyPart: 46,
		}, "storage, fans and processor come and go", practice},
		{signs.LifeSteady, "is not seen to", 70, like{
			source: 75, cable: 65, powContact: 65, vbusLeak: 95, inputSwitch: 80, railShort: 94, railLeak: 95, inputShort: 95, chargerIC: 86, sequence: 90, battery: 92, healthyPart: 54,
		}, "a resistor, a limit, a precharge, or a board that waits", practice},
	}}
}

// ohmicTopic: a converter takes less current from more voltage, and a machine changes what
// it does; only a resistor keeps its value from voltage to voltage. One before the input
// switches draws from the first moment on.
func ohmicTopic() topic {
	const law = "Ohm's law against constant power; "
	return topic{name: "resistance of the draw", cap: coldCap, rows: []row{
		{signs.NotOhmic, "no", 97, like{vbusLeak: 70, railLeak: 85, inputShort: 85, healthyPart: 98.9}, "a converter", law + practice},
		{signs.OhmicTwice, "the same at two voltages", 1.5, like{vbusLeak: 9, railLeak: 5, inputShort: 4, healthyPart: 1.2}, "a resistor, or a machine whose draw happens to grow as much", law + practice},
		{signs.OhmicLate, "the same at two, and nothing before the switches close", 1, like{vbusLeak: 1, railLeak: 6, inputShort: 5, healthyPart: 0.7}, "a resistor behind them, or a machine whose draw happens to grow as much", law + practice},
		{signs.OhmicThrice, "the same at three, or at two and throughout", 0.1, like{vbusLeak: 14, railLeak: 3, inputShort: 4, inputSwitch: 0.3, healthyPart: 0.05}, "a resistor", law + practice},
		{signs.OhmicFirst, "a resistor's from the first volt on", 0.05, like{vbusLeak: 10, vbusShort: 5, inputShort: 0.1, railLeak: 0.08, inputSwitch: 0.2, healthyPart: 0.03}, "it stands before the switches, which close above 3 V at the earliest", law + practice},
		{signs.OhmicBehind, "the same there, and nothing before the switches close", 0.1, like{vbusLeak: 0.4, railLeak: 5, inputShort: 5, railShort: 0.5, inputSwitch: 0.12, healthyPart: 0.015}, "a resistor behind them", law + practice},
	}}
}

// rhythmTopic: what trips, starts anew or overloads does so after its own time, as an
// electronic part does; a contact moves when it moves.
func rhythmTopic() topic {
	return topic{name: "rhythm of the breaks", cap: weakCap, rows: []row{
		{signs.BreaksAlike, "each contract stands as long as the last", 45, like{
			source: 60, cable: 14, mains: 22, powContact: 14, ccContact: 14, controller: 52, supply: 52, vbusShort: 65, inputShort: 68,
			railShort: 62, railLeak: 50, chargerIC: 50, downstream: 48, battery: 42, inputSwitch: 50, healthyPart: 35,
		}, "a timer, a limit or a temperature ends it", practice},
		{signs.BreaksSo, "in between", 30, like{
			source: 24, cable: 30, mains: 30, powContact: 35, ccContact: 30, controller: 26, supply: 26, vbusShort: 22, inputShort: 22,
			railShort: 24, railLeak: 30, chargerIC: 30, downstream: 30, battery: 32, inputSwitch: 30, healthyPart: 30,
		}, "a draw that differs from time to time", practice},
		{signs.BreaksAny, "one moment or many seconds", 25, like{
			source: 16, cable: 56, mains: 48, powContact: 56, ccContact: 56, controller: 22, supply: 22, vbusShort: 13, inputShort: 10,
			railShort: 14, railLeak: 20, chargerIC: 20, downstream: 22, battery: 26, inputSwitch: 20, healthyPart: 35,
		}, "a contact that moves, or mains that fail", practice},
		{signs.BreaksHot, "each contract stands shorter than the one before", 0.3, like{
			source: 2.5, cable: 0.5, mains: 0.3, powContact: 0.8, ccContact: 0.3, controller: 0.4, supply: 0.5, inputSwitch: 0.7,
		}, "what heats up trips earlier each time; the charger is what is closed off and carries all of it", practice},
	}}
}

// highDrawTopic is the pattern of the draw while a contract above 5 V stands.
// With the battery disconnected nothing charges, and a draw at the limit that
// stays is a load. A meter at the source's end has the cable behind it.
func highDrawTopic(noBattery bool, meterAt string) topic {
	sound := map[string]float64{
		signs.DrawNone: 10, signs.DrawStandby: 25, signs.DrawLight: 8, signs.DrawWorking: 36.9, signs.DrawTaper: 11.5, signs.DrawPrecharge: 3, signs.DrawAtLimit: 3, signs.DrawLeap: 6, signs.DrawStairsSettle: 1.5,
		signs.DrawFast: 0.2, signs.DrawCharger: 0.2, signs.DrawSlow: 0.3, signs.DrawOnOff: 2, signs.DrawInUse: 2.5, signs.DrawCycles: 0.6, signs.DrawBeats: 0.15, signs.DrawCuts: 0.08, signs.DrawPauses: 0.1, signs.DrawStages: 0.1, signs.DrawRefills: 0.02, signs.DrawBreaks: 0.02, signs.DrawLosesAll: 0.03, signs.DrawBounces: 0.01, signs.DrawBouncesFed: 0.01, signs.DrawRunsAway: 0.02, signs.DrawEnds: 1.5, signs.DrawHolds: 5.5, signs.DrawWakes: 3.5, signs.DrawGivesUp: 1.5, signs.DrawStairsFall: 0.3, signs.DrawOver: 0.3, signs.DrawStarved: 0.4,
	}
	if noBattery {
		sound[signs.DrawTaper], sound[signs.DrawPrecharge], sound[signs.DrawAtLimit], sound[signs.DrawLeap], sound[signs.DrawWorking], sound[signs.DrawStandby] = 0.3, 0.5, 0.5, 2, 20, 50
	}
	rows := []row{
		{signs.DrawNone, "0.00 A", 2, like{
			vbusShort: 15, source: 8.5, inputSwitch: 52, controller: 30, supply: 26, ccContact: 10, railShort: 22, inputShort: 24, chargerIC: 32, downstream: 4.5, sequence: 12, battery: 7.5,
		}, "an open switch or charger, one that latched after its tries, or a full battery", hiccup + "; " + practice},
		{signs.DrawStandby, "0.02 to 0.1 A, steady", 4, like{
			vbusShort: 6, source: 8, inputSwitch: 10, controller: 15, supply: 16, ccContact: 12, powContact: 15, vbusLeak: 15, railShort: 4, railLeak: 5, chargerIC: 14, downstream: 16, sequence: 40, battery: 12, inputShort: 6,
		}, "the board lives and does not start, or it is off and full: 0.2 to 1.2 W", practice},
		{signs.DrawLight, "2 to 10 W, steady", 2, like{
			inputShort: 4, vbusShort: 12, vbusLeak: 20, railLeak: 23, downstream: 7, battery: 15, sequence: 5, chargerIC: 3, source: 10, cable: 5, mains: 8, ccContact: 8, controller: 6, supply: 6,
		}, "a leak, a precharge, a machine that idles", practice},
		{signs.DrawFast, "pulses each 0.03 to 0.35 s", 0.7, like{
			inputSwitch: 8, supply: 12, railShort: 3, downstream: 10, chargerIC: 1.6, controller: 5,
		}, "a load switch or a regulator that trips and tries again", families},
		{signs.DrawCharger, "pulses each 0.5 to 0.6 s, then nothing", 0.6, like{
			inputSwitch: 6, railShort: 30, railLeak: 4, inputShort: 8, chargerIC: 8, downstream: 10, battery: 0.8, supply: 2,
		}, "the charger circuit's hiccup into a rail that does not come up; a board without a rail short did so once", hiccup},
		{signs.DrawSlow, "pulses of a second or more apart", 1.5, like{
			source: 7, controller: 18, supply: 18, powContact: 3, railShort: 5.5, inputShort: 26, chargerIC: 1.6, downstream: 6, sequence: 3, battery: 4, inputSwitch: 3.5, vbusShort: 36,
		}, "a source that trips, or a new negotiation each time", families},
		{signs.DrawWakes, "a few watts for a moment, each some seconds", 0.7, like{
			controller: 3, supply: 3, inputSwitch: 1.5, downstream: 6, sequence: 7.5, battery: 4, chargerIC: 3, railLeak: 2,
		}, "a machine that sleeps and wakes, or one that starts and gives up", practice},
		{signs.DrawGivesUp, "a few watts for a moment, each few seconds at one beat", 0.3, like{
			controller: 2.5, supply: 2, inputSwitch: 2, downstream: 6, sequence: 7.5, battery: 2, chargerIC: 3, railShort: 1, railLeak: 1.5,
		}, "a start that gives up and is tried again: a machine that sleeps wakes more seldom", practice},
		{signs.DrawOnOff, "works for seconds, stops, works again, and the contract stands", 0.7, like{
			source: 4, cable: 8, inputSwitch: 6.5, powContact: 26, ccContact: 3, controller: 4, supply: 4, railShort: 2, railLeak: 4, chargerIC: 11, downstream: 7, sequence: 4, battery: 21,
		}, "a pack's or a circuit's own protection that lets go and tries again, or a contact behind the meter", practice},
		{signs.DrawInUse, "works now and then at no beat, and rests as a machine does", 0.3, like{
			source: 1.5, cable: 2.2, inputSwitch: 0.5, powContact: 1.5, ccContact: 1, controller: 0.4, railLeak: 0.5, chargerIC: 1, downstream: 1.5, sequence: 1, battery: 2.5,
		}, "what a fault cuts off goes down to nothing for a moment, or comes and goes at its own beat", practice},
		{signs.DrawCycles, "climbs and falls back to a floor, each time after as long", 0.2, like{
			source: 1.2, cable: 0.8, inputSwitch: 2, powContact: 1, controller: 1, supply: 1, railShort: 1, railLeak: 1, chargerIC: 2.5, downstream: 5, sequence: 8, battery: 2.5,
		}, "a start that fails at the same point each time: what stands before it delivers", practice},
		{signs.DrawStages, "climbs by the same stages to where it is cut off, each time after as long", 0.1, like{
			source: 0.2, inputSwitch: 4, powContact: 0.3, controller: 0.8, supply: 1.5, railShort: 1, railLeak: 1, inputShort: 0.3, chargerIC: 2, downstream: 4.5, sequence: 4.5, battery: 1,
		}, "a start that fails at the same point each time: what stands before it delivers", practice},
		{signs.DrawCuts, "climbs from a machine's own draw, and is cut off at the same top again and again", 0.03, like{
			source: 0.05, inputSwitch: 0.1, railLeak: 0.2, chargerIC: 3, downstream: 1, battery: 3, sequence: 0.3,
		}, "the machine runs on what stands before it: the pack, its protection or its charger lets go", practice},
		{signs.DrawPauses, "goes down in a ramp, rests and comes back, again and again", 0.005, like{
			source: 0.04, chargerIC: 0.03, downstream: 0.015, battery: 0.04, sequence: 0.015,
		}, "something lets go of it by design: a pack that warms up, a limit that is set; what trips ends at once", practice},
		{signs.DrawBeats, "swings many times a second at one beat, and never stops", 0.1, like{
			source: 0.3, inputSwitch: 0.8, powContact: 0.2, controller: 0.2, supply: 0.3, railShort: 0.8, railLeak: 0.4, inputShort: 0.2, chargerIC: 4, downstream: 5, battery: 0.4, sequence: 0.5,
		}, "a regulator that tries again and again beside others that run, or a charger circuit whose loop hunts", families + "; " + practice},
		{signs.DrawRefills, "is cut off, and begins anew with the charge of empty capacitors", 0.03, like{
			inputSwitch: 4, supply: 0.8, controller: 0.5, powContact: 0.3, railShort: 0.2, inputShort: 0.2, chargerIC: 0.7, downstream: 0.1,
		}, "behind an open switch the capacitors run empty; before a converter that stopped they stay full, and the rail behind it may run empty", practice},
		{signs.DrawLosesAll, "stops together with what the port controller takes", 0.03, like{
			cable: 0.3, powContact: 3, supply: 0.2, controller: 0.2, inputSwitch: 0.3, chargerIC: 0.1, battery: 0.05,
		}, "the port controller is fed before the switches: what takes its VBUS as well lies before it", practice},
		{signs.DrawBreaks, "breaks off for moments and is there again at once", 0.03, like{
			cable: 0.1, powContact: 3, inputSwitch: 1.5, chargerIC: 0.2, downstream: 0.05, battery: 0.1,
		}, "a contact or a switch behind the meter: a converter comes back by a ramp", practice},
		{signs.DrawBounces, "is gone for milliseconds, and back in a charge that nothing softens", 0.01, like{
			cable: 0.05, powContact: 4, inputSwitch: 1, chargerIC: 0.03, downstream: 0.01, railShort: 0.02,
		}, "a contact or a switch behind the meter: a switch that closes by itself does so softly, and a converter comes back by a ramp", practice},
		{signs.DrawBouncesFed, "is gone for milliseconds but for a controller's, and back in a charge that nothing softens", 0.01, like{
			cable: 0.02, powContact: 1, inputSwitch: 4, chargerIC: 0.03, downstream: 0.01, railShort: 0.02,
		}, "a contact that opens takes the port controller's VBUS too; what opens behind it is the switch", practice},
		{signs.DrawRunsAway, "grows the faster the more it is", 0.03, like{
			vbusLeak: 0.6, inputShort: 1, railShort: 0.3, railLeak: 1.5, chargerIC: 0.1, downstream: 0.4, battery: 0.1,
		}, "a part that conducts the better the hotter it is: a charger ramps, and a machine steps", practice},
		{signs.DrawEnds, "works for a moment, stops, and the contract stands", 0.7, like{
			source: 1, cable: 1, inputSwitch: 10, powContact: 4, supply: 2, railShort: 3.5, railLeak: 4, inputShort: 2, chargerIC: 9.5, downstream: 7, sequence: 8, battery: 8,
		}, "something behind the switches, or they themselves, lets go for good; a full battery is topped up, and a charge limit ends at once", practice},
		{signs.DrawHolds, "works for a moment, and stays at a standby while the contract stands", 0.5, like{
			source: 1.2, cable: 0.7, inputSwitch: 2, powContact: 1.2, supply: 0.6, railShort: 1, railLeak: 1, inputShort: 0.3, chargerIC: 2, downstream: 4, sequence: 5, battery: 6,
		}, "a full battery is topped up, and a charge limit ends at once: what lets go for good leaves next to nothing", practice},
		{signs.DrawStairsFall, "climbs in steps, falls, begins again", 0.7, like{
			vbusShort: 4, source: 9, cable: 5, powContact: 3, railShort: 8, railLeak: 10, inputShort: 4, chargerIC: 6, downstream: 12, battery: 4, mains: 3,
		}, "a search for the limit that finds no hold: an overload; a weak source ends it by VBUS giving way", "open laptop embedded-controller firmware (64 mA each 500 ms, 3 overcurrents and it settles)"},
		{signs.DrawStairsSettle, "climbs in steps and stays", 1, like{
			source: 2, cable: 2, battery: 1.6,
		}, "a search that ends as it should", "open laptop embedded-controller firmware"},
		{signs.DrawWorking, "rises and stays", 1.5, like{
			vbusShort: 10, source: 32, cable: 44, mains: 55, ccContact: 48, powContact: 26, vbusLeak: 34, railLeak: 9, downstream: 4.5, battery: 9, sequence: 5, controller: 22, supply: 18, chargerIC: 3, railShort: 2.2,
		}, "the main rail takes power and nothing breaks down", practice},
		{signs.DrawAtLimit, "at the contract's current in one leap, and flat", 1, like{
			source: 4, cable: 2, railShort: 4, railLeak: 11, inputShort: 6, downstream: 2.6, chargerIC: 1.6, battery: 2.4, powContact: 1.5, vbusLeak: 4.5,
		}, "a charger circuit that holds its input limit into a soft short; a charge begins with a ramp", "data sheet SLUSE65A (input current regulation); " + practice},
		{signs.DrawLeap, "all at once below the contract's current, and flat", 1, like{
			source: 4, cable: 2, railShort: 3, railLeak: 16, inputShort: 4, downstream: 4.5, chargerIC: 1.6, battery: 1.6, vbusLeak: 4.5,
		}, "a soft short stands at once; a charge begins with a ramp, and a machine that runs is not flat", practice},
		{signs.DrawTaper, "falls slowly to a tenth", 0.7, like{
			vbusLeak: 2.8, cable: 1, battery: 1.6, mains: 10, ccContact: 6, powContact: 4,
		}, "the constant-voltage phase of a charge", practice},
		{signs.DrawPrecharge, "a tenth of the charge current, then a step up", 0.7, like{
			battery: 9.5, railLeak: 2, vbusLeak: 4.5,
		}, "a deeply discharged battery takes 0.1 C or less at first", practice},
		{signs.DrawOver, "more than the contract", 0.7, like{
			vbusLeak: 4.5, railLeak: 4, inputShort: 12, railShort: 3, chargerIC: 3, downstream: 1.7, vbusShort: 8,
		}, "a load that no input limit holds: before the charger circuit, or through a broken one; a leak of 10 ohm takes 2 A at 20 V", "USB PD R3.2 V1.1 table 7.24 (iOvershoot); " + practice},
		{signs.DrawStarved, "VBUS sags and the draw gives way", 0.7, like{
			source: 14, cable: 13, powContact: 14, mains: 4,
		}, "a charger circuit cuts its draw where VBUS sags by 1.28 V", "data sheet SLUSE65A (input voltage regulation)"},
	}
	for i := range rows {
		rows[i].by[healthyPart] = sound[rows[i].outcome]
	}
	t := topic{name: "draw", cap: recordingCap, rows: rows}
	if meterAt == "source" {
		for _, outcome := range []string{signs.DrawOnOff, signs.DrawEnds, signs.DrawLosesAll, signs.DrawBreaks, signs.DrawBounces} {
			by := t.rows[t.index(outcome)].by
			by[cable] = by[powContact]
		}
	}
	return t
}

// lowDrawTopic is the pattern of the draw while VBUS stands at 5 V and never
// rose above it. What fails before the port, or on CC alone, leaves a sound machine behind
// it: one that charges from 5 V does so then too.
func lowDrawTopic() topic {
	return topic{name: "draw at 5 V", cap: recordingCap, rows: []row{
		{signs.DrawNone, "0.00 A", 30, like{
			source: 56, cable: 56, inputSwitch: 60, controller: 42, supply: 36, ccContact: 45, powContact: 30, vbusShort: 20, vbusLeak: 5,
			railShort: 36, railLeak: 12, inputShort: 15, chargerIC: 38, downstream: 18, sequence: 34, battery: 30, healthyPart: 14,
		}, "a latched charger, a dead controller, a machine that waits: they look alike", hiccup + "; " + practice},
		{signs.DrawStandby, "0.02 to 0.3 A, steady", 20, like{
			source: 19, cable: 16, inputSwitch: 30, controller: 26, supply: 20, ccContact: 24, powContact: 17, vbusShort: 2, vbusLeak: 47,
			railShort: 7, railLeak: 25, inputShort: 5, chargerIC: 23, downstream: 22, sequence: 40, battery: 29, healthyPart: 10,
		}, "always-on rails live, or a leak; a deeply discharged battery in precharge", practice},
		{signs.DrawFast, "pulses each 0.03 to 0.35 s", 1, like{
			controller: 8, supply: 20, railShort: 7, downstream: 26, battery: 3, chargerIC: 3, healthyPart: 0.3,
		}, "a regulator or load switch that trips and tries again", families},
		{signs.DrawCharger, "pulses each 0.5 to 0.6 s, then nothing", 1, like{
			controller: 3, supply: 6, railShort: 28, railLeak: 4, inputShort: 8, chargerIC: 12, downstream: 10, healthyPart: 0.3,
		}, "the charger circuit's hiccup, from 5 V", hiccup},
		{signs.DrawSlow, "pulses of a second or more apart", 2, like{
			source: 5.5, cable: 2.6, controller: 5.5, supply: 8, vbusShort: 38, railShort: 7.5, inputShort: 24, downstream: 16, sequence: 7, battery: 8, healthyPart: 0.7,
		}, "a source that trips, a board that resets itself, or a rail behind that is held down: 0 to 0.4 A again and again is its published sign", families + "; " + practice},
		{signs.DrawDrops, "VBUS goes away with the draw", 2, like{
			source: 10, cable: 9.5, powContact: 32, vbusShort: 38, inputShort: 34, railShort: 7, downstream: 4, battery: 6, mains: 10, ccContact: 5, healthyPart: 0.3,
		}, "a source that is held down, or gives way", practice},
		{signs.DrawStairsFall, "climbs in steps, falls, begins again", 1, like{
			ccContact: 2, source: 3.5, cable: 3.5, railShort: 4.5, railLeak: 10, chargerIC: 5, downstream: 5, battery: 3, healthyPart: 1.5,
		}, "a search for the limit that finds no hold; a sound one settles after three", "open laptop embedded-controller firmware"},
		{signs.DrawStairsSettle, "climbs in steps and stays", 0.7, like{
			powContact: 4, controller: 2, ccContact: 5, source: 5.5, cable: 5.5, healthyPart: 22,
		}, "the search for the limit of a plain 5 V source", "open laptop embedded-controller firmware"},
		{signs.DrawWorking, "0.3 A or more, steady", 2, like{
			supply: 5, source: 25, cable: 17, ccContact: 18, powContact: 16, vbusLeak: 30, railLeak: 30, downstream: 6, battery: 8, controller: 9, mains: 24, healthyPart: 37,
		}, "a machine that charges from a plain 5 V source; a leak of a few ohm", practice},
		{signs.DrawTaper, "falls slowly to a tenth", 0.5, like{controller: 1, powContact: 2, ccContact: 3, cable: 3.5, source: 3.5, mains: 4, battery: 1, healthyPart: 9}, "the constant-voltage phase of a charge", practice},
	}}
}

// offDrawTopic tells a source that tries from one that does not.
func offDrawTopic() topic {
	return topic{name: "draw without VBUS", cap: recordingCap, rows: []row{
		{signs.OffQuiet, "nothing at all", 93, like{
			source: 85, mains: 97, ccContact: 97, vbusShort: 25, inputShort: 25, vbusLeak: 60, railShort: 70, cable: 85,
		}, "no Rd, no source, or one that latched", practice},
		{signs.OffTicks, "a pulse each second", 7, like{
			source: 14, mains: 3, ccContact: 3, vbusShort: 75, inputShort: 75, vbusLeak: 40, railShort: 30, cable: 15,
		}, "a source into a short tries again each 985 ms", "data sheet SLVSDJ5D"},
	}}
}

// loadTopic is the law of the load. The input switches are open before the
// contract, so a resistor seen from 5 V on stands before them.
func loadTopic() topic {
	const law = "constant power, constant current or a resistor: exponent -1, 0, +1"
	return topic{name: "load law", cap: recordingCap, rows: []row{
		{signs.LoadResistive, "goes with the voltage", 4, like{vbusLeak: 62, railLeak: 17, inputShort: 14, inputSwitch: 6, healthyPart: 1.5}, law, practice},
		{signs.LoadMixed, "in between", 36, like{vbusLeak: 32, railLeak: 46, inputShort: 46, healthyPart: 30}, law, practice},
		{signs.LoadConverter, "falls as the voltage rises", 60, like{vbusLeak: 10, railLeak: 40, inputShort: 40, healthyPart: 68}, law, practice},
	}}
}

// earlyTopic is the draw at 5 V before the contract: what stands before the
// input switches draws already then.
func earlyTopic() topic {
	return topic{name: "draw before the contract", cap: recordingCap, rows: []row{
		{signs.EarlyNone, "below 15 mA", 50, like{vbusLeak: 14, vbusShort: 10, controller: 36, supply: 32, healthyPart: 50}, "a controller alone", practice},
		{signs.EarlyLittle, "15 to 50 mA", 24, like{vbusLeak: 22, vbusShort: 10, controller: 24, supply: 24, healthyPart: 24}, "a controller with its helpers", practice},
		{signs.EarlySome, "50 to 250 mA", 20, like{vbusLeak: 44, vbusShort: 20, controller: 28, supply: 30, healthyPart: 21}, "always-on rails that run from 5 V, or a leak", practice},
		{signs.EarlyMuch, "more", 9, like{vbusLeak: 18, vbusShort: 60, controller: 9, supply: 11, healthyPart: 9}, "a leak, or a machine that takes what Rp allows and does not wait for the contract", "USB Type-C R2.0 table 4-25 (Rp: 0.5, 1.5 and 3 A); " + practice},
	}}
}

// wantsTopic: a machine without a battery starts from what it gets, and collapses where that
// is too little for it.
func wantsTopic() topic {
	return topic{name: "capability mismatch", cap: weakCap, rows: []row{
		{signs.Content, "the machine gets what it asks for", 68, like{source: 58, cable: 65, healthyPart: 65}, "most chargers fit", practice},
		{signs.Wants, "it asks for more than there is", 32, like{source: 42, cable: 35, healthyPart: 35}, "a charger too small for the machine goes with any fault; now and then one keeps back part of its power", "USB PD R3.2 V1.1 section 6.4.2.3 (Capability Mismatch); " + practice},
	}}
}
