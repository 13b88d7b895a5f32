package rules

import (
	"portside/decode/negotiation"
	"portside/pd"
)

func interval(s float64) build {
	return func(f *Facts) { f.Draw.Sampling.IntervalS = s }
}

func aligned(f *Facts) { f.Aligned = true }

func crcErrors(source, misread int) build {
	return func(f *Facts) {
		f.Negotiation.CRCErrors = negotiation.CRCErrors{Source: source, Misread: misread, FirstS: 1, LastS: 2}
	}
}

func cable(asked bool, answeredMA int) build {
	return func(f *Facts) {
		f.Negotiation.CableAnswers = negotiation.CableLimit{Asked: asked, Answered: answeredMA > 0, CurrentMA: answeredMA}
	}
}

func mismatch(at float64) build {
	return func(f *Facts) {
		f.Negotiation.Mismatches = append(f.Negotiation.Mismatches, negotiation.Moment{TimeS: at})
	}
}

func pps(startS float64, mv, ma int) build {
	return func(f *Facts) {
		contract(startS, mv, ma, nil, "")(f)
		f.Negotiation.Contracts[len(f.Negotiation.Contracts)-1].Kind = pd.KindPPS.String()
	}
}

func contractCases() []ruleCase {
	return []ruleCase{
		{
			name:   "the recorder notes VBUS off at the end",
			facts:  []build{messageList(9, 3), contract(1, 20000, 3000, number(9), "vbus-off"), vbusNotes(0.5, -9)},
			want:   map[string]Severity{"contract-lost": Note},
			source: "common practice: the plug is pulled",
		},
		{
			name: "VBUS goes off for a second with no Hard Reset, twice",
			facts: []build{messageList(30, 9), contract(1, 20000, 3000, number(9), "vbus-off"), contract(12, 20000, 3000, number(15), "vbus-off"),
				contract(17, 20000, 3000, nil, ""), vbusNotes(0.5, -9, 10, -15, 16)},
			want:   map[string]Severity{"contract-lost": Fault},
			source: "a source that trips comes back after 985 ms: data sheet SLVSDJ5D",
		},
		{
			name: "the plug turned twice",
			facts: []build{messageList(30, 9), contract(1, 20000, 3000, number(9), "vbus-off"), contract(15, 20000, 3000, number(19), "vbus-off"),
				contract(25, 20000, 3000, nil, ""), vbusNotes(0.5, -9, 14, -19, 24)},
			want:   map[string]Severity{"contract-lost": Note},
			source: "common practice: both ways in each port",
		},
		{
			name:   "one Hard Reset inside a contract and a new one",
			facts:  []build{messageList(30, 9), contract(1, 20000, 3000, number(9), "hard-reset"), resets(9), contract(11, 20000, 3000, nil, "")},
			want:   map[string]Severity{"contract-lost": Warning},
			not:    []string{"hard-reset-loop"},
			source: "USB PD R3.2 V1.1 section 6.8.3",
		},
		{
			name: "two resets, a contract, and VBUS is gone to the end",
			facts: []build{meterLog(60, 20, 0.1), level(1, 3.9, 20, 0.05), level(4, 60, 0, 0), aligned,
				messageList(30, 9), contract(1, 20000, 3000, number(2), "hard-reset"), contract(2.5, 20000, 3000, number(3), "hard-reset"), resets(2, 3), contract(3.5, 20000, 3000, nil, "")},
			want:   map[string]Severity{"contract-lost": Fault},
			source: "a source that gives up after nHardResetCount says nothing: USB PD R3.2 V1.1 table 6.70",
		},
		{
			name: "and VBUS is there to the end",
			facts: []build{meterLog(60, 20, 0.1), level(1, 60, 20, 0.05), aligned,
				messageList(30, 9), contract(1, 20000, 3000, number(2), "hard-reset"), contract(2.5, 20000, 3000, number(3), "hard-reset"), resets(2, 3), contract(3.5, 20000, 3000, nil, "")},
			want:   map[string]Severity{"contract-lost": Warning},
			source: "as above",
		},
		{
			name:   "the recording ends right after a Soft_Reset",
			facts:  []build{messageList(30, 9), contract(1, 20000, 3000, number(9), "soft-reset"), attempt(9, 9.02, negotiation.StepLeft)},
			not:    []string{"contract-lost"},
			source: "the offer is due 250 ms after the Accept: USB PD R3.2 V1.1 table 6.68",
		},
		{
			name:   "the recording ends right after a Hard Reset",
			facts:  []build{messageList(30, 9), contract(1, 20000, 3000, number(9), "hard-reset"), resets(9), attempt(9, 9.2, negotiation.StepLeft)},
			want:   map[string]Severity{"contract-lost": Warning},
			source: "VBUS is due 1.6 s after it: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "no offer comes after a Soft_Reset",
			facts:  []build{messageList(30, 9), contract(1, 20000, 3000, number(9), "soft-reset"), attempt(9, 10, negotiation.StepCapabilities)},
			want:   map[string]Severity{"contract-lost": Fault, "no-source-capabilities": Fault},
			source: "the offer is due 250 ms after the Accept: USB PD R3.2 V1.1 table 6.68",
		},
		{
			name: "VBUS goes to 5 V without going off",
			facts: []build{meterLog(60, 9, 2), level(1, 40, 9, 1.8), level(40, 60, 5.1, 0.1),
				collapse(40, 9, 5.1, 1.8, nil)},
			want:   map[string]Severity{"contract-lost": Note},
			source: "a Hard Reset goes through vSafe0V: USB PD R3.2 V1.1 section 7.1.5; without it the contract was changed",
		},
		{
			name:   "VBUS goes to 5 V on a log that would not show a reset",
			facts:  []build{meterLog(60, 9, 2), interval(5), level(1, 40, 9, 1.8), level(40, 60, 5.1, 0.1)},
			want:   map[string]Severity{"contract-lost": Warning},
			source: "tSrcRecover is 0.66 to 1 s: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "VBUS goes off for a second and only 5 V comes back",
			facts:  []build{meterLog(60, 20, 2), level(1, 40, 20, 1.8), level(40, 40.9, 0, 0), level(41, 60, 5.1, 0.02)},
			want:   map[string]Severity{"contract-lost": Fault},
			source: "a Hard Reset that no contract follows: USB PD R3.2 V1.1 section 6.8.3",
		},
		{
			name: "a source that restarts without a Hard Reset, as the meter shows",
			facts: []build{meterLog(18, 20, 2), level(1, 5, 20, 2), level(5, 6, 0, 0), level(6, 9, 20, 2), level(9, 10, 0, 0), level(10, 18, 20, 2),
				messageList(18, 9), contract(1, 20000, 3000, number(6), "new-contract"), contract(6, 20000, 3000, number(10), "new-contract"), contract(10, 20000, 3000, nil, "")},
			want:   map[string]Severity{"contract-lost": Fault},
			source: "a source that trips comes back after 985 ms: data sheet SLVSDJ5D",
		},
		{
			name: "two starts that are lost, and a third that stands",
			facts: []build{meterLog(30, 20, 2), level(1, 5, 20, 2), level(5, 6, 0, 0), level(6, 9, 20, 2), level(9, 10, 0, 0), level(10, 30, 20, 2),
				messageList(30, 9), contract(1, 20000, 3000, number(6), "new-contract"), contract(6, 20000, 3000, number(10), "new-contract"), contract(10, 20000, 3000, nil, "")},
			want:   map[string]Severity{"contract-lost": Warning},
			source: "plugs are turned over: common practice",
		},
		{
			name: "VBUS off in a swap of the roles",
			facts: []build{meterLog(30, 20, 2), level(1, 5, 20, 2), level(5, 5.4, 0, 0), level(5.5, 9, 20, 2), level(9, 9.4, 0, 0), level(9.5, 30, 20, 2),
				messageList(30, 9), contract(1, 20000, 3000, number(5), "role-swap"), contract(6, 20000, 3000, number(9), "role-swap"), contract(10, 20000, 3000, nil, "")},
			not:    []string{"contract-lost"},
			source: "USB PD R3.2 V1.1 section 7.3.2",
		},
		{
			name:   "pulled and put into a plain source",
			facts:  []build{meterLog(90, 20, 2), level(1, 40, 20, 1.8), level(40, 50, 0, 0), level(50, 90, 5.1, 1.2), plateau(50, 90, 5.1, 1.2)},
			want:   map[string]Severity{"contract-lost": Note},
			not:    []string{"stuck-at-5v", "hard-reset-loop"},
			source: "common practice",
		},
		{
			name: "two plugs into a source without PD, three resets each",
			facts: []build{messageList(0, 6), attached(0.5), resets(1, 2, 3), detached(5), attached(8),
				resets(8.5, 9.5, 10.5)},
			not:    []string{"hard-reset-loop"},
			source: "a sink sends 3 at most: USB PD R3.2 V1.1 table 6.70",
		},
		{
			name: "a plug that loses VBUS in each reset is still a loop",
			facts: []build{messageList(0, 6), attached(0.5), resets(1, 2, 3), detached(3.1), attached(3.9),
				resets(4.2, 5.2, 6.2)},
			want:   map[string]Severity{"hard-reset-loop": Fault},
			source: "VBUS is off for 0.66 to 1 s in a Hard Reset: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "VBUS off and on four times within resets",
			facts:  []build{meterLog(20, 5.1, 0.1), level(0, 2, 5.1, 0.1), level(2, 2.8, 0, 0), level(3, 4, 5.1, 0.1), level(4, 4.8, 0, 0), level(5, 6, 5.1, 0.1), level(6, 6.8, 0, 0), level(7, 8, 5.1, 0.1), level(8, 8.8, 0, 0), level(9, 20, 5.1, 0.1)},
			want:   map[string]Severity{"hard-reset-loop": Fault},
			source: "USB PD R3.2 V1.1 tables 6.70 and 7.23",
		},
		{
			name:   "one message in four arrives damaged",
			facts:  []build{messageList(6, 2), crcErrors(2, 0)},
			want:   map[string]Severity{"crc-errors": Warning},
			source: "a bit error rate of 1e-6: USB PD R3.2 V1.1 table 5.17",
		},
		{
			name:   "what the partner acknowledged only the recorder heard badly",
			facts:  []build{messageList(6, 2), crcErrors(2, 2)},
			not:    []string{"crc-errors"},
			source: "GoodCRC says that the CRC was right: USB PD R3.2 V1.1 section 6.3.1",
		},
		{
			name:   "20 V 3 A after a cable without an answer",
			facts:  []build{messageList(9, 3), cable(true, 0), offer(5000, 3000), offer(20000, 3000)},
			want:   map[string]Severity{"cable-limited": Note},
			source: "USB PD R3.2 V1.1 section 4.4",
		},
		{
			name:   "20 V 5 A after a cable of 5 A",
			facts:  []build{messageList(9, 3), cable(true, 5000), offer(5000, 3000), offer(20000, 5000)},
			not:    []string{"cable-limited"},
			source: "USB PD R3.2 V1.1 section 4.4",
		},
		{
			name:   "a cable that was never asked may be captive",
			facts:  []build{messageList(9, 3), offer(5000, 3000), offer(20000, 3000)},
			not:    []string{"cable-limited", "capability-mismatch"},
			source: "USB Type-C R2.0 section 4.9",
		},
		{
			name:   "a Request with Capability Mismatch",
			facts:  []build{messageList(9, 3), offer(5000, 3000), mismatch(2), contract(3, 5000, 3000, nil, "")},
			want:   map[string]Severity{"capability-mismatch": Warning},
			source: "USB PD R3.2 V1.1 table 6.23",
		},
		{
			name:   "a source of PPS that holds 1 A within its tolerance",
			facts:  []build{meterLog(30, 9, 1.15), plateau(5, 25, 9, 1.14), messageList(9, 3), pps(3, 9000, 1000)},
			not:    []string{"over-contract-current"},
			source: "iPpsCLNew is 150 mA up to 3 A: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "a source of PPS that does not hold 1 A",
			facts:  []build{meterLog(30, 9, 1.3), plateau(5, 25, 9, 1.3), messageList(9, 3), pps(3, 9000, 1000)},
			want:   map[string]Severity{"over-contract-current": Fault},
			source: "iPpsCLNew is 150 mA up to 3 A: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "3 A of Type-C before a contract of 9 V and 2 A",
			facts:  []build{meterLog(30, 9, 3), plateau(1, 6, 5, 2.9), plateau(6, 25, 9, 1.9), messageList(9, 3), contract(3, 9000, 2000, nil, "")},
			not:    []string{"over-contract-current"},
			source: "Rp of a 3 A source: USB Type-C R2.0 table 4-17",
		},
		{
			name:   "3 A of Type-C before the contract on one clock",
			facts:  []build{aligned, meterLog(30, 9, 3), plateau(1, 6, 5, 2.9), plateau(6.2, 25, 9, 1.9), messageList(9, 3), contract(6.1, 9000, 2000, nil, "")},
			not:    []string{"over-contract-current"},
			source: "Rp of a 3 A source: USB Type-C R2.0 table 4-17",
		},
		{
			name: "the larger contract came later, on one clock",
			facts: []build{aligned, meterLog(30, 20, 3), plateau(3, 9, 9, 2.9), plateau(11, 25, 20, 2.9), messageList(9, 3),
				contract(2, 9000, 1500, number(10), "new-contract"), contract(10, 20000, 3000, nil, "")},
			want:   map[string]Severity{"over-contract-current": Fault},
			source: "USB PD R3.2 V1.1 section 7.2.1",
		},
		{
			name:   "a log that begins inside a contract of before the messages",
			facts:  []build{meterLog(30, 20, 2.2), level(0, 30, 20, 2.2), plateau(1, 25, 20, 2.2), messageList(9, 3), contract(3.7, 20000, 1500, nil, "")},
			not:    []string{"over-contract-current"},
			source: "the contract of that time is not known: common practice",
		},
		{
			name:   "6 A on a meter alone",
			facts:  []build{meterLog(30, 14, 6), plateau(5, 25, 14, 6)},
			want:   map[string]Severity{"over-contract-current": Fault},
			source: "no object offers more than 5 A: USB PD R3.2 V1.1 table 10.2",
		},
		{
			name:   "5 A on a meter alone",
			facts:  []build{meterLog(30, 20, 5.1), plateau(5, 25, 20, 5.1)},
			not:    []string{"over-contract-current"},
			source: "no object offers more than 5 A: USB PD R3.2 V1.1 table 10.2; meters are 1 % off: common practice",
		},
		{
			name:   "a ramp past the contract, cut into rows",
			facts:  []build{meterLog(30, 20, 4), plateau(5, 10, 20, 2.9), plateau(10.1, 10.1, 20, 3.3), plateau(10.2, 10.2, 20, 3.5), plateau(10.3, 10.3, 20, 3.8), messageList(9, 3), contract(3, 20000, 3000, nil, "")},
			want:   map[string]Severity{"over-contract-current": Fault},
			source: "USB PD R3.2 V1.1 section 7.2.1",
		},
		{
			name:   "rows past the contract with less between them",
			facts:  []build{meterLog(30, 20, 4), plateau(5, 10, 20, 2.9), plateau(10.1, 10.1, 20, 3.3), plateau(10.2, 10.2, 20, 2.5), plateau(10.3, 10.3, 20, 3.3), messageList(9, 3), contract(3, 20000, 3000, nil, "")},
			not:    []string{"over-contract-current"},
			source: "an overshoot after a step: common practice",
		},
		{
			name:   "a contract of 5 V and 0.5 A overdrawn for long",
			facts:  []build{meterLog(30, 5, 2), plateau(5, 25, 5, 2), messageList(9, 3), contract(3, 5000, 500, nil, "")},
			want:   map[string]Severity{"over-contract-current": Fault},
			source: "USB PD R3.2 V1.1 section 7.2.1",
		},
	}
}
