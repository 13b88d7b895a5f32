package location

import (
	"portside/decode/signs"
)

// goesTopic: a source lets VBUS go when Rd is gone, or after a Hard Reset; else it has no
// reason to.
func goesTopic() topic {
	const rule = "USB Type-C R2.0 section 4.5.2.2; " + practice
	return topic{name: "cc as vbus goes", cap: physicsCap, rows: []row{
		{signs.VBUSStays, "VBUS stands, or is drawn from", 99, nil, "a source that sees Rd gives VBUS", rule},
		{signs.GoesWithRd, "Rd's level stays, and VBUS goes and comes again without a reset", 0.05, like{source: 5, mains: 3, cable: 0.6, controller: 0.2, supply: 0.2, powContact: 0.3, ccContact: 0.2, healthyPart: 0.03}, "the source gives out by itself", rule},
		{signs.GoesOrReset, "the same, where nobody listened for resets", 0.5, like{source: 1.5, mains: 0.8, healthyPart: 0.3}, "a source that gives out by itself, more often than a controller that restarts each time; a sink that keeps its count resets twice", rule + "; " + practice},
		{signs.GoesAfterRd, "Rd is gone first", 0.05, like{ccContact: 5, controller: 4, supply: 4, cable: 0.6, source: 0.05, healthyPart: 0.05}, "the line opens, or the controller lets go of it as it starts", rule},
		{signs.GoesAfterRp, "the pull-up is gone first", 0.05, like{source: 3, mains: 1, cable: 3, ccContact: 0.3, healthyPart: 0.05}, "the line opens before the meter, or the source goes off", rule},
	}}
}

// liftTopic: CC is measured against the ground that the draw flows back through. A sound
// cable's takes 0.25 V at 3 A.
func liftTopic(meterAt string) topic {
	t := topic{name: "cc against the draw", cap: physicsCap, rows: []row{
		{signs.LiftNot, "no", 99.5, like{powContact: 97}, "no more than a sound ground", "USB Type-C R2.0 section 4.4.1"},
		{signs.LiftCC, "rises with it", 0.02, like{powContact: 2.5, cable: 0.1, ccContact: 0.2, healthyPart: 0.02}, "the return contact behind the meter lifts the device's ground, and CC with it", "USB Type-C R2.0 section 4.4.1; " + practice},
	}}
	if meterAt != "device" {
		t.rows[t.index(signs.LiftCC)].by[cable] = 1
	}
	return t
}

func lineTopic() topic {
	const rate = "USB PD R3.2 V1.1 table 5.17; " + practice
	return topic{name: "line quality", cap: recordingCap, rows: []row{
		{signs.LineClean, "no wrong CRC", 97, like{ccContact: 58, cable: 69, controller: 87, source: 91, healthyPart: 98.9}, "a sound line loses one frame in thousands", rate},
		{signs.LineSource, "what the source says is damaged", 1.3, like{ccContact: 12, cable: 10, controller: 3, source: 4, healthyPart: 0.5}, "noise, a bad contact or a loaded CC line", rate},
		{signs.LineSink, "what the sink says is damaged", 1.3, like{ccContact: 13, cable: 9, controller: 7, source: 3, healthyPart: 0.5}, "noise, a bad contact or a weak transmitter", rate},
		{signs.LineSourceOnly, "nearly all that the source says, and nothing of the sink's", 0.02, like{source: 4, cable: 3, ccContact: 3, controller: 0.2, healthyPart: 0.02}, "a line carries both ways: the transmitter, or the line on its way to the recorder", rate},
		{signs.LineSinkOnly, "nearly all that the sink says, and nothing of the source's", 0.02, like{controller: 3.5, supply: 0.6, ccContact: 4, cable: 2.5, source: 0.2, healthyPart: 0.02}, "as above", rate},
		{signs.LineHeavy, "one message in ten and more is damaged", 0.4, like{ccContact: 19, cable: 12, controller: 3, source: 2, healthyPart: 0.1}, "no sound line loses so much", rate},
	}}
}

