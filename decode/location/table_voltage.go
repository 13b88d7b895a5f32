package location

import (
	"portside/decode/signs"
)

const windowTable = "USB PD R3.2 V1.1 tables 7.23 and 7.25 (vSrcNew, vSafe5V)"

// backTopic: the input switches block both ways. What comes out of a machine comes through
// them, from a converter that runs backwards or straight from the battery.
func backTopic() topic {
	return topic{name: "direction", cap: protocolCap, rows: []row{
		{signs.Takes, "the machine takes", 99.9, like{inputSwitch: 97, chargerIC: 98.5, battery: 99, healthyPart: 99.97}, "a sink", practice},
		{signs.FeedsBack, "current flows out of the machine", 0.05, like{inputSwitch: 3, chargerIC: 1.5, battery: 1, healthyPart: 0.03}, "the switches conduct though nothing is plugged in, and a converter or a battery stands behind them", practice},
	}}
}

// goneTopic: a plug is pulled at the end of a recording, as a rule, and not long before.
func goneTopic() topic {
	return topic{name: "vbus", cap: recordingCap, rows: []row{
		{signs.Stays, "stays", 97, like{source: 75.5, cable: 93.5, mains: 90.7, powContact: 94, ccContact: 94, controller: 95.5, supply: 95.5, vbusShort: 94.5, inputShort: 93.5, railShort: 96, healthyPart: 96.1}, "a contract stands until the plug is pulled", practice},
		{signs.GoesOpen, "goes away once the draw has stopped, and stays away", 1.5, like{source: 0.5, cable: 1.5, mains: 0.3, powContact: 3, ccContact: 2, healthyPart: 1.9}, "what cuts VBUS ends the draw by it: where the draw ends first, the plug was pulled, or a contact parted for good", practice},
		{signs.GoesAway, "goes away from under a draw and stays away", 1.5, like{source: 24, cable: 5, mains: 9, powContact: 3, ccContact: 4, controller: 3, supply: 3, vbusShort: 4, inputShort: 5, railShort: 2.5, healthyPart: 2}, "a source that latched, a lead that parted, or a plug that was pulled", practice},
	}}
}

// supplyTopic: a light draw neither trips a source nor moves its voltage, and one that lets
// go gives a source its voltage back.
func supplyTopic(outcome string) topic {
	const discharge = "USB PD R3.2 V1.1 table 7.25 (tSafe0V): a source that lets go is quicker, and a plug that is pulled ends the draw first"
	t := topic{name: "supply", cap: physicsCap, rows: []row{
		{signs.SupplySteady, "stands, or goes as a source lets it", 99.9, like{source: 95, mains: 70, healthyPart: 99.5}, "a source keeps its window", windowTable},
		{signs.SupplyRunsOut, "runs out once under its draw", 0.05, like{source: 2, mains: 12, healthyPart: 0.3}, discharge, practice},
		{signs.SupplyAgain, "runs out under its draw some times", 0.03, like{source: 6, mains: 17, healthyPart: 0.03}, discharge, practice},
		{signs.SupplyEbbs, "sinks under a draw that keeps its power, and goes", 0.03, like{source: 2, mains: 15, healthyPart: 0.15}, "no limit of current lets a draw rise as the inverse of VBUS, and capacitors at the output are empty at once: the source's reservoir runs dry", practice},
		{signs.SupplyTires, "comes back slowly after each draw", 0.05, like{source: 3, mains: 3, healthyPart: 0.08}, "a lead gives back at once what it took: the source had given way", practice},
		{signs.SupplyHunts, "wanders by volts, and no draw moves it", 0.03, like{source: 3, mains: 1, healthyPart: 0.04}, "no lead and no load moves it so: the source's regulation", windowTable + "; " + practice},
	}}
	if outcome == signs.SupplyAgain { // nothing but a source that is not fed can do it twice
		t.cap = coldCap
	}
	return t
}

