package rules

import (
	"cmp"
	"slices"

	"portside/decode/negotiation"
	"portside/pd"
)

// MaxFindings bounds the findings of one diagnosis; the gravest are kept.
const MaxFindings = 10_000

// What a rule needs in a recording.
const (
	NeedsMeter    = "meter"
	NeedsMessages = "messages"
	NeedsLine     = "line" // a recording of the CC line
)

// Rule is one row of the table.
type Rule struct {
	Name     string         `json:"rule"`
	Severity Severity       `json:"severity"` // the gravest it gives
	Needs    []string       `json:"needs"`    // any of these
	PointsTo []Location     `json:"points_to"`
	Limits   map[string]any `json:"limits"`
	Text     string         `json:"text"`
	Source   string         `json:"source"`

	find func(*Facts, Rule) []Finding
}

// finding starts a finding of the rule over a stretch of time.
func (r Rule) finding(severity Severity, startS, endS float64, text string, v values) Finding {
	return Finding{
		Rule: r.Name, Severity: severity,
		StartS: number(startS), EndS: number(endS),
		PointsTo: r.PointsTo, Text: text,
		Values: v, Limits: r.Limits, Source: r.Source,
		FromMeter: slices.Contains(r.Needs, NeedsMeter),
	}
}

// Run applies every rule to the facts. Findings come in the order of time;
// leftOut counts those beyond [MaxFindings].
func Run(f *Facts) (findings []Finding, leftOut int) {
	findings = []Finding{}
	for _, r := range Table() {
		findings = append(findings, r.find(f, r)...)
	}
	if over := len(findings) - MaxFindings; over > 0 {
		slices.SortStableFunc(findings, func(a, b Finding) int { return cmp.Compare(weight(b.Severity), weight(a.Severity)) })
		findings, leftOut = findings[:MaxFindings], over
	}
	slices.SortStableFunc(findings, func(a, b Finding) int { return cmp.Compare(start(a), start(b)) })
	return findings, leftOut
}

func start(f Finding) float64 {
	if f.StartS == nil {
		return 0
	}
	return *f.StartS
}

func weight(s Severity) int {
	return slices.Index([]Severity{Note, Warning, Fault}, s)
}

// limit reads one parameter of the standard at its newest revision.
func limit(p pd.Parameter) pd.Limits { return p.Limits(pd.Revision3x) }