// ccTopic is what the level of the CC line says.
func ccTopic() topic {
	const levels = "USB Type-C R2.0 tables 4-24 and 4-36; " + practice
	return topic{name: "cc level", cap: recordingCap, rows: []row{
		{signs.CCSound, "a sound level", 96, like{ccContact: 30, controller: 60, supply: 70, source: 80, cable: 76, vbusShort: 75, healthyPart: 99}, "Rp against Rd", levels},
		{signs.CCHigh, "stays high", 0.8, like{ccContact: 24, controller: 14, supply: 6, cable: 8, source: 4, vbusShort: 10, healthyPart: 0.2}, "no Rd pulls it down, or VBUS has got onto it", levels},
		{signs.CCLow, "stays low", 0.8, like{ccContact: 18, controller: 10, supply: 4, cable: 4, source: 8, vbusShort: 10, healthyPart: 0.2}, "a short to ground, or no Rp", levels},
		{signs.CCNoRd, "no Rd", 0.8, like{ccContact: 22, controller: 12, supply: 18, cable: 8, source: 1, healthyPart: 0.2}, "an open contact or a controller that shows no dead-battery Rd", levels},
		{signs.CCJoined, "both at one voltage, and no VBUS", 0.05, like{ccContact: 5, controller: 1.2, cable: 0.8, source: 0.2, vbusShort: 0.2, healthyPart: 0.03}, "a source gives VBUS to a single Rd: what joins the lines lies in the receptacle, or in a plug", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.CCBothRd, "Rd on both lines", 0.8, like{ccContact: 4, controller: 2, cable: 2, source: 1, vbusShort: 3, healthyPart: 0.2}, "a bridge between the lines, or an adapter", levels},
		{signs.CCBadRp, "an Rp that fits no level", 0.8, like{ccContact: 2, controller: 2, supply: 1, cable: 2, source: 6, vbusShort: 2, healthyPart: 0.2}, "the source's pull-up, or a load on the line", levels},
		{signs.CCRides, "comes up with VBUS", 0.03, like{ccContact: 4, controller: 0.5, supply: 0.1, cable: 0.3, source: 0.05, vbusShort: 0.4, healthyPart: 0.02}, "VBUS stands beside CC in the receptacle, and what lies between them conducts", "USB Type-C R2.0 table 3-4 (pin assignments); " + practice},
		{signs.CCDead, "nothing on either pin, and no VBUS", 0.021, like{source: 0.7, mains: 0.84, cable: 0.63, ccContact: 0.91, controller: 0.28, supply: 0.07, healthyPart: 0.007}, "no pull-up arrives, or a short to ground holds it down", levels},
		{signs.CCSeeks, "Rd comes and goes as a port shows it that looks for a source", 0.01, like{controller: 3, supply: 1, ccContact: 0.05, cable: 0.06, source: 0.05, healthyPart: 0.01}, "a port that sees a pull-up stops looking: its comparators, or what runs them", "USB Type-C R2.1 section 4.5.2.2 and table 4-33 (tDRP, tCCDebounce); " + practice},
		{signs.CCShorts, "its pull-up stands, and then nothing", 0.0001, like{ccContact: 0.025, controller: 0.0075, supply: 0.0015, cable: 0.004, source: 0.0025, mains: 0.0025, vbusShort: 0.0005, healthyPart: 0.0001}, "what was plugged in holds the line down; a charger that goes off just then looks the same", levels},
		{signs.CCHeld, "held between 0 V and the least that Rd leaves", 0.1, like{ccContact: 20, controller: 9, supply: 2, cable: 2, source: 0.6, vbusShort: 1, healthyPart: 0.05}, "a pull-up against less than Rd: a leak or a short on the line, most often in the receptacle", levels},
	}}
}

// ccWaitTopic: a source that sees Rd owes VBUS. What lies behind the meter does not keep it
// away unless it is a short, which draws each time that the source tries.
func ccWaitTopic(meterAt string, everyS float64) topic {
	t := topic{name: "cc level", cap: physicsCap, rows: []row{
		{signs.CCSound, "VBUS follows", 99.5, like{source: 93, mains: 98, cable: 97, vbusShort: 97, healthyPart: 99.9}, "a source that sees Rd gives VBUS", "USB Type-C R2.1 tables 4-29 to 4-31 (tVBUSON)"},
		{signs.CCWaits, "Rd's level, and VBUS does not come", 0.1, like{source: 7, mains: 0.5, cable: 2.5, vbusShort: 0.7, healthyPart: 0.05}, "the source sees the device and gives nothing, or a lead for VBUS is broken", "USB Type-C R2.1 tables 4-29 to 4-31 (tVBUSON); " + practice},
	}}
	if meterAt == "source" { // it would see VBUS before the break
		t.rows[1].by[cable] = 0.1
	}
	if everyS > signs.ShortTryS {
		t.rows[1].by[vbusShort] = 3
	}
	return t
}
