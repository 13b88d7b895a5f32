package rules

import "portside/decode/draw"

// removals are falls to nothing under load, off for 6 s each, from every 20 s.
func removals(n int) build {
	return func(f *Facts) {
		for i := range n {
			at := float64(20 * (i + 1))
			level(at-14, at, 20, 2)(f)
			level(at, at+6, 0, 0)(f)
			collapse(at, 20, 0, 2, number(6.8))(f)
		}
		level(float64(20*n+6), float64(20*n+30), 20, 2)(f)
	}
}

func clockU(s float64) build { return func(f *Facts) { f.ClockU = s } }

// oddLevel is one that fits no fixed voltage.
func oddLevel(startS, endS, v, a float64) build {
	return func(f *Facts) {
		level(startS, endS, v, a)(f)
		f.Draw.Levels[len(f.Draw.Levels)-1].NominalV = v
	}
}

// offers are fixed objects of 3 A.
func offers(mv ...int) build {
	return func(f *Facts) {
		for _, v := range mv {
			offer(v, 3000)(f)
		}
	}
}

func sdPlateau(startS, endS, v, a, sdV float64) build {
	return func(f *Facts) {
		plateau(startS, endS, v, a)(f)
		f.Draw.Plateaus[len(f.Draw.Plateaus)-1].VoltsSD = sdV
	}
}

// jumps are plateaus of 2 A whose VBUS moves by the given step.
func jumps(n int, step float64) build {
	return func(f *Facts) {
		for i := range n {
			plateau(float64(i), float64(i+1), 20-step*float64(i%2), 2)(f)
		}
	}
}

// scatter gives each plateau its rows and their deviation.
func scatter(n int, volts float64) build {
	return func(f *Facts) {
		for i := range f.Draw.Plateaus {
			f.Draw.Plateaus[i].N, f.Draw.Plateaus[i].VoltsSD = n, volts
		}
	}
}

