package location

// What VBUS and the kind of load may say, and the line.
const (
	seriesSound    = "sound"
	seriesHigh     = "high"
	seriesFar      = "far-too-high"
	seriesCarries  = "far-too-high-and-carries"
	seriesExtreme  = "extreme"
	seriesUnsteady = "unsteady"

	windowInside = "inside"
	windowLow    = "low"
	windowSunk   = "sunk"
	windowElse   = "not-the-agreed"
	windowSlides = "slides"
	windowHigh   = "high"
	windowRaised = "raised"
	windowOdd    = "odd"
	windowBeyond = "beyond-programmable"
	windowSwings = "swings"
	windowHums   = "swings-with-the-mains"

	loadResistive = "resistive"
	loadMixed     = "mixed"
	loadConverter = "converter"

	lineClean  = "clean"
	lineSource = "source-damaged"
	lineSink   = "sink-damaged"
	lineHeavy  = "mostly-damaged"

	lineSourceOnly = "source-alone-damaged"
	lineSinkOnly   = "sink-alone-damaged"

	inrushNormal = "normal"
	inrushExcess = "excess"

	ccSound  = "sound"
	ccHigh   = "stuck-high"
	ccLow    = "stuck-low"
	ccNoRd   = "rd-missing"
	ccBothRd = "rd-on-both"
	ccBadRp  = "rp-wrong"
	ccHeld   = "held-down"
	ccJoined = "joined"
	ccRides  = "rides"
	ccDead   = "nothing-on-it"
	ccWaits  = "waits-for-vbus"
)

// seriesTopic is the resistance upstream of the meter. At the source's end
// the cable lies downstream of it.
func seriesTopic(meterAt string) topic {
	t := topic{name: "series resistance", cap: recordingCap, rows: []row{
		{seriesSound, "under 250 mohm", 93.2, like{source: 80, cable: 20, powContact: 70, mains: 90, healthyPart: 96}, "the most a sound 3 A cable may take", "USB Type-C R2.0 section 4.4.1"},
		{seriesHigh, "over 250 mohm", 8, like{source: 9, cable: 19, powContact: 12, healthyPart: 8}, "a worn cable or contact, or a source without regulation", "USB Type-C R2.0 section 4.4.1; " + practice},
		{seriesFar, "over 400 mohm", 1, like{source: 4.5, cable: 22, powContact: 3.5, healthyPart: 0.6}, "more than a sound cable, its contacts and a source's regulation add up to", "USB Type-C R2.0 section 4.4.1, USB PD R3.2 V1.1 table 7.23; " + practice},
		{seriesCarries, "over 400 mohm, and the machine works on", 0.4, like{source: 2.5, cable: 9, powContact: 1.5, healthyPart: 2}, "a weak lead that leaves the charger circuit what it regulates to keeps nothing from working", "data sheet SLUSE65A (1.28 V); " + practice},
		{seriesExtreme, "over 600 mohm", 0.3, like{source: 4, cable: 22, powContact: 2.5, healthyPart: 0.1}, "a charger circuit's input regulation gives way at 427 mohm and 3 A already", "data sheet SLUSE65A (1.28 V); " + practice},
		{seriesUnsteady, "jumps at an unchanged current", 1, like{source: 4.5, cable: 18, powContact: 18, mains: 4, healthyPart: 0.7}, "a contact that comes and goes", "USB Type-C R2.0 section 3.7.8.1; " + practice},
	}}
	if meterAt == "device" { // the receptacle lies behind it
		for i, percent := range [...]float64{88, 7, 0.8, 0.5, 0.4, 4} {
			t.rows[i].by[powContact] = percent
		}
	}
	if meterAt == "source" {
		for i, percent := range [...]float64{88, 5, 1.5, 0.6, 0.5, 5} {
			t.rows[i].by[cable] = percent
		}
		for i, percent := range [...]float64{60, 20, 7, 4, 6, 7} {
			t.rows[i].by[source] = percent
		}
	}
	return t
}

