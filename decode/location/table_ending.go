package location

import (
	"portside/decode/signs"
)

// endingTopic holds what breaks a contract against how it breaks. A short
// before the charger circuit ends it as the switches close; a source that is
// too weak gives way while no more flows than it promised; a controller that
// starts anew lets go of the draw first, and the source resets later; a
// contact takes both sides away without a word: a contact behind the meter ends
// the draw first, one before it takes VBUS with it.
func endingTopic(meterAt string) topic {
	t := topic{name: "ending", cap: recordingCap, rows: []row{
		{signs.EndAtOnce, "within 0.4 s of the contract", 20, like{
			source: 13, cable: 3, mains: 10, powContact: 5, ccContact: 4, controller: 5.5, supply: 5.5, vbusShort: 60, vbusLeak: 10,
			inputSwitch: 30, inputShort: 86, railShort: 50, railLeak: 15, chargerIC: 30, downstream: 20, battery: 5, healthyPart: 8.5,
		}, "the switches close into a short", practice},
		{signs.EndLoaded, "while no more is drawn than was promised", 25, like{
			source: 52, cable: 25, mains: 64, powContact: 22, ccContact: 6, controller: 4, supply: 4.5, vbusShort: 6, vbusLeak: 16,
			inputSwitch: 10, inputShort: 4, railShort: 5, railLeak: 15, chargerIC: 9, downstream: 9, battery: 14, healthyPart: 21,
		}, "a source must carry what it promised; a contact opens under way", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{signs.EndOver, "while more is drawn than was promised", 25, like{
			source: 4, cable: 1.6, mains: 4, powContact: 1.6, ccContact: 1, controller: 0.7, supply: 0.7, vbusShort: 24, vbusLeak: 46,
			inputSwitch: 12, inputShort: 8, railShort: 34, railLeak: 50, chargerIC: 36, downstream: 48, battery: 44, healthyPart: 2.5,
		}, "an overload trips a source that gives what it promised", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{signs.EndIdle, "after the draw has stopped", 11, like{
			source: 4, cable: 5, mains: 6, powContact: 19, ccContact: 11, controller: 15, supply: 16, vbusShort: 3, vbusLeak: 6,
			inputSwitch: 23, inputShort: 0.5, railShort: 6, railLeak: 9, chargerIC: 14, downstream: 12, battery: 24, healthyPart: 13,
		}, "the device let go first: its controller began anew, or a contact behind the meter took its VBUS, and a reset followed", practice},
		{signs.EndEarly, "before the machine draws", 9, like{
			source: 9, cable: 5, mains: 10, powContact: 7, ccContact: 11, controller: 14, supply: 16, vbusShort: 2, vbusLeak: 4,
			inputSwitch: 12, inputShort: 0.5, railShort: 3, railLeak: 6, chargerIC: 8, downstream: 6, battery: 8, healthyPart: 12,
		}, "no load broke it: a contact, a source or a controller that gives out by itself", practice},
		{signs.EndNever, "after as long as any start takes, again and again, and nothing was drawn", 2, like{
			source: 0.4, cable: 0.4, mains: 0.4, powContact: 1, ccContact: 1.2, controller: 5, supply: 6, vbusShort: 0.3, vbusLeak: 0.4,
			inputSwitch: 5, inputShort: 0.3, railShort: 2, railLeak: 0.5, chargerIC: 4, downstream: 1.5, sequence: 2.5, battery: 1, healthyPart: 0.4,
		}, "no charger and no lead keeps a machine from drawing at the right voltage: it gives up by itself", practice},
		{signs.EndAll, "after the draw has stopped, and with it what the port controller takes", 0.04, like{
			cable: 0.5, powContact: 4, ccContact: 0.05, controller: 0.3, supply: 0.3, inputSwitch: 0.1, healthyPart: 0.3,
		}, "the port controller is fed before the switches: what takes its VBUS as well lies before it", practice},
		{signs.EndOpen, "both sides begin anew without a reset, and VBUS goes under load", 6, like{
			source: 6.5, cable: 32, mains: 8, powContact: 8, ccContact: 20, controller: 8, supply: 10, vbusShort: 2, vbusLeak: 6,
			inputSwitch: 3, inputShort: 1, railShort: 1.5, railLeak: 3, chargerIC: 2, downstream: 3, battery: 2, healthyPart: 13,
		}, "the plug moves, a contact before the meter opens, or a controller goes down and takes its Rd away", practice},
		{signs.EndParted, "both sides begin anew without a reset, and the draw ends first", 4, like{
			source: 1.6, cable: 13, mains: 2, powContact: 21, ccContact: 14, controller: 7, supply: 8, vbusShort: 1, vbusLeak: 4,
			inputSwitch: 2, railShort: 0.5, railLeak: 2, chargerIC: 1, downstream: 1, battery: 1, healthyPart: 13,
		}, "a contact behind the meter opens", practice},
		{signs.EndSilent, "the sink stops acknowledging, and a Soft_Reset fails", 4, like{
			source: 2.8, cable: 9.5, powContact: 13, ccContact: 28, controller: 26, supply: 29, vbusShort: 8,
			inputSwitch: 3, inputShort: 7, railShort: 5, healthyPart: 0.8,
		}, "a controller that hears answers in hardware: it is down, or its line is open", "USB PD R3.2 V1.1 table 6.68 (tReceive, tSoftReset); " + practice},
		{signs.EndReset, "a Hard Reset while VBUS stands, and no more flows than was promised", 2, like{
			source: 5.5, cable: 3, mains: 0.5, powContact: 1.5, ccContact: 10, controller: 10, supply: 5.5, vbusShort: 0.5, vbusLeak: 1.5,
			inputSwitch: 4, inputShort: 0.5, railShort: 1, railLeak: 1.5, chargerIC: 2.5, downstream: 3, sequence: 3, battery: 2.5, healthyPart: 9,
		}, "what trips a source or opens a lead takes VBUS away before the reset: here one side decided on it", "USB PD R3.2 V1.1 table 6.68 (tPSHardReset); " + practice},
		{signs.EndFed, "a Hard Reset while VBUS stands, and the machine draws on until then", 1, like{
			source: 4.5, cable: 2, mains: 0.3, powContact: 0.5, ccContact: 6, controller: 4, supply: 1, vbusLeak: 1,
			inputSwitch: 0.5, railShort: 0.5, railLeak: 1, chargerIC: 1, downstream: 1, sequence: 1, battery: 1, healthyPart: 4,
		}, "what lets the reset go does not first let go of the switches: a source, or what is lost on the line", "USB PD R3.2 V1.1 table 6.68 (tPSHardReset); " + practice},
		{signs.EndLetGo, "a Hard Reset while VBUS stands, and the draw had stopped before", 1, like{
			source: 1.2, cable: 1, mains: 0.2, powContact: 1, ccContact: 4, controller: 6, supply: 5, vbusShort: 0.5, vbusLeak: 0.5,
			inputSwitch: 3.5, inputShort: 0.5, railShort: 0.5, railLeak: 0.5, chargerIC: 1.5, downstream: 2, sequence: 2, battery: 1.5, healthyPart: 4,
		}, "a controller that begins anew opens its switches before it speaks", practice},
		{signs.EndTimer, "the source resets as if the Requests that it answered had not come", 0.04, like{source: 3, healthyPart: 0.05}, "its own timer ends the contract", "USB PD R3.2 V1.1 table 6.68 (tPPSTimeout); " + practice},
		{signs.EndCCOpen, "CC rises to its pull-up before VBUS goes", 0.04, like{
			cable: 1.2, powContact: 0.8, ccContact: 10, controller: 1.2, supply: 1.2, healthyPart: 0.15,
		}, "what presents Rd is gone: the line opens behind the meter, or the controller lets go of it", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.EndCCGone, "CC falls to 0 V before VBUS goes", 0.04, like{
			cable: 6.5, source: 1.2, mains: 1.6, ccContact: 0.4, healthyPart: 0.12,
		}, "what pulls up is gone: the line opens before the meter, or the source goes off", "USB Type-C R2.0 section 4.5.2.2; " + practice},
	}}
	open, gone := t.index(signs.EndCCOpen), t.index(signs.EndCCGone)
	switch meterAt {
	case "source": // the cable lies behind it; of a plug that moves CC opens first
		t.rows[t.index(signs.EndAll)].by[cable] = 3
		t.rows[t.index(signs.EndOpen)].by[cable], t.rows[t.index(signs.EndParted)].by[cable] = 26, 26
		t.rows[open].by[cable], t.rows[gone].by[cable] = 3.3, 0.08
	case "device":
		t.rows[open].by[cable], t.rows[t.index(signs.EndAll)].by[cable] = 0.08, 0.05
	}
	return t
}

// lossTopic: a Hard Reset under way that both sides come back from. Software that takes
// over at boot sends one now and then: recorded logs.
func lossTopic() topic {
	return topic{name: "loss", cap: recordingCap, rows: []row{
		{signs.KeptOn, "the contract stands", 99, like{source: 93.5, cable: 95.5, mains: 93, powContact: 92.5, ccContact: 91, controller: 96.5, supply: 97, inputShort: 98.5, healthyPart: 98}, "nothing ends a contract that both keep to", practice},
		{signs.LostOnce, "lost once, and made again", 0.4, like{source: 3.5, cable: 2.5, mains: 5, powContact: 3.5, ccContact: 4, controller: 1.8, supply: 1.5, inputShort: 0.5, healthyPart: 1.6}, "a plug that is turned over, software that takes over at boot, a source that gives out now and then, a contact", practice},
		{signs.LostAtFirst, "lost as it begins, and a working draw holds from then on", 0.2, like{source: 1, cable: 2.5, mains: 0.5, powContact: 1, ccContact: 8, controller: 1, supply: 0.5, healthyPart: 1.6}, "a plug that bounces as it goes in, an empty machine whose controller falls over at its first draw, software that takes over at boot; or talk that gets through in the end", practice},
		{signs.LostDraw, "lost some times at one draw, and it stands below that", 0.1, like{source: 4, mains: 0.4, cable: 0.15, powContact: 0.15, ccContact: 0.15, controller: 0.3, supply: 0.7, inputSwitch: 0.3, healthyPart: 0.03}, "a source, or a supply, whose limit lies too low", "USB PD R3.2 V1.1 section 7.1.7; " + practice},
		{signs.LostMore, "lost some times, and it stands in the end", 0.4, like{source: 3, cable: 2, mains: 2, powContact: 4, ccContact: 5, controller: 1.8, supply: 1.5, inputShort: 1, healthyPart: 0.2}, "a source that gives out now and then, or a contact that opens", practice},
	}}
}

// holdTopic: what is loose, cracked or overloaded shows within seconds of a
// working draw more often than not.
func holdTopic() topic {
	return topic{name: "holding", cap: recordingCap, rows: []row{
		{signs.Holds, "holds 10 s and more", 40, like{vbusLeak: 80, railLeak: 55, mains: 70, healthyPart: 97, source: 51}, "a sound machine goes on as it began", practice},
		{signs.BreaksUp, "breaks down within 10 s", 60, like{vbusLeak: 24, railLeak: 45, mains: 30, healthyPart: 3, source: 49}, "a working draw that ends in a fault", practice},
	}}
}

// faultTopic keeps a recording that shows a fault from being called sound.
func faultTopic() topic {
	return topic{name: "findings", cap: recordingCap, rows: []row{
		{"fault", "a fault", 60, like{healthyPart: 3, source: 74, inputShort: 44}, "a sound power-up breaks no limit", practice},
		{"none", "no fault", 40, like{healthyPart: 97, source: 26, cable: 28, vbusShort: 50, railShort: 50, inputShort: 56}, "a sound power-up breaks no limit", practice},
	}}
}
