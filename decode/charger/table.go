package charger

import "portside/pd"

// checkID is a row of the table.
type checkID uint8

// The checks, in the order in which a connection comes to them.
const (
	checkVBUSTurnOn checkID = iota
	checkFirstCapabilitiesTime
	checkCapabilitiesRepeatTime
	checkFirst5V
	checkOrder
	checkDuplicates
	checkFlags
	checkReserved
	checkPowerFixed
	checkPowerPPS
	checkPowerAVS
	checkPowerEPR
	checkCableLimit
	checkGoodCRCTime
	checkRetryTime
	checkRetryCount
	checkMessageID
	checkHeaderRoles
	checkRevisionKept
	checkAnswerTime
	checkAnswerMissing
	checkTransitionStart
	checkVoltageSettleTime
	checkPowerReadyTime
	checkVoltageWindow
	checkTransitionWindow
	checkSlewRate
	checkPowerReadyBeforeVoltage
	checkHardResetOff
	checkHardResetRecover
	checkHardResetTurnOn
	checkPPSVoltage
	checkPPSCurrentLimit
	checkPPSTimeout
	checkEPREntry
	checkEPRKeepAlive
	checkBitRate
	checkFrameGap
	checkPreamble
	checkCableVoltageDrop
	checkCableIdentity
	checkCount
)

// need is what a recording must hold for a check.
type need uint8

const (
	messages need = 1 << iota
	acknowledgements
	volts
	amps
	sharedClock
	fromLine
)

// watch is a function and the kind of event it listens to.
type watch struct {
	on  eventKind
	see func(*Checker, *event)
}

// row is one check.
type row struct {
	name       string
	parameters []pd.Parameter // the standard's limits it holds
	needs      need
	watches    []watch
	occasion   string // what did not occur where nothing could be judged
	effect     string // what a failure does to a device
	source     string
}

// follows keep what several checks look at; they stand before the checks, and
// remembers behind them.
var (
	follows = [...]watch{
		{said, seeRating},
		{offered, seeOffer},
		{agreed, seeSteadyStart},
	}
	remembers = [...]watch{
		{said, seeTraffic}, {again, seeTraffic}, {acked, seeTraffic},
		{resetHard, dropTraffic}, {gone, dropTraffic},
		{resetHard, dropFirst}, {gone, dropFirst}, {gone, dropAttach}, {gone, dropReset}, {gone, dropOwed},
		{resetHard, dropEPREntry}, {gone, dropEPREntry},
		{accepted, dropReset}, {accepted, dropRise},
	}
)

const (
	tableTimers    = "USB PD R3.2 V1.1, table 6.68"
	tableSource    = "USB PD R3.2 V1.1, table 7.23"
	tableBoth      = "USB PD R3.2 V1.1, table 7.25"
	noOffer        = "no Source_Capabilities were recorded"
	noTransition   = "no change of VBUS between two contracts was recorded"
	noHardReset    = "no Hard Reset with VBUS in its window was recorded"
	noPPS          = "no PPS contract was recorded"
	noEPR          = "EPR mode was not entered"
	maySoftReset   = "the device may reset the link, and charging starts over or stays at 5 V"
	mayReset       = "the device sends Hard Reset, and its power goes off for a second"
	mayMisread     = "the device may reject or misread the offer, and charge slowly or not at all"
	mayOverload    = "the charger may give way under the power it promises, and the device drops out"
	mayOverheat    = "a cable may get hot, or its voltage drop makes the device drop out"
	mayOvervoltage = "a voltage out of its window trips the device's protection or strains its input parts"
)