const windowTable = "USB PD R3.2 V1.1 tables 7.23 and 7.25 (vSrcNew, vSafe5V)"

// windowTopic is VBUS against the fixed voltages, where nobody says what was agreed.
func windowTopic() topic {
	return topic{name: "voltage window", cap: recordingCap, rows: []row{
		{windowInside, "inside its window", 96, like{source: 54, cable: 84, mains: 88, vbusLeak: 85, vbusShort: 60, powContact: 88, inputShort: 85, healthyPart: 98.5}, "a source keeps its window", windowTable},
		{windowLow, "below its window", 3.2, like{source: 11, cable: 13, mains: 7, vbusLeak: 14, vbusShort: 36, powContact: 11, inputShort: 14, healthyPart: 1}, "a weak source, a lossy lead, or a load that holds it down", windowTable},
		{windowSunk, "below its window while next to nothing flows", 0.15, like{source: 7, mains: 4, cable: 0.5, powContact: 0.5, vbusShort: 1, healthyPart: 0.15}, "without a current no lead takes a volt", windowTable + "; " + practice},
		{windowSlides, "slides down under load, slower than a contract changes", 0.6, like{source: 6, cable: 3, mains: 5, powContact: 3, vbusShort: 3, vbusLeak: 1, railShort: 1.5, inputShort: 2, healthyPart: 0.3}, "a source that gives way slowly, or a programmable contract on its way down", "USB PD R3.2 V1.1 table 7.23 (tSrcSettle); " + practice},
		{windowHigh, "above its window", 0.8, like{source: 7.5, mains: 2, healthyPart: 0.5}, "only the source can raise VBUS", windowTable},
		{windowHums, "swings at twice the mains frequency while a load draws", 0.02, like{source: 4, mains: 1, healthyPart: 0.02}, "a source whose bulk capacitor has dried out; no load and no contact knows the mains", practice},
		{windowSwings, "swings by more than any load explains", 0.1, like{source: 5, mains: 3, powContact: 2, cable: 2, healthyPart: 0.1}, "a source whose regulation hunts, or a contact that comes and goes", practice},
		{windowOdd, "steady at what no fixed supply gives", 1, like{source: 7, healthyPart: 1.8}, "a programmable contract moves more often than it stands; a source out of its window stands", windowTable},
		{windowBeyond, "above 21 V and below 28 V, steady", 0.3, like{source: 7.5, mains: 1, healthyPart: 0.15}, "a programmable supply ends at 21 V; what lies between it and 28 V takes an adjustable supply of the extended range", "USB PD R3.2 V1.1 tables 10.9 and 10.13; " + practice},
	}}
}

// littleTopic is VBUS that a few milliamperes hold down: no source limits so low, and a lead
// of tens of ohms lies before the meter.
func littleTopic(meterAt string) topic {
	t := windowTopic()
	t.cap = physicsCap
	by := t.rows[t.index(windowSunk)].by
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
		{windowInside, "inside its window", 98, like{source: 52, cable: 80, mains: 80, vbusLeak: 85, vbusShort: 60, powContact: 84, inputShort: 85, healthyPart: 98.5}, "a source keeps its window", windowTable},
		{windowLow, "below its window", 1.5, like{source: 13, cable: 11, mains: 8, vbusLeak: 8, vbusShort: 30, powContact: 8, inputShort: 10, healthyPart: 1}, "a weak source, a lossy lead, or a load that holds it down", windowTable},
		{windowElse, "another voltage than agreed, and next to nothing flows", 0.05, like{source: 9, mains: 2, cable: 0.2, healthyPart: 0.03}, "without a current no lead takes a volt, and what stands behind it need not start from another voltage", windowTable + "; " + practice},
		{windowSunk, "far below its window while less than the contract flows", 0.15, like{source: 20, cable: 9, mains: 8, powContact: 5.5, vbusShort: 3, healthyPart: 0.1}, "a source gives its voltage up to its limit of current: it gives way before that, or a lead takes more than a sound machine's draw leaves", windowTable + "; " + practice},
		{windowRaised, "above what was agreed", 0.1, like{source: 10, mains: 2, healthyPart: 0.1}, "only the source can raise VBUS", windowTable},
	}}
	switch outcome {
	case windowSunk:
		t.cap = protocolCap
	case windowRaised, windowElse: // against it stands only a meter that is far off
		t.cap = coldCap
	}
	return t
}

