package location

import (
	"portside/decode/signs"
)

// powerUpTopic is how far the power-up came. What a contract proves, it
// proves about CC, the controller, its supply and its firmware; it says
// nothing of the input switches and what stands behind them.
// vbusSeen is a meter that sees VBUS: at the device's end the cable carries it then.
func powerUpTopic(meterAt string, vbusSeen bool) topic {
	t := topic{name: "power-up", cap: recordingCap, rows: []row{
		{signs.NoVBUS, "no VBUS", 0.5, like{
			source: 20, cable: 18, mains: 80, controller: 4, supply: 3, ccContact: 24, powContact: 16, vbusShort: 76, vbusLeak: 3.5,
			railShort: 2, inputShort: 6, healthyPart: 0.5,
		}, "a source keeps VBUS cold until it sees Rd, and trips into a short", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.ShortBefore, "VBUS twitches, and nothing flows through the meter", 0.02, like{
			source: 1.5, cable: 3, mains: 0.1, vbusShort: 0.1, healthyPart: 0.005,
		}, "a short behind the meter draws through it: what the source trips into lies before", practice},
		{signs.LostOnTheWay, "offers on the line, and no VBUS at the meter", 0.05, like{
			source: 4, cable: 9, mains: 0.5, vbusShort: 1,
		}, "a source offers only once its own VBUS is up: it is lost in the cable, or at the source's output", "USB PD R3.2 V1.1 table 6.68 (tFirstSourceCap, counted from VBUS); " + practice},
		{signs.NoOffer, "5 V and a silent source", 0.5, like{
			source: 6.5, cable: 8, mains: 1, controller: 2.5, supply: 2, ccContact: 8, powContact: 2, vbusShort: 6, healthyPart: 3,
		}, "a source without PD, or a CC line that carries no messages", "USB PD R3.2 V1.1 table 6.68 (tFirstSourceCap); " + practice},
		{signs.DeafSource, "5 V, the sink's resets, and nothing from the source", 0.7, like{
			source: 8, cable: 0.5, mains: 0.2, controller: 0.4, supply: 0.3, ccContact: 0.6, vbusShort: 0.2, healthyPart: 6.5,
		}, "the sink speaks and the source has seen its Rd, so CC carries: the source knows no PD, or its talk is dead", "USB PD R3.2 V1.1 table 6.68 (tFirstSourceCap), USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.ComesAndGoes, "5 V comes and goes, unloaded, and the source says nothing", 0.03, like{
			source: 3, cable: 1, mains: 0.3, ccContact: 1.2, controller: 0.3, supply: 0.3, vbusShort: 0.3, healthyPart: 0.05,
		}, "its own protection ends it, or the Rd that it sees comes and goes", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.GoesAtOnce, "5 V goes as soon as it is there, unloaded, and the source says nothing", 0.03, like{
			source: 1, cable: 0.8, mains: 0.1, ccContact: 2.4, controller: 0.3, supply: 0.2, vbusShort: 0.6, healthyPart: 0.02,
		}, "VBUS itself takes away what the source sees on CC: the two touch", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.AsksCable, "5 V, the source asks the cable, has its answer, and offers nothing", 0.03, like{
			source: 3, cable: 0.4, ccContact: 0.05, healthyPart: 0.03,
		}, "its transmitter and CC work, and it owes an offer to a device whose Rd it sees", "USB PD R3.2 V1.1 table 6.68 (tFirstSourceCap); " + practice},
		{signs.AsksInVain, "5 V, the source asks the cable in vain, and offers nothing", 0.03, like{
			source: 2, cable: 1.5, ccContact: 0.1, vbusShort: 0.1, healthyPart: 0.03,
		}, "a source goes on without an answer: its own talk hangs, or the marker takes its VCONN down", "USB PD R3.2 V1.1 tables 6.68 (tFirstSourceCap) and 6.70 (nDiscoverIdentityCount); " + practice},
		{signs.Unanswered, "the offer is repeated and nobody acknowledges it", 0.5, like{
			source: 1.5, cable: 11, controller: 33.4, supply: 56, ccContact: 36, powContact: 6, vbusShort: 5, vbusLeak: 2.3,
			railShort: 3, railLeak: 1.1, inputShort: 2.3, downstream: 6.5, battery: 1, healthyPart: 0.3,
		}, "a good CRC is acknowledged by the controller's hardware alone; an always-on rail that is held down takes its supply with it", "USB PD R3.2 V1.1 tables 6.68 (tReceive) and 6.70; " + practice},
		{signs.NoRequest, "acknowledged, and no Request", 0.5, like{
			source: 0.8, cable: 1.1, controller: 29, supply: 20, ccContact: 5, powContact: 1,
			railShort: 3, railLeak: 2, inputShort: 2.3, chargerIC: 1.6, downstream: 2.5, sequence: 3.5, battery: 1, healthyPart: 0.3,
		}, "the controller hears and does not decide: its firmware, or a wait for a rail or the embedded controller", "data sheets SLVSES1D and SLVAFV8 (dead-battery start); " + practice},
		{signs.BegunAnew, "the sink acknowledges the offer, and answers with a Soft_Reset", 0.05, like{
			source: 0.1, controller: 3, supply: 0.6, ccContact: 0.2, downstream: 0.1, sequence: 0.1, healthyPart: 0.02,
		}, "the line carries both ways: the controller begins anew where it has to decide", "USB PD R3.2 V1.1 section 6.3.13 (Soft_Reset); " + practice},
		{signs.Refused, "a Request within the offer, and Reject or Wait", 0.1, like{
			source: 3, cable: 0.5, controller: 0.4, healthyPart: 0.1,
		}, "the source keeps back what it offered", "USB PD R3.2 V1.1 sections 6.3.4 and 6.3.12; " + practice},
		{signs.WronglyAsked, "a Request beyond the offer, and Reject", 0.05, like{
			source: 0.4, controller: 2.7,
		}, "a source must reject what it has not offered", "USB PD R3.2 V1.1 section 6.3.4; " + practice},
		{signs.Misnumbered, "the Request carries the MessageID of the message before", 0.05, like{
			source: 0.012, controller: 1.2, supply: 0.04, ccContact: 0.012,
		}, "what is numbered as the last message was is that message said again: the source acknowledges it and has no answer to give", "USB PD R3.2 V1.1 section 6.7.1 (MessageIDCounter); " + practice},
		{signs.UnheardAsked, "the Request is not acknowledged", 0.2, like{
			source: 1.5, cable: 1.5, controller: 2, ccContact: 3, powContact: 0.5,
		}, "the offer arrives and the Request does not: a weak transmitter, a loaded line, a source that does not listen", "USB PD R3.2 V1.1 table 6.68 (tReceive); " + practice},
		{signs.DeafToAsked, "no Request is ever acknowledged, though the source takes what acknowledges its offers", 0.05, like{
			source: 2.6, cable: 0.25, controller: 0.6, ccContact: 0.35,
		}, "the same transmitter and line carry both: the source listens to one and not to the other", "USB PD R3.2 V1.1 tables 6.68 (tReceive) and 6.70 (nRetryCount); " + practice},
		{signs.UnheardSink, "the source repeats what the sink acknowledged", 0.03, like{
			source: 2.7, cable: 0.54, controller: 0.84, ccContact: 0.78, supply: 0.06,
		}, "what the recorder hears of the sink arrives on the line: the source's receiver, the line on its way there, or a sink that is heard by a good receiver only", "USB PD R3.2 V1.1 tables 6.68 (tReceive) and 6.70 (nRetryCount); " + practice},
		{signs.NoAnswer, "the Request is acknowledged and gets no answer", 0.1, like{
			source: 2.7, cable: 0.4, controller: 0.3, ccContact: 0.5, powContact: 0.3,
		}, "the source's hardware heard it, and must answer within 15 ms", "USB PD R3.2 V1.1 table 6.68 (tReceiverResponse); " + practice},
		{signs.LateAnswer, "the Request is answered after the sink gave up", 0.05, like{
			source: 2.3, cable: 0.08, controller: 0.2, ccContact: 0.1, healthyPart: 0.03,
		}, "the source answers, so the line carries and it is late itself; a sink that counts too fast does the same", "USB PD R3.2 V1.1 table 6.68 (tReceiverResponse, tSenderResponse); " + practice},
		{signs.AnswerUnheard, "the sink does not hear the Accept", 0.05, like{
			source: 0.25, cable: 0.3, controller: 3, supply: 1.2, ccContact: 0.8, powContact: 0.2, healthyPart: 0.02,
		}, "both had heard each other up to there: its receiver, or a controller that hangs once it has asked", "USB PD R3.2 V1.1 tables 6.68 (tReceive) and 6.70 (nRetryCount); " + practice},
		{signs.CutPulled, "Accept, and VBUS is pulled down on its way up", 0.05, like{
			source: 0.4, cable: 0.1, inputSwitch: 0.3, controller: 0.1, supply: 0.15, vbusShort: 4, vbusLeak: 1, inputShort: 1, railShort: 0.2, chargerIC: 0.1, powContact: 0.1,
		}, "a sink lets its switches in after PS_RDY: what breaks down before that stands before them", "USB PD R3.2 V1.1 section 7.3.1 (pSnkStdby during a transition); " + practice},
		{signs.CutFed, "Accept, and VBUS is pulled down that a load had come to at 5 V", 0.05, like{
			source: 0.4, cable: 0.1, inputSwitch: 0.3, vbusShort: 0.4, vbusLeak: 0.6, inputShort: 4, railShort: 0.8, railLeak: 0.8, chargerIC: 0.4, powContact: 0.1,
		}, "some switches close at 5 V: what stands behind them is loaded from then on", practice},
		{signs.CutLoaded, "Accept, and VBUS is pulled down that was loaded from its first moment", 0.05, like{
			source: 0.4, cable: 0.1, vbusShort: 2, vbusLeak: 5, inputShort: 0.8, railShort: 0.1, railLeak: 0.1, powContact: 0.1,
		}, "before the switches close nothing but what stands on VBUS draws", practice},
		{signs.CutBySink, "Accept, and the sink speaks before PS_RDY", 0.025, like{
			source: 0.05, controller: 1.5, supply: 0.15, ccContact: 0.05,
		}, "a step of power must not be interrupted: the source answers with a Hard Reset", "USB PD R3.2 V1.1 section 8.3.2 (atomic message sequences; from memory)"},
		{signs.CutIdle, "Accept, and a Hard Reset before PS_RDY, with nothing drawn", 0.05, like{
			source: 1.5, mains: 0.3, cable: 0.1, controller: 0.3, supply: 0.4, ccContact: 0.15, vbusShort: 0.3, healthyPart: 0.02,
		}, "a sink waits for longer: the source gives up its own step", "USB PD R3.2 V1.1 table 6.68 (tPSTransition); " + practice},
		{signs.CutThere, "Accept, VBUS arrives, and a Hard Reset before PS_RDY, with nothing drawn", 0.02, like{
			source: 0.13, mains: 0.04, controller: 1.1, supply: 0.3, ccContact: 0.06, healthyPart: 0.008,
		}, "a source that is there has its PS_RDY to say: the sink takes fright at the voltage", practice},
		{signs.ReadyUnheard, "PS_RDY that the sink does not hear, and a Hard Reset", 0.05, like{
			source: 0.25, cable: 0.2, controller: 2.5, supply: 0.8, ccContact: 0.6, powContact: 0.05,
		}, "it had heard the source up to there: it does not heed it, or goes down as VBUS rises", "USB PD R3.2 V1.1 table 6.68 (tPSTransition); " + practice},
		{signs.NoPowerReady, "Accept and no PS_RDY", 0.4, like{
			source: 15, cable: 1.2, mains: 2, powContact: 1, vbusShort: 2, vbusLeak: 2.3, railShort: 0.7, inputShort: 3.5, healthyPart: 0.1,
		}, "the source cannot bring its voltage up; the sink draws little meanwhile", "USB PD R3.2 V1.1 tables 6.68 (tPSTransition) and 7.23 (tSrcTransReq); " + practice},
		{signs.UpAndLetGo, "Accept, VBUS rises and goes without a reset, and the source offers anew", 0.025, like{
			source: 1.25, mains: 0.4, cable: 0.4, ccContact: 0.75, controller: 0.3, supply: 0.3, powContact: 0.05, vbusShort: 0.05, vbusLeak: 0.05, inputShort: 0.05, healthyPart: 0.015,
		}, "its converter goes down with all of it, or it no longer sees Rd as VBUS rises", "USB Type-C R2.0 section 4.5.2.2; " + practice},
		{signs.Contract5V, "a contract at 5 V", 2, like{
			source: 2.3, cable: 0.6, mains: 0.8, controller: 16.5, supply: 2.3, ccContact: 0.8, vbusShort: 1.5, vbusLeak: 2.3,
			railShort: 5.4, railLeak: 1.9, inputShort: 1.5, chargerIC: 2.2, downstream: 3.2, sequence: 2.2, battery: 2, healthyPart: 3.8,
		}, "a controller asks for no more until the board tells it to: a rail that does not come up, settings it lost, a small machine", "data sheets SLVSES1D and SLVAFV8 (dead-battery start); " + practice},
		{signs.ContractHigh, "a contract above 5 V", 60, like{
			source: 22, cable: 36, mains: 7, inputSwitch: 86, controller: 5, supply: 4, ccContact: 7, powContact: 40, vbusShort: 1, vbusLeak: 70,
			railShort: 62, railLeak: 86, inputShort: 30, chargerIC: 71, downstream: 69, sequence: 84, battery: 77, healthyPart: 86,
		}, "a contract proves CC, the controller and its supply", practice},
		{signs.ContractAnew, "a contract that the sink makes anew again and again", 0.06, like{
			source: 0.25, cable: 0.3, controller: 5, supply: 5, ccContact: 1.5, powContact: 0.15,
		}, "a controller that starts anew, or runs in circles, has its contract and throws it away", "USB PD R3.2 V1.1 section 6.3.13 (Soft_Reset); " + practice},
		{signs.ContractLost, "a contract that is lost again and again", 5, like{
			source: 13, cable: 15, mains: 8, inputSwitch: 5.5, controller: 10, supply: 14, ccContact: 14, powContact: 38, vbusShort: 3, vbusLeak: 5,
			railShort: 4, railLeak: 3, inputShort: 49, chargerIC: 5, downstream: 5.5, sequence: 1.8, battery: 3.5, healthyPart: 0.6,
		}, "a source that gives way, a contact that opens, a controller that starts anew, an overload before the charger circuit: behind it its limit holds", practice},
	}}
	switch {
	case vbusSeen && meterAt == "device":
		t.rows[t.index(signs.Unanswered)].by[cable] = 1.5
	case vbusSeen && meterAt == "source": // a VBUS conductor may be open behind it, and nothing wakes the device
		t.rows[t.index(signs.Unanswered)].by[cable] = 30
	}
	return t
}

// startTopic: what garbles, opens or gives out now and then needs several
// starts where a sound set-up needs one.
func startTopic() topic {
	return topic{name: "start", cap: recordingCap, rows: []row{
		{signs.StartSmooth, "the first or second start stands", 92, like{source: 78, cable: 78, mains: 85, ccContact: 58, controller: 70, supply: 66, powContact: 72, healthyPart: 98}, "a sound set-up starts once, or twice where the plug is moved", practice},
		{signs.StartRough, "VBUS comes and goes twice and more before it stands", 8, like{source: 22, cable: 22, mains: 15, ccContact: 42, controller: 30, supply: 34, powContact: 32, healthyPart: 2, vbusLeak: 11, inputShort: 6.5}, "each start that fails ends in a Hard Reset", "USB PD R3.2 V1.1 table 6.70 (nHardResetCount); " + practice},
		{signs.StartLate, "the first offers get no answer, and from then on all is well", 1.5, like{source: 2.5, ccContact: 12, controller: 12, supply: 10, powContact: 3, healthyPart: 2}, "a machine without its battery begins to listen once its controller has booted; a contact, or a controller that starts badly, does so too", "USB PD R3.2 V1.1 table 6.70 (nHardResetCount); " + practice},
	}}
}