// table is every check.
var table = [checkCount]row{
	checkVBUSTurnOn: {
		name: "vbus-turn-on", parameters: []pd.Parameter{pd.TVBUSON, pd.TCCDebounce},
		watches:  []watch{{attached, seeAttached}, {sampled, seeTurnOn}, {poweredOn, seePoweredOn}},
		occasion: "no attach was recorded: CC levels in volts beside VBUS, or an Attach row, tell it",
		effect:   "the device waits longer for power, and may give up a first try",
		source:   "USB Type-C R2.1, tables 4-29 to 4-31, tVBUSON and tCCDebounce",
	},
	checkFirstCapabilitiesTime: {
		name: "first-capabilities-time", parameters: []pd.Parameter{pd.TFirstSourceCap}, needs: messages,
		watches: []watch{
			{poweredOn, seeFirstStart}, {acked, seeFirstAfterSoft}, {said, seeFirstOffer}, {again, seeFirstOffer},
		},
		occasion: "when VBUS came up, or a Soft_Reset, was not recorded on one clock with the first offer",
		effect:   "the device gives up waiting, resets the port or stays at 5 V",
		source:   tableTimers + ", tFirstSourceCap",
	},
	checkCapabilitiesRepeatTime: {
		name: "capabilities-repeat-time", parameters: []pd.Parameter{pd.TTypeCSendSourceCap}, needs: messages,
		watches:  []watch{{said, seeRepeat}, {again, seeRepeat}},
		occasion: "no Source_Capabilities went unanswered",
		effect:   "a device that listens late misses the offer and resets the port",
		source:   tableTimers + ", tTypeCSendSourceCap; compliance tests add tReceive",
	},
	checkFirst5V: {
		name: "capabilities-first-5v", needs: messages, watches: []watch{{offered, seeFirst5V}},
		occasion: noOffer, effect: mayMisread, source: "USB PD R3.2 V1.1, section 6.4.1.4",
	},
	checkOrder: {
		name: "capabilities-order", needs: messages, watches: []watch{{offered, seeOrder}},
		occasion: noOffer, effect: mayMisread, source: "USB PD R3.2 V1.1, sections 6.4.1.4 and 6.5.15.1",
	},
	checkDuplicates: {
		name: "capabilities-duplicates", needs: messages, watches: []watch{{offered, seeDuplicates}},
		occasion: noOffer, effect: mayMisread, source: "USB PD R3.2 V1.1, sections 6.4.1.4 and 6.4.1.6",
	},
	checkFlags: {
		name: "capabilities-flags", needs: messages, watches: []watch{{offered, seeFlags}},
		occasion: noOffer, effect: "strict devices reject the offer; most pass over it", source: "USB PD R3.2 V1.1, table 6.9",
	},
	checkReserved: {
		name: "capabilities-reserved-bits", needs: messages, watches: []watch{{offered, seeReserved}},
		occasion: noOffer, effect: "strict devices reject the offer; most pass over it", source: "USB PD R3.2 V1.1, tables 6.8 to 6.15",
	},
	checkPowerFixed: {
		name: "power-rule-fixed", needs: messages, watches: []watch{{offered, seePowerFixed}},
		occasion: noOffer, effect: mayOverload, source: "USB PD R3.2 V1.1, tables 10.2 and 10.3",
	},
	checkPowerPPS: {
		name: "power-rule-pps", needs: messages, watches: []watch{{offered, seePowerPPS}},
		occasion: "no PPS is offered", effect: mayOverload, source: "USB PD R3.2 V1.1, tables 10.10 and 10.11; USB PD R3.0 V1.1, table 10-8",
	},
	checkPowerAVS: {
		name: "power-rule-avs", needs: messages, watches: []watch{{offered, seePowerAVS}},
		occasion: noOffer, effect: mayOverload, source: "USB PD R3.2 V1.1, tables 6.14, 10.2 and 10.9",
	},
	checkPowerEPR: {
		name: "power-rule-epr", needs: messages, watches: []watch{{offered, seePowerEPR}},
		occasion: "no EPR capabilities were recorded", effect: mayOverload, source: "USB PD R3.2 V1.1, tables 10.12 to 10.15",
	},
	checkCableLimit: {
		name: "cable-limit", needs: messages, watches: []watch{{offered, seeCableLimit}},
		occasion: "no more than 3 A and 20 V is offered", effect: mayOverheat, source: "USB PD R3.2 V1.1, section 4.4",
	},
	checkGoodCRCTime: {
		name: "goodcrc-time", parameters: []pd.Parameter{pd.TTransmit}, needs: messages | acknowledgements,
		watches:  []watch{{acked, seeGoodCRCTime}, {cabled, seeGoodCRCTime}},
		occasion: "no GoodCRC of the source was recorded", effect: "the device repeats itself, then resets the link",
		source: tableTimers + ", tTransmit",
	},
	checkRetryTime: {
		name: "retry-time", parameters: []pd.Parameter{pd.TReceive, pd.TRetry}, needs: messages,
		watches: []watch{{again, seeRetryTime}}, occasion: "the source repeated no message",
		effect: "two messages meet on the line and both are lost", source: tableTimers + ", tReceive and tRetry",
	},
	checkRetryCount: {
		name: "retry-count", parameters: []pd.Parameter{pd.NRetryCount}, needs: messages,
		watches: []watch{{again, seeRetryCount}}, occasion: "the source repeated no message",
		effect: "the device finds the line busy", source: "USB PD R3.2 V1.1, table 6.70, nRetryCount",
	},
	checkMessageID: {
		name: "message-id", needs: messages,
		watches: []watch{
			{said, seeMessageID}, {acked, seeIDAcked},
			{resetHard, restartIDs}, {attached, restartIDs}, {gone, restartIDs},
		},
		occasion: "no two messages of the source follow each other with their GoodCRC",
		effect:   "the device takes a new message for a repeat and drops it, then resets the link",
		source:   "USB PD R3.2 V1.1, sections 6.2.1.1.3 and 6.7.1",
	},
	checkHeaderRoles: {
		name: "header-roles", needs: messages,
		watches: []watch{
			{said, seeRoles}, {said, seeSinkAccepts}, {acked, seeRolesAfterAck},
			{resetHard, resetRoles}, {attached, resetRoles}, {poweredOn, resetRoles},
		},
		occasion: "no message of the source was recorded",
		effect:   "equal data roles on both sides make the device drop the connection and start over",
		source:   "USB PD R3.2 V1.1, sections 6.2.1.1.4 and 6.2.1.1.6",
	},
	checkRevisionKept: {
		name: "revision-kept", needs: messages,
		watches:  []watch{{said, seeRevision}, {resetHard, dropRevision}, {gone, dropRevision}},
		occasion: "no message of the source after a Request was recorded", effect: maySoftReset,
		source: "USB PD R3.2 V1.1, section 6.2.1.1.5",
	},
	checkAnswerTime: {
		name: "answer-time", parameters: []pd.Parameter{pd.TReceiverResponse}, needs: messages,
		watches: []watch{{said, seeAnswerTime}}, occasion: "no answer to a Request was recorded",
		effect: mayReset, source: tableTimers + ", tReceiverResponse",
	},
	checkAnswerMissing: {
		name: "answer-missing", parameters: []pd.Parameter{pd.TSenderResponse, pd.TPSTransitionSPR, pd.TPSTransitionEPR}, needs: messages,
		watches: []watch{
			{said, seeUnacknowledged}, {said, seeMissing}, {again, seeMissing}, {acked, seeMissingAfterAck},
			{resetHard, seeMissingReset}, {ended, seeMissingEnd},
		},
		occasion: "no Request with its answer and PS_RDY was recorded", effect: mayReset,
		source: tableTimers + ", tSenderResponse and tPSTransition; section 6.6",
	},
	checkTransitionStart: {
		name: "transition-start", parameters: []pd.Parameter{pd.TSrcTransition}, needs: messages | volts | sharedClock,
		watches:  []watch{{sampled, seeTransitionStart}},
		occasion: noTransition, effect: "VBUS moves before the device has lowered its draw, and its protection trips",
		source: tableSource + ", tSrcTransition",
	},
	checkVoltageSettleTime: {
		name: "voltage-settle-time", parameters: []pd.Parameter{pd.TSrcSettleSPR, pd.TSrcSettleEPR, pd.TPpsSrcTransLarge, pd.TAvsSrcTransLarge},
		needs: messages | volts | sharedClock, watches: []watch{{sampled, seeSettle}},
		occasion: noTransition, effect: "the device runs out of patience and resets, or starts to draw too early",
		source: tableSource + ", tSrcSettle, tPpsSrcTransSmall and -Large, tAvsSrcTransSmall and -Large",
	},
	checkPowerReadyTime: {
		name: "power-ready-time", parameters: []pd.Parameter{pd.TSrcTransReqSPR, pd.TSrcTransReqEPR, pd.TPpsSrcTransSmall, pd.TAvsSrcTransSmall},
		needs: messages, watches: []watch{{said, seePowerReadyTime}},
		occasion: "no Accept with its PS_RDY was recorded", effect: mayReset,
		source: tableSource + ", tSrcTransReq, tPpsSrcTransSmall and -Large, tAvsSrcTransSmall and -Large",
	},
	checkVoltageWindow: {
		name: "voltage-window", parameters: []pd.Parameter{pd.VSrcNew, pd.VSrcValid, pd.VAvsNew, pd.VAvsValid}, needs: messages | volts | sharedClock,
		watches:  []watch{{sampled, seeVoltageWindow}},
		occasion: "no sample lies wholly within a contract other than PPS", effect: mayOvervoltage,
		source: tableSource + ", vSrcNew, vSrcValid, vAvsNew and vAvsValid",
	},
	checkTransitionWindow: {
		name: "transition-window", parameters: []pd.Parameter{pd.VSrcValid}, needs: messages | volts | sharedClock,
		watches:  []watch{{sampled, seeTransitionWindow}},
		occasion: "no sample lies wholly between an Accept and its PS_RDY", effect: mayOvervoltage,
		source: tableSource + ", vSrcValid; section 7.1.4",
	},
	checkSlewRate: {
		name: "slew-rate", parameters: []pd.Parameter{pd.VSrcSlewPos, pd.VSrcSlewNeg}, needs: messages | volts | sharedClock,
		watches:  []watch{{sampled, seeSlew}},
		occasion: "no sample lies between an Accept and its PS_RDY", effect: "the inrush into the device's capacitors trips its protection",
		source: tableSource + ", vSrcSlewPos and vSrcSlewNeg",
	},
	checkPowerReadyBeforeVoltage: {
		name: "power-ready-before-voltage", parameters: []pd.Parameter{pd.VSrcNew}, needs: messages | volts | sharedClock,
		watches:  []watch{{sampled, seePowerReadyBeforeVoltage}},
		occasion: noTransition, effect: "the device draws its full current from a voltage that is not there yet",
		source: "USB PD R3.2 V1.1, sections 6.3.6 and 7.1.4",
	},
	checkHardResetOff: {
		name: "hard-reset-off", parameters: []pd.Parameter{pd.TPSHardReset, pd.TSafe0V}, needs: messages | volts | sharedClock,
		watches:  []watch{{resetHard, seeReset}, {sampled, seeResetVoltage}},
		occasion: noHardReset, effect: "the device takes the power for a fresh attach and both lose step",
		source: tableTimers + ", tPSHardReset; table 7.25, tSafe0V",
	},
	checkHardResetRecover: {
		name: "hard-reset-recover", parameters: []pd.Parameter{pd.TSrcRecoverSPR, pd.TSrcRecoverEPR}, needs: messages | volts | sharedClock,
		occasion: noHardReset, effect: "the device does not restart cleanly, or stays dark longer",
		source: tableSource + ", tSrcRecover",
	},
	checkHardResetTurnOn: {
		name: "hard-reset-turn-on", parameters: []pd.Parameter{pd.TSrcTurnOn}, needs: messages | volts | sharedClock,
		occasion: noHardReset, effect: "the device gives up on the source",
		source: tableSource + ", tSrcTurnOn",
	},
	checkPPSVoltage: {
		name: "pps-voltage", parameters: []pd.Parameter{pd.VPpsNew, pd.VPpsValid}, needs: messages | volts | sharedClock,
		watches: []watch{{sampled, seePPSVoltage}}, occasion: noPPS,
		effect: "the device charges at a wrong voltage, hot or slowly", source: tableSource + ", vPpsNew and vPpsValid",
	},
	checkPPSCurrentLimit: {
		name: "pps-current-limit", parameters: []pd.Parameter{pd.IPpsCLNew, pd.IPpsCLNewAbove3A}, needs: messages | volts | amps | sharedClock,
		watches: []watch{{sampled, seePPSCurrentLimit}}, occasion: "the current of a PPS contract did not reach its limit",
		effect: "the device relies on the limit and charges with too much or too little", source: tableSource + ", iPpsCLNew",
	},
	checkPPSTimeout: {
		name: "pps-timeout", parameters: []pd.Parameter{pd.TPPSTimeout}, needs: messages,
		watches:  []watch{{said, seePPSSilence}, {resetHard, seePPSReset}, {ended, seePPSEnd}},
		occasion: "no PPS contract went without traffic for as long as that",
		effect:   "a device that has crashed goes on being charged", source: tableTimers + ", tPPSTimeout",
	},
	checkEPREntry: {
		name: "epr-entry", parameters: []pd.Parameter{pd.TReceiverResponse, pd.TEnterEPR, pd.TFirstSourceCap}, needs: messages,
		watches:  []watch{{said, seeEPREntry}, {acked, seeEPRAcked}},
		occasion: "no EPR_Mode Enter was recorded", effect: "the device does not get more than 100 W",
		source: "USB PD R3.2 V1.1, section 6.4.10.1; table 6.68, tReceiverResponse, tEnterEPR and tFirstSourceCap",
	},
	checkEPRKeepAlive: {
		name: "epr-keep-alive", parameters: []pd.Parameter{pd.TSourceEPRKeepAlive}, needs: messages,
		watches:  []watch{{said, seeEPRSilence}, {said, seeKeepAlive}, {resetHard, seeEPRReset}},
		occasion: noEPR + ", or no keep-alive failed or was answered in it", effect: "48 V stays on at a device that is gone",
		source: tableTimers + ", tSourceEPRKeepAlive",
	},
	checkBitRate: {
		name: "bit-rate", parameters: []pd.Parameter{pd.FBitRate, pd.PBitRate}, needs: fromLine,
		occasion: "no frame of the source could be measured", effect: "messages arrive damaged and the link is reset",
		source: "USB PD R3.2 V1.1, tables 5.17 and 5.18",
	},
	checkFrameGap: {
		name: "frame-gap", parameters: []pd.Parameter{pd.TInterFrameGap}, needs: fromLine,
		occasion: "no frame of the source follows another", effect: "the device misses the start of a message",
		source: "USB PD R3.2 V1.1, table 5.18, tInterFrameGap",
	},
	checkPreamble: {
		name: "preamble", needs: fromLine, occasion: "no frame of the source could be measured",
		effect: "the device does not lock to the message", source: "USB PD R3.2 V1.1, section 5.5; one bit may be lost at the tap",
	},
	checkCableVoltageDrop: {
		name: "cable-voltage-drop", parameters: []pd.Parameter{pd.VCableDropVBUS, pd.VCableDropGND}, needs: messages | volts | amps | sharedClock,
		watches: []watch{
			{sampled, seeSlope}, {accepted, seeSlopeEnd}, {resetHard, seeSlopeEnd}, {gone, seeSlopeEnd}, {ended, seeSlopeEnd},
		},
		occasion: "the current within one fixed contract did not vary by 0.2 A", effect: "the device charges slowly or drops out under load, and plugs get hot",
		source: "USB Type-C R2.0, section 4.4.1; USB PD R3.2 V1.1, section 6.4.4.3.1",
	},
	checkCableIdentity: {
		name: "cable-identity", needs: messages,
		watches:  []watch{{offered, seeCableIdentity}, {sampled, seeCableDraw}},
		occasion: "no answer of a cable to Discover Identity was recorded", effect: mayOverheat,
		source: "USB PD R3.2 V1.1, tables 6.41 and 6.42",
	},
}