// loadTopic is the law of the load. The input switches are open before the
// contract, so a resistor seen from 5 V on stands before them.
func loadTopic() topic {
	const law = "constant power, constant current or a resistor: exponent -1, 0, +1"
	return topic{name: "load law", cap: recordingCap, rows: []row{
		{loadResistive, "goes with the voltage", 4, like{vbusLeak: 62, railLeak: 17, inputShort: 14, inputSwitch: 6, healthyPart: 1.5}, law, practice},
		{loadMixed, "in between", 36, like{vbusLeak: 32, railLeak: 46, inputShort: 46, healthyPart: 30}, law, practice},
		{loadConverter, "falls as the voltage rises", 60, like{vbusLeak: 10, railLeak: 40, inputShort: 40, healthyPart: 68}, law, practice},
	}}
}

// What flows at 5 V before there is a contract.
const (
	earlyNone   = "none"
	earlyLittle = "little"
	earlySome   = "some"
	earlyMuch   = "much"
)

// Bands of the draw at 5 V before the contract, in amperes: a controller of 10
// to 100 mW takes up to 20 mA, a leak of 10 ohm to 1 kohm 5 mA to 0.5 A; the
// sink's standby limit of 2.5 W is 0.5 A. Common practice.
const (
	earlyNoneA   = 0.015
	earlyLittleA = 0.050
	earlySomeA   = 0.250
)

// earlyTopic is the draw at 5 V before the contract: what stands before the
// input switches draws already then.
func earlyTopic() topic {
	return topic{name: "draw before the contract", cap: recordingCap, rows: []row{
		{earlyNone, "below 15 mA", 50, like{vbusLeak: 14, vbusShort: 10, controller: 36, supply: 32, healthyPart: 50}, "a controller alone", practice},
		{earlyLittle, "15 to 50 mA", 24, like{vbusLeak: 22, vbusShort: 10, controller: 24, supply: 24, healthyPart: 24}, "a controller with its helpers", practice},
		{earlySome, "50 to 250 mA", 20, like{vbusLeak: 44, vbusShort: 20, controller: 28, supply: 30, healthyPart: 21}, "always-on rails that run from 5 V, or a leak", practice},
		{earlyMuch, "more", 9, like{vbusLeak: 18, vbusShort: 60, controller: 9, supply: 11, healthyPart: 9}, "a leak, or a machine that takes what Rp allows and does not wait for the contract", "USB Type-C R2.0 table 4-25 (Rp: 0.5, 1.5 and 3 A); " + practice},
	}}
}

func lineTopic() topic {
	const rate = "USB PD R3.2 V1.1 table 5.17; " + practice
	return topic{name: "line quality", cap: recordingCap, rows: []row{
		{lineClean, "no wrong CRC", 97, like{ccContact: 58, cable: 69, controller: 87, source: 91, healthyPart: 98.9}, "a sound line loses one frame in thousands", rate},
		{lineSource, "what the source says is damaged", 1.3, like{ccContact: 12, cable: 10, controller: 3, source: 4, healthyPart: 0.5}, "noise, a bad contact or a loaded CC line", rate},
		{lineSink, "what the sink says is damaged", 1.3, like{ccContact: 13, cable: 9, controller: 7, source: 3, healthyPart: 0.5}, "noise, a bad contact or a weak transmitter", rate},
		{lineSourceOnly, "nearly all that the source says, and nothing of the sink's", 0.02, like{source: 4, cable: 3, ccContact: 3, controller: 0.2, healthyPart: 0.02}, "a line carries both ways: the transmitter, or the line on its way to the recorder", rate},
		{lineSinkOnly, "nearly all that the sink says, and nothing of the source's", 0.02, like{controller: 3.5, supply: 0.6, ccContact: 4, cable: 2.5, source: 0.2, healthyPart: 0.02}, "as above", rate},
		{lineHeavy, "one message in ten and more is damaged", 0.4, like{ccContact: 19, cable: 12, controller: 3, source: 2, healthyPart: 0.1}, "no sound line loses so much", rate},
	}}
}