// seriesTopic is the resistance upstream of the meter. At the source's end
// the cable lies downstream of it.
func seriesTopic(meterAt string) topic {
	t := topic{name: "series resistance", cap: recordingCap, rows: []row{
		{signs.SeriesSound, "under 250 mohm", 93.2, like{source: 80, cable: 20, powContact: 70, mains: 90, healthyPart: 96}, "the most a sound 3 A cable may take", "USB Type-C R2.0 section 4.4.1"},
		{signs.SeriesHigh, "over 250 mohm", 8, like{source: 9, cable: 19, powContact: 12, healthyPart: 8}, "a worn cable or contact, or a source without regulation", "USB Type-C R2.0 section 4.4.1; " + practice},
		{signs.SeriesFar, "over 400 mohm", 1, like{source: 4.5, cable: 22, powContact: 3.5, healthyPart: 0.6}, "more than a sound cable, its contacts and a source's regulation add up to", "USB Type-C R2.0 section 4.4.1, USB PD R3.2 V1.1 table 7.23; " + practice},
		{signs.SeriesCarries, "over 400 mohm, and the machine works on", 0.4, like{source: 2.5, cable: 9, powContact: 1.5, healthyPart: 2}, "a weak lead that leaves the charger circuit what it regulates to keeps nothing from working", "data sheet SLUSE65A (1.28 V); " + practice},
		{signs.SeriesExtreme, "over 600 mohm", 0.3, like{source: 4, cable: 22, powContact: 2.5, healthyPart: 0.1}, "a charger circuit's input regulation gives way at 427 mohm and 3 A already", "data sheet SLUSE65A (1.28 V); " + practice},
		{signs.SeriesRejoins, "goes, and is back at the contract's voltage without a moment at 5 V", 0.02, like{source: 0.4, cable: 6, powContact: 0.6, mains: 0.05, healthyPart: 0.15}, "the source had kept it: the lead before the meter was open", "USB PD R3.2 V1.1 table 6.68 (tTypeCSendSourceCap); " + practice},
		{signs.SeriesUnsteady, "jumps at an unchanged current", 1, like{source: 4.5, cable: 18, powContact: 18, mains: 4, healthyPart: 0.7}, "a contact that comes and goes", "USB Type-C R2.0 section 3.7.8.1; " + practice},
	}}
	if meterAt == "device" { // the receptacle lies behind it
		for i, percent := range [...]float64{88, 7, 0.8, 0.5, 0.4, 0.05, 4} {
			t.rows[i].by[powContact] = percent
		}
	}
	if meterAt == "source" {
		for i, percent := range [...]float64{88, 5, 1.5, 0.6, 0.5, 0.4, 5} {
			t.rows[i].by[cable] = percent
		}
		for i, percent := range [...]float64{60, 20, 7, 4, 6, 3, 7} {
			t.rows[i].by[source] = percent
		}
	}
	return t
}

// windowTopic is VBUS against the fixed voltages, where nobody says what was agreed.
func windowTopic() topic {
	return topic{name: "voltage window", cap: recordingCap, rows: []row{
		{signs.WindowInside, "inside its window", 96, like{source: 54, cable: 84, mains: 88, vbusLeak: 85, vbusShort: 60, powContact: 88, inputShort: 85, healthyPart: 98.5}, "a source keeps its window", windowTable},
		{signs.WindowLow, "below its window", 3.2, like{source: 14, cable: 16, mains: 9, vbusLeak: 14, vbusShort: 36, powContact: 11, inputShort: 14, healthyPart: 0.6}, "a weak source, a lossy lead, or a load that holds it down", windowTable},
		{signs.WindowSunk, "below its window while next to nothing flows", 0.15, like{source: 7, mains: 4, cable: 0.5, powContact: 0.5, vbusShort: 1, healthyPart: 0.15}, "without a current no lead takes a volt", windowTable + "; " + practice},
		{signs.WindowSlides, "slides down under load, slower than a contract changes", 0.6, like{source: 6, cable: 3, mains: 5, powContact: 3, vbusShort: 3, vbusLeak: 1, railShort: 1.5, inputShort: 2, healthyPart: 0.3}, "a source that gives way slowly, or a programmable contract on its way down", "USB PD R3.2 V1.1 table 7.23 (tSrcSettle); " + practice},
		{signs.WindowHigh, "above its window", 0.8, like{source: 7.5, mains: 2, healthyPart: 0.5}, "only the source can raise VBUS", windowTable},
		{signs.WindowHums, "swings at twice the mains frequency while a load draws", 0.02, like{source: 4, mains: 1, healthyPart: 0.02}, "a source whose bulk capacitor has dried out; no load and no contact knows the mains", practice},
		{signs.WindowSwings, "swings by more than any load explains", 0.1, like{source: 5, mains: 3, powContact: 2, cable: 2, healthyPart: 0.1}, "a source whose regulation hunts, or a contact that comes and goes", practice},
		{signs.WindowOdd, "steady at what no fixed supply gives", 1, like{source: 11, healthyPart: 1.3}, "a programmable contract moves more often than it stands; a source out of its window stands", windowTable},
		{signs.WindowOddIdle, "steady at what no fixed supply gives, and next to nothing flows", 0.12, like{source: 11, healthyPart: 0.3}, "a programmable contract is made to charge with; a source out of its window stands so for any machine", windowTable + "; " + practice},
		{signs.WindowBeyond, "above 21 V and below 28 V, steady", 0.3, like{source: 7.5, mains: 1, healthyPart: 0.15}, "a programmable supply ends at 21 V; what lies between it and 28 V takes an adjustable supply of the extended range", "USB PD R3.2 V1.1 tables 10.9 and 10.13; " + practice},
	}}
}

// littleTopic is VBUS that a few milliamperes hold down: no source limits so low, and a lead
// of tens of ohms lies before the meter.
func littleTopic(meterAt string) topic {
	t := windowTopic()
	t.cap = physicsCap
	by := t.rows[t.index(signs.WindowSunk)].by
	by[vbusShort] = 0.4
	switch meterAt {
	case "source": // nothing but the source lies there
		by[source] = 9
	default:
		by[cable] = 6
	}
	return t
}