func voltageCases() []ruleCase {
	return []ruleCase{
		{
			name:   "each port both ways",
			facts:  []build{meterLog(120, 20, 2), removals(4)},
			want:   map[string]Severity{"contract-lost": Note},
			not:    []string{"vbus-collapse", "hard-reset-loop"},
			source: "common practice: 3 to 5 plug-ins are enough",
		},
		{
			name:   "2.9 V that are left of a contract without a load",
			facts:  []build{meterLog(60, 20, 2), level(0, 1, 0, 0), level(1, 40, 20, 1.8), oddLevel(40, 45, 2.9, 0), level(45, 60, 20, 1.8), aligned, messageList(30, 9), offers(5000, 20000), func(f *Facts) { f.Negotiation.LastS = number(60) }, contract(1, 20000, 3000, number(46), "restart"), contract(46, 20000, 3000, nil, "")},
			want:   map[string]Severity{"vbus-out-of-range": Warning},
			source: "capacitors behind a plug that is out: common practice",
		},
		{
			name:   "and under a load",
			facts:  []build{meterLog(60, 20, 2), level(0, 1, 0, 0), level(1, 40, 20, 1.8), oddLevel(40, 45, 2.9, 1), level(45, 60, 20, 1.8), aligned, messageList(30, 9), offers(5000, 20000), func(f *Facts) { f.Negotiation.LastS = number(60) }, contract(1, 20000, 3000, number(46), "restart"), contract(46, 20000, 3000, nil, "")},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "vSrcNew: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "more often than anybody replugs",
			facts:  []build{meterLog(160, 20, 2), removals(5)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "common practice: 3 to 5 plug-ins are enough",
		},
		{
			name:   "a Hard Reset under load is not a removal, however long the next contract takes",
			facts:  []build{meterLog(60, 20, 2), level(1, 20, 20, 2), level(20, 20.9, 0, 0), level(21, 22.4, 5, 0.1), level(22.5, 60, 20, 2), collapse(20, 20, 0, 2, number(2.5))},
			want:   map[string]Severity{"vbus-collapse": Warning, "contract-lost": Warning},
			source: "tSrcRecover 1 s, tSrcTurnOn 0.275 s, then the negotiation: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "0.58 V of 5 V at 2.6 A",
			facts:  []build{meterLog(60, 5, 2.6), level(1, 8, 5, 0.01), level(8, 60, 4.42, 2.6), collapse(8, 5, 4.42, 2.6, nil)},
			not:    []string{"vbus-collapse"},
			source: "0.25 V of vSafe5V and 0.75 V at 3 A of a cable: USB PD R3.2 V1.1 table 7.25, USB Type-C R2.0 section 4.4.1",
		},
		{
			name:   "0.58 V of 5 V at 0.6 A",
			facts:  []build{meterLog(60, 5, 0.6), level(1, 8, 5, 0.01), level(8, 60, 4.42, 0.6), collapse(8, 5, 4.42, 0.6, nil)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "as above: 0.15 V at 0.6 A of a cable",
		},
		{
			name:   "3 V of 20 V at 3 A",
			facts:  []build{meterLog(60, 20, 3), level(1, 8, 20, 0.01), level(8, 60, 17, 3), collapse(8, 20, 17, 3, nil)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "as above",
		},
		{
			name:   "PPS begins below 5 V and carries its current there",
			facts:  []build{meterLog(60, 5.1, 3), level(1, 3, 5.1, 0.12), oddLevel(3, 60, 3.7, 2.9), collapse(3, 5.1, 3.7, 0.12, nil)},
			not:    []string{"vbus-collapse", "vbus-out-of-range"},
			source: "PPS of 3.3 V at the least: recorded offers",
		},
		{
			name: "VBUS goes off after each Hard Reset",
			facts: []build{aligned, meterLog(60, 20, 2), collapse(20.04, 20, 0, 2, number(2)), collapse(40.04, 20, 0, 2, number(2)), messageList(40, 9),
				contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, number(40), "hard-reset"), contract(42, 20000, 3000, nil, ""), resets(20, 40)},
			want:   map[string]Severity{"contract-lost": Fault},
			not:    []string{"vbus-collapse"},
			source: "tPSHardReset is 25 to 35 ms: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name: "VBUS falls as each Hard Reset is sent",
			facts: []build{aligned, meterLog(60, 20, 2), collapse(20, 20, 0, 2, number(2)), collapse(40, 20, 0, 2, number(2)), messageList(40, 9),
				contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, number(40), "hard-reset"), contract(42, 20000, 3000, nil, ""), resets(20, 40)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "tPSHardReset is 25 ms at least, so these fell first: a source in overcurrent: USB PD R3.2 V1.1 section 7.1.7",
		},
		{
			name: "VBUS falls as often as there are Hard Resets, on two clocks",
			facts: []build{meterLog(60, 20, 2), collapse(20, 20, 0, 2, number(2)), collapse(40, 20, 0, 2, number(2)), messageList(40, 9),
				contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, number(40), "hard-reset"), resets(20, 40)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "overcurrent ends in Hard Reset: USB PD R3.2 V1.1 section 7.1.7",
		},
		{
			name:   "VBUS falls once and there is one Hard Reset, on two clocks",
			facts:  []build{meterLog(60, 20, 2), collapse(20, 20, 0, 2, number(2)), messageList(40, 9), contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, nil, ""), resets(20)},
			want:   map[string]Severity{"contract-lost": Warning},
			not:    []string{"vbus-collapse"},
			source: "a Hard Reset turns VBUS off: USB PD R3.2 V1.1 section 7.1.5",
		},
		{
			name: "VBUS falls before each Hard Reset by less than the clocks agree",
			facts: []build{aligned, clockU(0.1), meterLog(60, 20, 2), collapse(19.98, 20, 0, 2, number(2)), collapse(39.98, 20, 0, 2, number(2)), messageList(40, 9),
				contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, number(40), "hard-reset"), contract(42, 20000, 3000, nil, ""), resets(20, 40)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "common practice: a sound machine does not reset again and again under load, and which came first stays open",
		},
		{
			name: "VBUS falls before one Hard Reset by less than the clocks agree",
			facts: []build{aligned, clockU(0.1), meterLog(60, 20, 2), collapse(19.98, 20, 0, 2, number(2)), messageList(40, 9),
				contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, nil, ""), resets(20)},
			not:    []string{"vbus-collapse"},
			source: "without a stated offset a claim across two clocks must hold for every offset that is possible",
		},
		{
			name: "VBUS falls more often than Hard Resets explain, on two clocks",
			facts: []build{meterLog(60, 20, 2), collapse(20, 20, 0, 2, number(2)), collapse(40, 20, 0, 2, number(2)), messageList(40, 9),
				contract(1, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, nil, ""), resets(20)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "each Hard Reset turns VBUS off once: USB PD R3.2 V1.1 section 7.1.5",
		},
		{
			name:   "22.5 V on a contract of 20 V, which no fixed voltage is near",
			facts:  []build{aligned, meterLog(60, 22.5, 2), level(1, 60, 22.5, 2), messageList(40, 9), contract(1, 20000, 3000, nil, "")},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "vSrcNew ends 5 % above: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "12 V after a contract of 9 V, on one that was not recorded",
			facts:  []build{aligned, meterLog(60, 12, 2), level(1, 60, 12, 2), messageList(40, 9), contract(1, 9000, 3000, nil, "")},
			not:    []string{"vbus-out-of-range"},
			source: "12 V is a fixed voltage of its own: USB PD R3.2 V1.1 section 10.2",
		},
		{
			name:   "VBUS goes down 0.1 s after the PS_RDY of a lower contract",
			facts:  []build{aligned, meterLog(60, 20, 2), level(1, 20, 20, 2), level(20.3, 60, 15, 2), collapse(20.1, 20, 15, 2, nil), messageList(40, 9), contract(1, 20000, 3000, number(20), "new-contract"), contract(20, 15000, 3000, nil, "")},
			not:    []string{"vbus-collapse"},
			source: "some say PS_RDY too early: common practice",
		},
		{
			name:   "VBUS goes down 0.4 s after it",
			facts:  []build{aligned, meterLog(60, 20, 2), level(1, 20.4, 20, 2), level(20.5, 60, 15, 2), collapse(20.4, 20, 15, 2, nil), messageList(40, 9), contract(1, 20000, 3000, number(20), "new-contract"), contract(20, 15000, 3000, nil, "")},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "PS_RDY says that VBUS is there: USB PD R3.2 V1.1 table 7.23, vSrcNew",
		},
		{
			name:   "PPS of 7.7 V after 9 V, by the messages",
			facts:  []build{meterLog(60, 9, 2), level(1, 10, 9, 1.6), oddLevel(10, 60, 7.7, 2), collapse(10, 9, 7.7, 1.6, nil), messageList(9, 3), contract(1, 9000, 2000, number(10), "new-contract"), pps(10, 8000, 2500)},
			not:    []string{"vbus-collapse"},
			source: "USB PD R3.2 V1.1 section 6.4.2",
		},
		{
			name:   "a source of 9 V that falls to 7.7 V under load",
			facts:  []build{meterLog(60, 9, 2), level(1, 10, 9, 1.6), oddLevel(10, 60, 7.7, 2), collapse(10, 9, 7.7, 1.6, nil), messageList(9, 3), contract(1, 9000, 2000, nil, "")},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "a source in current limit: USB PD R3.2 V1.1 section 7.1.7",
		},
		{
			name:   "a source that falls to 3.7 V at its limit",
			facts:  []build{meterLog(60, 5.1, 3), level(1, 3, 5.1, 2.4), oddLevel(3, 60, 3.7, 2.5), collapse(3, 5.1, 3.7, 2.4, nil)},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "a source in current limit: USB PD R3.2 V1.1 section 7.1.7",
		},
		{
			name:   "VBUS above 15 V that moves with a programmable contract",
			facts:  []build{meterLog(60, 16, 2), level(1, 60, 16, 2), sdPlateau(1, 60, 16, 2, 0.1)},
			want:   map[string]Severity{"vbus-out-of-range": Note},
			source: "steps of 20 mV: USB PD R3.2 V1.1 table 6.26",
		},
		{
			name:   "VBUS above 15 V that stands",
			facts:  []build{meterLog(60, 16, 2), level(1, 60, 16, 2), sdPlateau(1, 60, 16, 2, 0.005)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "vSrcNew at 15 V is 14.25 to 15.75 V: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name: "a plain source's limit is searched for, seen once a second",
			facts: []build{meterLog(90, 5, 1.4), func(f *Facts) { f.Draw.Sampling.IntervalS = 1 }, level(0, 90, 5, 1), collapse(10, 5, 0, 1.4, number(2)), collapse(25, 5, 0, 1.4, number(2)),
				plateau(40, 90, 5, 1.27)},
			want:   map[string]Severity{"vbus-collapse": Warning},
			source: "three overcurrents, VBUS back within 1 s each, and it settles: open laptop embedded-controller firmware",
		},
		{
			name:   "a search that the recording does not see the end of",
			facts:  []build{meterLog(35, 5, 1.4), level(0, 35, 5, 1), collapse(10, 5, 0, 1.4, number(0.8)), collapse(25, 5, 0, 1.4, number(0.8))},
			want:   map[string]Severity{"vbus-collapse": Warning},
			source: "as above: 8 to 20 s a climb",
		},
		{
			name:   "a plain source that gives way and never carries a draw again",
			facts:  []build{meterLog(90, 5, 1.4), level(0, 90, 5, 1), collapse(10, 5, 0, 1.4, number(0.8)), collapse(25, 5, 0, 1.4, number(0.8))},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "as above: it settles in time",
		},
		{
			name:   "12.5 V where the messages agreed on 20 V",
			facts:  []build{aligned, meterLog(60, 20, 2), messageList(4, 2), offers(5000, 9000, 12000, 20000), contract(10, 20000, 3000, nil, ""), level(11, 60, 12.5, 0.3)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "vSrcNew at 20 V is 19 to 21 V: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "12 V on clocks of their own where nothing offered gives it",
			facts:  []build{meterLog(60, 20, 2), messageList(4, 2), offers(5000, 9000, 20000), contract(10, 20000, 3000, nil, ""), level(0, 1, 0, 0), level(11, 60, 12.5, 0.3)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "a source gives what it offered: USB PD R3.2 V1.1 section 6.4.1",
		},
		{
			name:   "17.2 V beside contracts of 20 V, on clocks of their own, where nothing offered gives it",
			facts:  []build{meterLog(60, 17.2, 1), messageList(8, 4), offers(5000, 9000, 20000), contract(10, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, nil, ""), level(0, 1, 0, 0), level(11, 60, 17.2, 2.9)},
			want:   map[string]Severity{"vbus-out-of-range": Warning},
			source: "vSrcNew at 20 V is 19 V at least, and a sound cable takes 0.75 V: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "17.2 V where 17 V was offered too",
			facts:  []build{meterLog(60, 17.2, 1), messageList(8, 4), offers(5000, 9000, 17000, 20000), contract(10, 20000, 3000, number(20), "hard-reset"), contract(22, 20000, 3000, nil, ""), level(0, 1, 0, 0), level(11, 60, 17.2, 2.9)},
			not:    []string{"vbus-out-of-range"},
			source: "a recorder may stop before the meter does: common practice",
		},
		{
			name:   "9 V from 5 V on beside the one contract of 20 V, on clocks of their own",
			facts:  []build{meterLog(60, 9.1, 2), messageList(4, 2), offers(5000, 9000, 20000), contract(10, 20000, 3000, nil, ""), level(0, 1, 0, 0), level(1, 2, 5.1, 0), level(2, 60, 9.1, 0.01)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "a source says PS_RDY once it is at the voltage: USB PD R3.2 V1.1 table 7.23, vSrcNew",
		},
		{
			name:   "9 V on a log that begins there may be younger than the contract",
			facts:  []build{meterLog(60, 9.1, 2), messageList(4, 2), offers(5000, 9000, 20000), contract(10, 20000, 3000, nil, ""), level(0, 60, 9.1, 0.01)},
			not:    []string{"vbus-out-of-range"},
			source: "as above",
		},
		{
			name:   "26 V where 20 V is the most that is offered",
			facts:  []build{aligned, meterLog(60, 26, 2), level(1, 60, 26, 0.01), messageList(40, 9), offers(5000, 20000), contract(1, 20000, 3000, nil, "")},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "a source gives what it offered: USB PD R3.2 V1.1 section 6.4.1",
		},
		{
			name:   "5 V to the end beside a contract of 20 V",
			facts:  []build{meterLog(60, 5.1, 0.4), messageList(4, 2), offers(5000, 20000), contract(10, 20000, 3000, nil, ""), level(0, 1, 0, 0), level(1, 60, 5.1, 0.3)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "PS_RDY is said once VBUS is there: USB PD R3.2 V1.1 table 7.23, vSrcNew",
		},
		{
			name:   "12 V on clocks of their own where it was offered",
			facts:  []build{meterLog(60, 20, 2), messageList(4, 2), offers(5000, 9000, 12000, 20000), contract(10, 20000, 3000, nil, ""), level(11, 60, 12.2, 0.3)},
			not:    []string{"vbus-out-of-range"},
			source: "common practice: a recorder of messages may stop before the meter",
		},
		{
			name:   "15 V long after the messages ended, where it was offered",
			facts:  []build{aligned, meterLog(60, 20, 2), messageList(4, 2), offers(5000, 15000, 20000), contract(10, 20000, 3000, nil, ""), level(10, 40, 20, 1), level(40, 60, 14.6, 1)},
			not:    []string{"vbus-out-of-range"},
			source: "common practice: a recorder of messages may stop before the meter",
		},
		{
			name: "15 V long after the messages ended, slid to",
			facts: []build{aligned, meterLog(60, 20, 2), messageList(4, 2), offers(5000, 15000, 20000), contract(10, 20000, 3000, nil, ""), level(10, 40, 20, 1), level(41, 60, 14.6, 1),
				func(f *Facts) { f.Draw.Slides = []draw.Slide{{StartS: 40, EndS: 40.6, FromV: 20, ToV: 17, AtA: 1}} }},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "tSrcSettle is 275 ms at most: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "plugged in anew after the messages ended",
			facts:  []build{aligned, meterLog(60, 20, 2), messageList(4, 2), offers(5000, 20000), contract(10, 20000, 3000, nil, ""), level(10, 15, 20, 1), level(15, 18, 0, 0), level(18, 60, 12, 1)},
			not:    []string{"vbus-out-of-range"},
			source: "common practice: another charger may be tried",
		},
		{
			name:   "a little low at a heavy draw",
			facts:  []build{aligned, meterLog(60, 20, 3), messageList(4, 2), offers(5000, 20000), contract(10, 20000, 3000, nil, ""), level(11, 60, 17.5, 3)},
			want:   map[string]Severity{"vbus-out-of-range": Warning},
			source: "19 V less 0.75 V of the cable is 18.25 V: USB PD R3.2 V1.1 table 7.23, USB Type-C R2.0 section 4.4.1",
		},
		{
			name: "a meter alone sees VBUS slide away",
			facts: []build{meterLog(60, 20, 2), level(1, 40, 20, 1.5), level(41, 60, 14.6, 1.5),
				func(f *Facts) { f.Draw.Slides = []draw.Slide{{StartS: 40, EndS: 40.6, FromV: 20, ToV: 17, AtA: 1.5}} }},
			want:   map[string]Severity{"vbus-out-of-range": Warning},
			source: "tSrcSettle is 275 ms at most: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name:   "VBUS jumps at the same current",
			facts:  []build{meterLog(10, 20, 2), jumps(6, 0.4)},
			want:   map[string]Severity{"contact-unsteady": Warning},
			source: "0.4 V at 2 A is 200 mohm; a contact has 40 at most: USB Type-C R2.0 section 3.7.8.1",
		},
		{
			name: "a draw that swings takes VBUS along",
			facts: []build{meterLog(10, 20, 2), jumps(6, 0.4), func(f *Facts) {
				f.Draw.Oscillation = &draw.Oscillation{StartS: 1, EndS: 9, Count: 40, PeriodS: 0.2, SwingA: 1}
			}},
			not:    []string{"contact-unsteady"},
			source: "Ohm's law: 1 A through a cable of 0.1 ohm",
		},
		{
			name:   "VBUS jumps by less than a worn contact does",
			facts:  []build{meterLog(10, 20, 2), jumps(6, 0.1)},
			not:    []string{"contact-unsteady"},
			source: "0.1 V at 2 A is 50 mohm: USB Type-C R2.0 section 3.7.8.1",
		},
		{
			name:   "VBUS jumps by no more than the rows of each stretch scatter",
			facts:  []build{meterLog(10, 20, 2), jumps(6, 0.4), scatter(4, 0.2)},
			not:    []string{"contact-unsteady"},
			source: "common practice: a meter's noise may reach 1 % of its reading",
		},
		{
			name:   "rows that noise has set apart on a fast log",
			facts:  []build{meterLog(10, 20, 2), jumps(6, 0.9), scatter(1, 0.1), func(f *Facts) { f.Draw.Sampling.IntervalS = 0.01 }},
			not:    []string{"contact-unsteady"},
			source: "common practice: a contact opens for longer than a row of 10 ms",
		},
		{
			name: "VBUS jumps because it falls away",
			facts: []build{meterLog(10, 20, 2), jumps(6, 0.4), func(f *Facts) {
				for i := range 6 {
					f.Draw.Collapses = append(f.Draw.Collapses, draw.Collapse{TimeS: float64(i) + 0.95, FromV: 20, ToV: 15, AtA: 2, BackS: number(0.5)})
				}
			}},
			not:    []string{"contact-unsteady"},
			source: "a search for the source's limit: open laptop embedded-controller firmware",
		},
	}
}