func inrushTopic() topic {
	return topic{name: "inrush", cap: recordingCap, rows: []row{
		{inrushNormal, "within the standard's capacitance", 95, like{inputShort: 80, railShort: 85, vbusLeak: 88, healthyPart: 96}, "10 uF at attach, 100 uF after a contract", "USB PD R3.2 V1.1 table 7.24 (cSnkBulkPd)"},
		{inrushExcess, "more charge than that", 5, like{inputShort: 20, railShort: 13, vbusLeak: 12, healthyPart: 4}, "something other than a capacitor fills", "USB PD R3.2 V1.1 table 7.24 (cSnkBulkPd); " + practice},
	}}
}

// What flows while VBUS has fallen.
const (
	heldShort = "held-down"
	heldCold  = "never-comes-up"
	heldLate  = "held-after-a-while"
	letGo     = "let-go"
)

// heldTopic: a source that trips and a lead that opens end the current with VBUS.
func heldTopic(meterAt string) topic {
	t := topic{name: "held down", cap: physicsCap, rows: []row{
		{heldShort, "current flows on below 4 V", 2, like{inputShort: 60, vbusShort: 48, railShort: 30, vbusLeak: 6, railLeak: 6, chargerIC: 20, downstream: 10, inputSwitch: 4, battery: 6, source: 0.7, mains: 0.5, cable: 3, controller: 0.5, supply: 0.5, ccContact: 0.5, powContact: 0.5, healthyPart: 0.2}, "only a short takes current there: a converter lets go of VBUS below its lockout", "data sheets SLUSE65A, SLUSDU3 (lockout of VBUS); " + practice},
		{heldCold, "current flows from the first moment, and VBUS does not come up", 0.05, like{vbusShort: 30, vbusLeak: 1, inputShort: 1.5, inputSwitch: 1, cable: 1.5, source: 0.3, mains: 0.2, healthyPart: 0.02}, "the switches are open until there is a voltage: it flows into what stands before them", practice},
		{heldLate, "5 V stands idle for a while each time before a short takes it down", 0.05, like{inputShort: 4, railShort: 2.5, inputSwitch: 0.6, chargerIC: 1, downstream: 1, vbusShort: 0.5, source: 0.05, cable: 0.05, healthyPart: 0.01}, "the short waits for the switches to let it in", practice},
		{letGo, "the current ends with VBUS, or the fall is too short for the meter", 98, like{inputShort: 40, vbusShort: 51, railShort: 70, vbusLeak: 94, railLeak: 94, chargerIC: 80, downstream: 90, inputSwitch: 96, battery: 94, source: 99.3, mains: 99.5, cable: 97, controller: 99.5, supply: 99.5, ccContact: 99.5, powContact: 99.5, healthyPart: 99.8}, "a source that trips, or a lead that opens", practice},
	}}
	if meterAt == "device" { // a short in the cable draws nothing through it
		t.rows[t.index(heldShort)].by[cable], t.rows[t.index(letGo)].by[cable] = 0.3, 99.7
		t.rows[t.index(heldCold)].by[cable] = 0.05
	}
	return t
}

// How a power-up that comes to stand begins.
const (
	startSmooth = "smooth"
	startRough  = "rough"
	startLate   = "late"
)

