package location

import (
	"portside/decode/signs"
)

// alertTopic: a source that speaks of its own input or heat says what it is short of; one
// that speaks of a current too high was overdrawn. A device that says its voltage is too
// high has a source that gives it, or measures wrongly.
func alertTopic() topic {
	return topic{name: "alert", cap: protocolCap, rows: []row{
		{signs.NoAlert, "neither side says anything is wrong", 99, like{source: 93, mains: 85, controller: 98.4, healthyPart: 99.6}, "most send no Alert", practice},
		{signs.Ailing, "the source: its input, its heat, or its voltage", 0.3, like{source: 6, mains: 14, healthyPart: 0.3}, "the source's own word", "USB PD R3.2 V1.1 tables 6.47 and 6.55 (Source Input Change, OTP, OVP)"},
		{signs.Overdrawn, "the source: too much current", 0.7, like{source: 1, mains: 1, railShort: 2, inputShort: 2, railLeak: 2, downstream: 1.5, chargerIC: 1.5, vbusShort: 2, healthyPart: 0.1}, "an overload, as the source sees it", "USB PD R3.2 V1.1 tables 6.47 and 6.55 (OCP)"},
		{signs.FalseDraw, "the source: too much current, and there was none", 0.02, like{source: 1.2, mains: 0.1, healthyPart: 0.01}, "what the source measures by is wrong", "USB PD R3.2 V1.1 tables 6.47 and 6.55 (OCP)"},
		{signs.OverFed, "the device: its voltage is too high; nobody measured it", 0.05, like{source: 1.5, controller: 0.8, healthyPart: 0.02}, "the source gives it, or the controller reads it wrongly", "USB PD R3.2 V1.1 table 6.47 (OVP)"},
		{signs.FalseOver, "the device: its voltage is too high, and it is not", 0.02, like{controller: 1.2, supply: 0.4, healthyPart: 0.01}, "what the controller measures by is wrong", "USB PD R3.2 V1.1 table 6.47 (OVP)"},
	}}
}

// asksTopic: a small machine asks for the current that it needs. One whose controller has
// lost its settings, or waits for its board, asks for what is there, and may still say
// that it knows more.
func asksTopic() topic {
	return topic{name: "asked at 5 V", cap: recordingCap, rows: []row{
		{signs.AsksPart, "part of the current that 5 V offers", 58, whatWaits(12), "a small machine names what it needs", "USB PD R3.2 V1.1 section 6.4.2 (Operating Current); " + practice},
		{signs.AsksAll, "all the current that 5 V offers", 14, whatWaits(58), "a machine that needs as much takes a higher voltage", "USB PD R3.2 V1.1 section 6.4.2 (Operating Current); " + practice},
		{signs.AsksBelow, "5 V, and its own capabilities name more", 8, whatWaits(25), "a machine that knows higher voltages asks for them once its controller may", "USB PD R3.2 V1.1 section 6.4.1.3 (Sink_Capabilities); " + practice},
		{signs.KnowsFive, "5 V, and its own capabilities name no more", 20, whatWaits(5), "a machine made for 5 V, or a controller that has lost its settings", "USB PD R3.2 V1.1 section 6.4.1.3 (Sink_Capabilities); " + practice},
	}}
}

// whatWaits are the parts that keep a machine at 5 V that would take more; beside every other
// fault it is a small one.
func whatWaits(percent float64) like {
	by := like{}
	for _, p := range []part{controller, supply, railShort, railLeak, inputShort, chargerIC, downstream, sequence, battery} {
		by[p] = percent
	}
	return by
}

// backTo5Topic: whoever gets what it asked for, and asks for 5 V again and again before it
// draws, does not see it arrive.
func backTo5Topic() topic {
	return topic{name: "asks for 5 V again", cap: recordingCap, rows: []row{
		{signs.KeepsHigh, "keeps what it asked for", 99.9, like{inputSwitch: 98, controller: 97.5, supply: 99, ccContact: 99.8, chargerIC: 99.5, sequence: 99.7, healthyPart: 99.95}, "a sink asks for less where it needs less", "USB PD R3.2 V1.1 section 6.4.2 (Request); " + practice},
		{signs.StepsBack, "goes back to 5 V again and again, and has not drawn", 0.1, like{inputSwitch: 2, controller: 2.5, supply: 1, ccContact: 0.2, chargerIC: 0.5, sequence: 0.3, healthyPart: 0.05}, "a controller that misreads VBUS, or an input switch behind which nothing arrives", "USB PD R3.2 V1.1 section 6.4.2 (Request); " + practice},
	}}
}