// agreedTopic is VBUS against what the messages agreed on. What stands above it, or far
// below it at less than the agreed current, is the source's doing, as a step of the
// protocol has one speaker.
func agreedTopic(outcome string) topic {
	t := topic{name: "voltage window", cap: recordingCap, rows: []row{
		{signs.WindowInside, "inside its window", 98, like{source: 52, cable: 80, mains: 80, vbusLeak: 85, vbusShort: 60, powContact: 84, inputShort: 85, healthyPart: 98.5}, "a source keeps its window", windowTable},
		{signs.WindowLow, "below its window", 1.5, like{source: 18, cable: 16, mains: 11, vbusLeak: 8, vbusShort: 30, powContact: 8, inputShort: 10, healthyPart: 0.4}, "a weak source, a lossy lead, or a load that holds it down", windowTable},
		{signs.WindowElse, "another voltage than agreed, and next to nothing flows", 0.05, like{source: 9, mains: 2, cable: 0.2, healthyPart: 0.03}, "without a current no lead takes a volt, and what stands behind it need not start from another voltage", windowTable + "; " + practice},
		{signs.WindowSunk, "far below its window while less than the contract flows", 0.15, like{source: 20, cable: 9, mains: 8, powContact: 5.5, vbusShort: 3, healthyPart: 0.1}, "a source gives its voltage up to its limit of current: it gives way before that, or a lead takes more than a sound machine's draw leaves", windowTable + "; " + practice},
		{signs.WindowRaised, "above what was agreed", 0.1, like{source: 10, mains: 2, healthyPart: 0.1}, "only the source can raise VBUS", windowTable},
	}}
	switch outcome {
	case signs.WindowSunk:
		t.cap = protocolCap
	case signs.WindowRaised, signs.WindowElse: // against it stands only a meter that is far off
		t.cap = coldCap
	}
	return t
}

func inrushTopic() topic {
	return topic{name: "inrush", cap: recordingCap, rows: []row{
		{signs.InrushNormal, "within the standard's capacitance", 95, like{inputShort: 80, railShort: 85, vbusLeak: 88, healthyPart: 96}, "10 uF at attach, 100 uF after a contract", "USB PD R3.2 V1.1 table 7.24 (cSnkBulkPd)"},
		{signs.InrushExcess, "more charge than that", 5, like{inputShort: 20, railShort: 13, vbusLeak: 12, healthyPart: 4}, "something other than a capacitor fills", "USB PD R3.2 V1.1 table 7.24 (cSnkBulkPd); " + practice},
	}}
}

// heldTopic: a source that trips and a lead that opens end the current with VBUS.
func heldTopic(meterAt string) topic {
	t := topic{name: "held down", cap: physicsCap, rows: []row{
		{signs.HeldShort, "current flows on below 4 V", 2, like{inputShort: 60, vbusShort: 48, railShort: 30, vbusLeak: 6, railLeak: 6, chargerIC: 20, downstream: 10, inputSwitch: 4, battery: 6, source: 0.7, mains: 0.5, cable: 3, controller: 0.5, supply: 0.5, ccContact: 0.5, powContact: 0.5, healthyPart: 0.2}, "only a short takes current there: a converter lets go of VBUS below its lockout", "data sheets SLUSE65A, SLUSDU3 (lockout of VBUS); " + practice},
		{signs.HeldCold, "current flows from the first moment, and VBUS does not come up", 0.05, like{vbusShort: 30, vbusLeak: 1, inputShort: 1.5, inputSwitch: 1, cable: 3, source: 0.3, mains: 0.2, healthyPart: 0.02}, "the switches are open until there is a voltage: it flows into what stands before them", practice},
		{signs.HeldLate, "5 V stands idle for a while each time before a short takes it down", 0.05, like{inputShort: 4, railShort: 2.5, inputSwitch: 0.6, chargerIC: 1, downstream: 1, vbusShort: 0.5, source: 0.05, cable: 0.05, healthyPart: 0.01}, "the short waits for the switches to let it in", practice},
		{signs.LetGo, "the current ends with VBUS, or the fall is too short for the meter", 98, like{inputShort: 40, vbusShort: 51, railShort: 70, vbusLeak: 94, railLeak: 94, chargerIC: 80, downstream: 90, inputSwitch: 96, battery: 94, source: 99.3, mains: 99.5, cable: 97, controller: 99.5, supply: 99.5, ccContact: 99.5, powContact: 99.5, healthyPart: 99.8}, "a source that trips, or a lead that opens", practice},
	}}
	cold := t.rows[t.index(signs.HeldCold)].by
	switch meterAt {
	case "device": // a short in the cable draws nothing through it
		t.rows[t.index(signs.HeldShort)].by[cable], t.rows[t.index(signs.LetGo)].by[cable] = 0.3, 99.7
		cold[cable] = 0.05
	case "source": // and all of it
		cold[cable] = 7
	}
	return t
}