// Table lists every rule. The order is that of a power-up: what is missing
// first, then how the draw looks, then what is sound.
func Table() []Rule {
	meter, messages, either := []string{NeedsMeter}, []string{NeedsMessages}, []string{NeedsMeter, NeedsMessages}
	path := []string{NeedsMeter, NeedsLine}
	return []Rule{
		{
			Name: "no-vbus", Severity: Fault, Needs: either,
			PointsTo: []Location{BeforePort, AtPort},
			Limits:   values{"voltage_v": limit(pd.VSafe0V).Max.Value, "seconds_s": minSilentS},
			Text:     "VBUS never leaves 0 V: the source sees no Rd, does not work, or is held down by a short on VBUS.",
			Source:   "USB PD R3.2 V1.1 table 7.25 (vSafe0V); a source keeps VBUS cold until it sees Rd: USB Type-C R2.0 section 4.5.2.2",
			find:     findNoVBUS,
		},
		{
			Name: "no-source-capabilities", Severity: Fault, Needs: messages,
			PointsTo: []Location{BeforePort, AtPort},
			Limits:   values{"first_capabilities_s": limit(pd.TFirstSourceCap).MaxSI()},
			Text:     "VBUS is there, but no Source_Capabilities was seen: a source without PD, or a CC line that carries nothing.",
			Source:   "USB PD R3.2 V1.1 table 6.68 (tFirstSourceCap, tTypeCSinkWaitCap)",
			find:     findNoSourceCapabilities,
		},
		{
			Name: "capabilities-unanswered", Severity: Fault, Needs: messages,
			PointsTo: []Location{AtPort, BeforePort},
			Limits:   values{"good_crc_s": limit(pd.TReceive).MaxSI()},
			Text:     "The source repeats its offer and nothing acknowledges it: the sink's port controller, its supply or its CC path is silent.",
			Source:   "USB PD R3.2 V1.1 tables 6.68 (tReceive, tTypeCSendSourceCap) and 6.70",
			find:     findUnanswered,
		},
		{
			Name: "request-missing", Severity: Fault, Needs: messages,
			PointsTo: []Location{AtPort},
			Limits:   values{"sender_response_s": limit(pd.TSenderResponse).MaxSI()},
			Text:     "The offer was acknowledged, but no Request followed: the sink's port controller hears and does not decide.",
			Source:   "USB PD R3.2 V1.1 table 6.68 (tReceiverResponse, tSenderResponse)",
			find:     stalled(negotiation.StepRequest),
		},
		{
			Name: "request-refused", Severity: Fault, Needs: messages,
			PointsTo: []Location{BeforePort, AtPort},
			Limits:   values{},
			Text:     "The source answered the Request with Reject or Wait and no contract followed.",
			Source:   "USB PD R3.2 V1.1 sections 6.3.4 and 6.3.12",
			find:     stalled(negotiation.StepRefused),
		},
		{
			Name: "power-ready-missing", Severity: Fault, Needs: messages,
			PointsTo: []Location{BeforePort, BehindPort},
			Limits:   values{"transition_s": limit(pd.TPSTransitionSPR).MaxSI()},
			Text:     "The source accepted, but never said PS_RDY: it cannot bring its voltage to the contract.",
			Source:   "USB PD R3.2 V1.1 table 6.68 (tPSTransition) and table 7.23 (tSrcTransReq)",
			find:     stalled(negotiation.StepPowerReady),
		},
		{
			Name: "contract-stalled", Severity: Fault, Needs: messages,
			PointsTo: []Location{BeforePort, AtPort},
			Limits:   values{},
			Text:     "An attempt at a contract ended without PS_RDY.",
			Source:   "USB PD R3.2 V1.1 table 8.32",
			find:     findContractStalled,
		},
		{
			Name: "stuck-at-5v", Severity: Fault, Needs: either,
			PointsTo: []Location{AtPort, BehindPort, BeforePort},
			Limits:   values{"voltage_v": limit(pd.VSafe5V).Max.Value, "current_a": quietAtFiveA, "seconds_s": minStuckS},
			Text:     "VBUS stays at 5 V with little draw and no higher contract.",
			Source:   "USB PD R3.2 V1.1 table 7.25 (vSafe5V); current and time: common practice",
			find:     findStuckAt5V,
		},
		{
			Name: "contract-lost", Severity: Fault, Needs: either,
			PointsTo: []Location{BeforePort, AtPort, BehindPort},
			Limits:   values{"off_s": removalS},
			Text:     "A contract that stood was lost again.",
			Source:   "USB PD R3.2 V1.1 section 6.8.3; a longer gap is a removal of the plug: common practice",
			find:     findContractLost,
		},
		{
			Name: "hard-reset-loop", Severity: Fault, Needs: either,
			PointsTo: []Location{BeforePort, AtPort, BehindPort},
			Limits:   values{"hard_resets": loopResets()},
			Text:     "Hard Reset follows Hard Reset: the pair never settles.",
			Source:   "USB PD R3.2 V1.1 table 6.70: nHardResetCount 2 more after the first, then PD is given up",
			find:     findHardResetLoop,
		},
		{
			Name: "crc-errors", Severity: Warning, Needs: messages,
			PointsTo: []Location{AtPort, BeforePort},
			Limits:   values{"errors_percent": crcErrorPercent},
			Text:     "Messages arrive damaged: the CC line is noisy, badly contacted or loaded.",
			Source:   "USB PD R3.2 V1.1 table 5.17 (a bit error rate of 1e-6 is one frame in thousands)",
			find:     findCRCErrors,
		},
		{
			Name: "cable-limited", Severity: Note, Needs: messages,
			PointsTo: []Location{BeforePort},
			Limits:   values{"current_a": ratedA},
			Text:     "The offer stops at 3 A because the cable did not say that it carries more.",
			Source:   "USB PD R3.2 V1.1 section 4.4",
			find:     findCableLimited,
		},
		{
			Name: "capability-mismatch", Severity: Warning, Needs: messages,
			PointsTo: []Location{BeforePort},
			Limits:   values{},
			Text:     "The sink asked with Capability Mismatch set: the charger offers less than it wants.",
			Source:   "USB PD R3.2 V1.1 table 6.23",
			find:     findCapabilityMismatch,
		},
		{
			Name: "no-draw-at-contract", Severity: Warning, Needs: meter,
			PointsTo: []Location{AtPort, BehindPort, Healthy},
			Limits:   values{"current_a": noDrawA, "seconds_s": minSilentS},
			Text:     "A high voltage stands and nothing is drawn: an open input switch or charger, a latched charger, or a full battery.",
			Source:   "current monitors have offsets of 10 mA class (data sheet SBOS844C); common practice",
			find:     findNoDrawAtContract,
		},
		{
			Name: "current-spike", Severity: Note, Needs: meter,
			PointsTo: []Location{BehindPort, Healthy},
			Limits:   values{},
			Text:     "The current leaps up and back within a moment.",
			Source:   "common practice",
			find:     findCurrentSpikes,
		},
		{
			Name: "staircase-draw", Severity: Fault, Needs: meter,
			PointsTo: []Location{BehindPort, BeforePort},
			Limits:   values{"resets": benignResets},
			Text:     "The draw climbs in steps. A search that settles is sound; one that collapses again and again is not.",
			Source:   "open laptop embedded-controller firmware: 64 mA each 500 ms, at most 3 overcurrents before it settles",
			find:     findStaircases,
		},
		{
			Name: "retry-pulses", Severity: Fault, Needs: meter,
			PointsTo: []Location{BehindPort, AtPort, BeforePort},
			Limits:   values{"count": minPulses},
			Text:     "The draw comes in short equal pulses: something starts, trips and tries again.",
			Source:   "charger data sheets SLUSDU3 and SLUSE65A (500 ms off, 10 ms on, 7 tries), SLVSEG3E, SLVSDJ5D",
			find:     findRetryPulses,
		},
		{
			Name: "over-contract-current", Severity: Fault, Needs: meter,
			PointsTo: []Location{BehindPort, BeforePort},
			Limits:   values{"over_percent": overContractPercent, "overshoot_a": limit(pd.IOvershoot).MaxSI()},
			Text:     "More current flows than the contract allows.",
			Source:   "USB PD R3.2 V1.1 table 7.24 (iOvershoot) and section 7.2.1",
			find:     findOverContractCurrent,
		},
		{
			Name: "vbus-collapse", Severity: Fault, Needs: meter,
			PointsTo: []Location{BeforePort, BehindPort},
			Limits:   values{"current_a": loadedA},
			Text:     "VBUS gives way under load.",
			Source:   "USB PD R3.2 V1.1 section 7.1.7 (overcurrent); common practice",
			find:     findVBUSCollapse,
		},
		{
			Name: "vbus-out-of-range", Severity: Fault, Needs: meter,
			PointsTo: []Location{BeforePort},
			Limits:   values{"settle_s": limit(pd.TSrcSettleSPR).MaxSI()},
			Text:     "VBUS stands outside the window of its contract, or without messages of the fixed voltage nearest to it; or it slides away under load, slower than a contract changes.",
			Source:   "USB PD R3.2 V1.1 tables 7.23 and 7.25 (vSrcNew, vSrcValid, vSafe5V); cable drop USB Type-C R2.0 section 4.4.1",
			find:     findVBUSOutOfRange,
		},
		{
			Name: "series-resistance-high", Severity: Fault, Needs: meter,
			PointsTo: []Location{BeforePort, AtPort},
			Limits:   values{"resistance_ohm": CableOhm(), "drop_v": vindpmDropV},
			Text:     "VBUS sags with the current by more than a sound cable allows.",
			Source:   "USB Type-C R2.0 section 4.4.1 (500 mV and 250 mV at rated current); drop of 1.28 V: charger data sheet SLUSE65A (input voltage regulation)",
			find:     findSeriesResistance,
		},
		{
			Name: "cc-stuck-high", Severity: Fault, Needs: path,
			PointsTo: []Location{AtPort},
			Limits:   values{"share": ccShare, "count": ccSamples},
			Text:     "A CC pin (columns cc1, cc2, or a recording of the line) stands above all that Rd leaves while VBUS is there: VBUS or a supply has got onto it.",
			Source:   "USB Type-C R2.0 tables 4-35 and 4-36; common practice",
			find:     findCCStuckHigh,
		},
		{
			Name: "cc-stuck-low", Severity: Fault, Needs: path,
			PointsTo: []Location{AtPort, BeforePort},
			Limits:   values{"share": ccShare, "count": ccSamples, "seconds_s": ccHeldS},
			Text:     "VBUS is there and both CC pins (columns cc1, cc2, or a recording of the line) stand at 0 V: shorted to ground, or no Rp. A fault: without VBUS a pin is held between 0 V and the least that Rd leaves, or far below what it leaves of this source later.",
			Source:   "USB Type-C R2.0 tables 4-35 and 4-36; common practice",
			find:     findCCStuckLow,
		},
		{
			Name: "rd-missing", Severity: Fault, Needs: path,
			PointsTo: []Location{AtPort},
			Limits:   values{"share": ccShare, "count": ccSamples},
			Text:     "VBUS stays off and a CC pin (columns cc1, cc2, or a recording of the line) stands high: the source pulls up and no Rd pulls down.",
			Source:   "USB Type-C R2.0 section 4.5.2.2 and tables 4-35 and 4-36",
			find:     findRdMissing,
		},
		{
			Name: "rd-on-both", Severity: Fault, Needs: path,
			PointsTo: []Location{AtPort},
			Limits:   values{"share": ccShare, "count": ccSamples, "seconds_s": CCWaitsS},
			Text:     "Both CC pins (columns cc1, cc2, or a recording of both lines) stand at one voltage without VBUS, or carry Rd's with it: a bridge between them, or an adapter; a cable with an e-marker then fails.",
			Source:   "USB Type-C R2.0 sections 4.5.1.2 and 4.5.2.2 and tables 4-35 and 4-36",
			find:     findRdOnBoth,
		},
		{
			Name: "rp-wrong", Severity: Warning, Needs: path,
			PointsTo: []Location{BeforePort},
			Limits:   values{"share": ccShare, "count": ccSamples},
			Text:     "The CC pin (columns cc1, cc2, or a recording of the line) stands between the levels that a source may advertise.",
			Source:   "USB Type-C R2.0 tables 4-24, 4-35 and 4-36",
			find:     findRpWrong,
		},
		{
			Name: "contact-unsteady", Severity: Warning, Needs: meter,
			PointsTo: []Location{BeforePort, AtPort},
			Limits:   values{"jump_ohm": contactJumpOhm, "count": contactJumps},
			Text:     "At the same current VBUS jumps up and down: a contact that comes and goes.",
			Source:   "USB Type-C R2.0 section 3.7.8.1 (contact 40 mohm, four in parallel); common practice",
			find:     findContactUnsteady,
		},
		{
			Name: "resistive-load", Severity: Warning, Needs: meter,
			PointsTo: []Location{BehindPort, AtPort},
			Limits:   values{"exponent": resistiveExponent},
			Text:     "The draw rises with the voltage as a resistor's does: a leak before the converter.",
			Source:   "Ohm's law; a converter draws less at a higher voltage: common practice",
			find:     findResistiveLoad,
		},
		{
			Name: "inrush-excess", Severity: Warning, Needs: meter,
			PointsTo: []Location{BehindPort, AtPort},
			Limits:   values{"attach_uf": limit(pd.CSnkBulk).Max.Value, "contract_uf": limit(pd.CSnkBulkPd).Max.Value},
			Text:     "More charge flows into the input than the standard's capacitance would take.",
			Source:   "USB PD R3.0 V1.1 table 7-20 (cSnkBulk), USB PD R3.2 V1.1 table 7.24 (cSnkBulkPd)",
			find:     findInrushExcess,
		},
		{
			Name: "ramp-normal", Severity: Note, Needs: meter,
			PointsTo: []Location{Healthy},
			Limits:   values{"current_a": workingA, "seconds_s": minSettledS},
			Text:     "The draw rises after the contract and stays: the main rail takes power.",
			Source:   "common practice",
			find:     findRampNormal,
		},
		{
			Name: "charge-taper", Severity: Note, Needs: meter,
			PointsTo: []Location{Healthy},
			Limits:   values{},
			Text:     "The draw falls slowly as in the constant-voltage phase of a charge.",
			Source:   "constant-current, constant-voltage charging: common practice",
			find:     findChargeTaper,
		},
	}
}