// startTopic: what garbles, opens or gives out now and then needs several
// starts where a sound set-up needs one.
func startTopic() topic {
	return topic{name: "start", cap: recordingCap, rows: []row{
		{startSmooth, "the first or second start stands", 92, like{source: 78, cable: 78, mains: 85, ccContact: 58, controller: 70, supply: 66, powContact: 72, healthyPart: 98}, "a sound set-up starts once, or twice where the plug is moved", practice},
		{startRough, "VBUS comes and goes twice and more before it stands", 8, like{source: 22, cable: 22, mains: 15, ccContact: 42, controller: 30, supply: 34, powContact: 32, healthyPart: 2, vbusLeak: 11, inputShort: 6.5}, "each start that fails ends in a Hard Reset", "USB PD R3.2 V1.1 table 6.70 (nHardResetCount); " + practice},
		{startLate, "the first offers get no answer, and from then on all is well", 1.5, like{source: 2.5, ccContact: 12, controller: 12, supply: 10, powContact: 3, healthyPart: 2}, "a machine without its battery begins to listen once its controller has booted; a contact, or a controller that starts badly, does so too", "USB PD R3.2 V1.1 table 6.70 (nHardResetCount); " + practice},
	}}
}

// How a contract that stands now was kept.
const (
	keptOn   = "kept"
	lostOnce = "lost-once"
	lostMore = "lost-more"
	lostDraw = "lost-at-one-draw"
)