// hearingTopic: a message that arrives whole is acknowledged by hardware, and what is not
// acknowledged is said again: it was damaged on its way, or met a weak receiver.
func hearingTopic() topic {
	return topic{name: "hearing", cap: weakCap, rows: []row{
		{signs.HeardAll, "nothing has to be said again", 96, like{ccContact: 88, cable: 90, controller: 90, supply: 94, source: 94, healthyPart: 97}, "a sound line loses one frame in thousands", "USB PD R3.2 V1.1 tables 5.17 and 6.70 (nRetryCount); " + practice},
		{signs.SourceMissed, "the source says much again", 2, like{ccContact: 14, cable: 10, controller: 13, supply: 6, source: 5, healthyPart: 0.5}, "the sink's receiver, or noise at its end", "USB PD R3.2 V1.1 table 6.70 (nRetryCount); " + practice},
		{signs.SinkMissed, "the sink says much again", 2, like{ccContact: 12, cable: 12, controller: 6, supply: 3, source: 9, healthyPart: 0.8}, "the sink's transmitter, the source's receiver, or noise at its end", "USB PD R3.2 V1.1 table 6.70 (nRetryCount); " + practice},
		{signs.BothMissed, "both say much again", 1, like{ccContact: 14, cable: 11, controller: 6, supply: 2, source: 4, healthyPart: 0.3}, "noise on the line that both share", "USB PD R3.2 V1.1 table 6.70 (nRetryCount); " + practice},
	}}
}

// lessTopic: no contact and no load takes objects out of an offer. A charger that shares
// its power takes back a part for another port; one that grows too hot, or whose mains or
// stage gives out, does the same.
func lessTopic() topic {
	return topic{name: "offer", cap: recordingCap, rows: []row{
		{signs.OffersOn, "the source keeps to an offer above 5 V", 99, like{source: 87, mains: 98, cable: 98, healthyPart: 93.5}, "an offer goes by the charger's rating", practice},
		{signs.OffersFive, "it offers 5 V and no more", 0.8, like{source: 5, mains: 1, cable: 1.5, healthyPart: 2.5}, "a charger that is too small for the machine, or one that has lost its higher voltages", practice},
		{signs.OffersThin, "it offers 5 V and no more, and the machine wants more", 0.5, like{source: 18, mains: 1, cable: 1, healthyPart: 0.6}, "a charger that is too small for the machine, or one that has lost its higher voltages", "USB PD R3.2 V1.1 section 6.4.2.3 (Capability Mismatch); " + practice},
		{signs.OffersNone, "it offers 5 V and no current", 0.02, like{source: 4, mains: 0.4, cable: 0.05, healthyPart: 0.03}, "whoever has nothing to give says so: a charger that has switched its stage off", "USB PD R3.2 V1.1 section 6.4.1 (Source_Capabilities); " + practice},
		{signs.OffersTurn, "the source takes back a part of its offer again and again", 0.05, like{source: 3, mains: 0.8, cable: 0.1, healthyPart: 0.05}, "whoever shares its power settles on a share", "USB PD R3.2 V1.1 section 6.4.1 (Source_Capabilities, sent anew when they change); " + practice},
		{signs.OffersGone, "the source takes back all but 5 V", 0.1, like{source: 4, mains: 0.8, cable: 0.2, healthyPart: 0.5}, "a share of a sound charger's power leaves more than 15 W", "USB PD R3.2 V1.1 section 6.4.1; " + practice},
		{signs.OffersLess, "the source takes back a part of its offer", 0.5, like{source: 9, mains: 1.5, cable: 0.7, healthyPart: 4}, "power shared with another port, or a charger that limits itself", "USB PD R3.2 V1.1 section 6.4.1 (Source_Capabilities, sent anew when they change); " + practice},
	}}
}

// offerTopic is the same for what is seen: an offer that comes down again and again has hardly
// another reason.
func offerTopic(often bool) topic {
	t := lessTopic()
	if often {
		t.cap = physicsCap
	}
	return t
}