// lossTopic: a Hard Reset under way that both sides come back from. Software that takes
// over at boot sends one now and then: recorded logs.
func lossTopic() topic {
	return topic{name: "loss", cap: recordingCap, rows: []row{
		{keptOn, "the contract stands", 99, like{source: 94.5, cable: 96.5, mains: 94, powContact: 94, ccContact: 93.5, controller: 97.5, supply: 97.5, inputShort: 98, healthyPart: 96.5}, "nothing ends a contract that both keep to", practice},
		{lostOnce, "lost once, and made again", 0.5, like{source: 2.5, cable: 2, mains: 4, powContact: 2.5, ccContact: 3, controller: 1.3, supply: 1.3, inputShort: 1, healthyPart: 2.8}, "a plug that is turned over, software that takes over at boot, a source that gives out now and then, a contact", practice},
		{lostDraw, "lost some times at one draw, and it stands below that", 0.1, like{source: 4, mains: 0.4, cable: 0.15, powContact: 0.15, ccContact: 0.15, controller: 0.3, supply: 0.7, inputSwitch: 0.3, healthyPart: 0.03}, "a source, or a supply, whose limit lies too low", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{lostMore, "lost some times, and it stands in the end", 0.5, like{source: 3, cable: 2, mains: 2, powContact: 3.5, ccContact: 4, controller: 1.3, supply: 1.3, inputShort: 1, healthyPart: 0.7}, "a source that gives out now and then, or a contact that opens", practice},
	}}
}

// ccTopic is what the level of the CC line says.
func ccTopic() topic {
	const levels = "USB Type-C R2.0 tables 4-24 and 4-36; " + practice
	return topic{name: "cc level", cap: recordingCap, rows: []row{
		{ccSound, "a sound level", 96, like{ccContact: 30, controller: 60, supply: 70, source: 80, cable: 76, vbusShort: 75, healthyPart: 99}, "Rp against Rd", levels},
		{ccHigh, "stays high", 0.8, like{ccContact: 24, controller: 14, supply: 6, cable: 8, source: 4, vbusShort: 10, healthyPart: 0.2}, "no Rd pulls it down, or VBUS has got onto it", levels},
		{ccLow, "stays low", 0.8, like{ccContact: 18, controller: 10, supply: 4, cable: 4, source: 8, vbusShort: 10, healthyPart: 0.2}, "a short to ground, or no Rp", levels},
		{ccNoRd, "no Rd", 0.8, like{ccContact: 22, controller: 12, supply: 18, cable: 8, source: 1, healthyPart: 0.2}, "an open contact or a controller that shows no dead-battery Rd", levels},
		{ccJoined, "both at one voltage, and no VBUS", 0.05, like{ccContact: 5, controller: 1.2, cable: 0.8, source: 0.2, vbusShort: 0.2, healthyPart: 0.03}, "a source gives VBUS to a single Rd: what joins the lines lies in the receptacle, or in a plug", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{ccBothRd, "Rd on both lines", 0.8, like{ccContact: 4, controller: 2, cable: 2, source: 1, vbusShort: 3, healthyPart: 0.2}, "a bridge between the lines, or an adapter", levels},
		{ccBadRp, "an Rp that fits no level", 0.8, like{ccContact: 2, controller: 2, supply: 1, cable: 2, source: 6, vbusShort: 2, healthyPart: 0.2}, "the source's pull-up, or a load on the line", levels},
		{ccRides, "comes up with VBUS", 0.03, like{ccContact: 4, controller: 0.5, supply: 0.1, cable: 0.3, source: 0.05, vbusShort: 0.4, healthyPart: 0.02}, "VBUS stands beside CC in the receptacle, and what lies between them conducts", "USB Type-C R2.0 table 3-4 (pin assignments); " + practice},
		{ccDead, "nothing on either pin, and no VBUS", 0.021, like{source: 0.7, mains: 0.84, cable: 0.63, ccContact: 0.91, controller: 0.28, supply: 0.07, healthyPart: 0.007}, "no pull-up arrives, or a short to ground holds it down", levels},
		{ccHeld, "held between 0 V and the least that Rd leaves", 0.1, like{ccContact: 20, controller: 9, supply: 2, cable: 2, source: 0.6, vbusShort: 1, healthyPart: 0.05}, "a pull-up against less than Rd: a leak or a short on the line, most often in the receptacle", levels},
	}}
}

// ccWaitTopic: a source that sees Rd owes VBUS. What lies behind the meter does not keep it
// away unless it is a short, which draws each time that the source tries.
func ccWaitTopic(meterAt string, everyS float64) topic {
	t := topic{name: "cc level", cap: physicsCap, rows: []row{
		{ccSound, "VBUS follows", 99.5, like{source: 93, mains: 98, cable: 97, vbusShort: 97, healthyPart: 99.9}, "a source that sees Rd gives VBUS", "USB Type-C R2.1 tables 4-29 to 4-31 (tVBUSON)"},
		{ccWaits, "Rd's level, and VBUS does not come", 0.1, like{source: 7, mains: 0.5, cable: 2.5, vbusShort: 0.7, healthyPart: 0.05}, "the source sees the device and gives nothing, or a lead for VBUS is broken", "USB Type-C R2.1 tables 4-29 to 4-31 (tVBUSON); " + practice},
	}}
	if meterAt == "source" { // it would see VBUS before the break
		t.rows[1].by[cable] = 0.1
	}
	if everyS > shortTryS {
		t.rows[1].by[vbusShort] = 3
	}
	return t
}

// shortTryS is how long a source feeds a short before it gives up: common practice.
const shortTryS = 0.005

// How long a working draw holds.
const (
	holds    = "holds"
	breaksUp = "breaks-down"
)

// holdTopic: what is loose, cracked or overloaded shows within seconds of a
// working draw more often than not.
func holdTopic() topic {
	return topic{name: "holding", cap: recordingCap, rows: []row{
		{holds, "holds 10 s and more", 40, like{vbusLeak: 80, railLeak: 55, mains: 70, healthyPart: 97, source: 51}, "a sound machine goes on as it began", practice},
		{breaksUp, "breaks down within 10 s", 60, like{vbusLeak: 24, railLeak: 45, mains: 30, healthyPart: 3, source: 49}, "a working draw that ends in a fault", practice},
	}}
}

// faultTopic keeps a recording that shows a fault from being called sound.
func faultTopic() topic {
	return topic{name: "findings", cap: recordingCap, rows: []row{
		{"fault", "a fault", 60, like{healthyPart: 3, source: 74, inputShort: 44}, "a sound power-up breaks no limit", practice},
		{"none", "no fault", 40, like{healthyPart: 97, source: 26, cable: 28, vbusShort: 50, railShort: 50, inputShort: 56}, "a sound power-up breaks no limit", practice},
	}}
}
