package bench

import "math/rand/v2"

// Families lists every scenario that the bench can draw: those that come as
// recordings, and more.
func Families() []Family {
	out := recordedFamilies()
	out = append(out, soundFamilies()...)
	out = append(out, beforeFamilies()...)
	out = append(out, portFamilies()...)
	return append(out, boardFamilies()...)
}

// idleSwing is how much an idle machine's draw moves.
var idleSwing = Span{"idle_swing", 0.002, 0.25, true, "a menu stands still, a desktop does not: " + practice}

// longLog is the length of a recording of what takes its time.
var longLog = Span{"duration_s", 60, 180, true, practice}

// recordedFamilies draw around the scenarios of [Scenarios]. How long they
// record tells nothing of the answer: it is drawn as for all.
func recordedFamilies() []Family {
	spans := map[string][]Span{
		"sound-boot":           {{"boot_s", 1, 8, false, practice}, {"battery_start", 0.97, 1, false, practice}, idleSwing},
		"sound-precharge":      {{"battery_start", -0.02, -0.0015, false, "precharge takes 5 to 30 min: " + practice}, longLog},
		"hard-short-main-rail": {{"rail_short_ohm", 0.015, 0.3, true, "ohms to milliohms, and it wanders: maker's pages on flex cracks; " + practice}},
		"soft-short-main-rail": {{"rail_short_ohm", 1.2, 4.5, true, "5 to 20 ohm leaky, below 5 ohm a short: trade pages that disagree; " + practice}},
		"staircase-collapse": {
			{"rail_short_ohm", 0.7, 1.2, true, practice}, {"hiccup_volts", 2, 2.4, false, "2.4 V: data sheet SLUSE65A"},
			{"hiccup_limit_a", 0.45, 1, true, "0.5 A: data sheet SLUSDU3; other designs: " + practice}, {"search_dwell_s", 0.25, 0.9, true, "500 ms: open laptop embedded-controller firmware"},
			{"search_step_a", 0.05, 0.13, true, "64 mA: open laptop embedded-controller firmware; 50 or 100 mA: data sheet SLUSE65A"}, longLog,
		},
		"plain-charger-search": {{"search_dwell_s", 0.25, 0.7, true, "500 ms: open laptop embedded-controller firmware"}, {"battery_start", 0.1, 0.6, false, practice}, longLog},
		"leaky-vbus":           {{"vbus_leak_ohm", 25, 160, true, "10 ohm to 1 kohm: " + practice}, {"battery_start", 0.3, 1, false, practice}},
		"dead-port-controller": {{"controller_w", 0.002, 0.12, true, "whatever a dead part takes: " + practice}},
		"shorted-vbus":         {{"vbus_leak_ohm", 0.03, 0.8, true, "below 10 ohm: " + practice}},
		"weak-charger":         {{"source_trip_ms", 5, 150, true, practice}},
		"resistive-cable":      {{"cable_ohm", holdsFromOhm, holdsToOhm, false, "as much as holds the machine back; above 0.25 ohm: USB Type-C R2.0 section 4.4.1"}},
		"sound-end-of-charge":  {{"battery_start", 0.85, 0.93, false, practice}},
	}
	var out []Family
	for _, s := range Scenarios() {
		s.Parameters.DurationS, s.Parameters.ChargeA = Sound().DurationS, Sound().ChargeA
		f := Family{Scenario: s, spans: spans[s.Name]}
		switch s.Name {
		case "sound-end-of-charge":
			f.meter, f.vary = slowMeter, hungry
		case "sound-precharge", "sound-full-battery":
			f.meter = patientMeter
		case "weak-charger": // too weak for this machine
			f.vary = func(r *rand.Rand, p *Parameters) {
				p.ChargeA = max(p.ChargeA, 2)
				p.SourceLimitA = p.chargeInput() * even(r, 0.3, 0.8)
			}
		case "plain-charger-search":
			f.vary = mayNotWait
		case "charger-without-power-ready":
			f.vary = mayBeAlone
		case "resistive-cable":
			f.vary = func(r *rand.Rand, p *Parameters) { p.CableOhm = holdsBack(r, p) }
		case "cable-without-marker": // and would take more
			f.vary = func(r *rand.Rand, p *Parameters) {
				hungry(r, p)
				p.SinkWantsMW = s.Parameters.SinkWantsMW
			}
		}
		out = append(out, f)
	}
	return out
}

// hungry is a machine that charges as fast as its pack lets it.
func hungry(r *rand.Rand, p *Parameters) { p.ChargeA = p.BatteryAH * even(r, 0.5, 0.9) }

// What a thin lead or a worn charger has. Common practice.
const holdsFromOhm, holdsToOhm = 0.45, 1.5

// holdsBack is a resistance in the lead that keeps a hungry machine from what it would
// take: VBUS falls as far as its charger circuit lets it.
func holdsBack(r *rand.Rand, p *Parameters) float64 {
	hungry(r, p)
	return min(max(p.InputDropV/p.chargeInput()*even(r, 1.1, 2), holdsFromOhm), holdsToOhm)
}

// startsOnItsContract: a board without a battery takes no more for its start than it asked for,
// its peaks and the charger circuit's losses included.
func startsOnItsContract(_ *rand.Rand, p *Parameters) {
	p.BootW = min(p.BootW, 0.6*float64(p.SinkWantsMW)/1000)
}

// mayNotWait: half of the machines take 5 V by Rp alone.
func mayNotWait(r *rand.Rand, p *Parameters) { p.PlainAtOnce = r.IntN(2) == 0 }

// slowMeter is what is left on a machine for long.
func slowMeter(r *rand.Rand, p *Parameters) {
	varyMeter(r, p)
	p.DurationS, p.MeterHz = even(r, 600, 2400), oneOf(r, 1.0, 1, 2, 5)
}

// patientMeter is any meter, or one that is left on for long to see whether it comes.
func patientMeter(r *rand.Rand, p *Parameters) {
	if r.IntN(2) == 0 {
		slowMeter(r, p)
		return
	}
	varyMeter(r, p)
}

// story builds a family whose bench is the sound one with a change.
func story(name, title, text string, where Location, part string, rules []string, change func(p *Parameters), spans ...Span) Family {
	p := Sound()
	p.BatteryStart = 0.45
	change(&p)
	if rules == nil {
		rules = []string{}
	}
	return Family{Scenario: Scenario{
		Name: name, Title: title, Story: text, Location: where, Part: part, Rules: rules, Parameters: p,
	}, spans: spans}
}

// with adds what hangs together.
func (f Family) with(vary ...func(r *rand.Rand, p *Parameters)) Family {
	f.vary = func(r *rand.Rand, p *Parameters) {
		for _, v := range vary {
			v(r, p)
		}
	}
	return f
}

// on says what it is recorded with.
func (f Family) on(meter func(r *rand.Rand, p *Parameters)) Family {
	f.meter = meter
	return f
}

func soundFamilies() []Family {
	sound := func(name, title, text string, rules []string, change func(p *Parameters), spans ...Span) Family {
		return story(name, title, text, Healthy, "", rules, change, spans...)
	}
	return []Family{
		sound("sound-asleep", "A machine that sleeps", "Lid closed, battery full. Every few seconds it wakes for a moment.",
			nil, func(p *Parameters) {
				p.BatteryStart, p.StandbyW, p.SleepEveryS, p.SleepForS, p.SleepW = 1, 1, 6, 0.8, 3
			},
			Span{"standby_w", 0.5, 2, true, "0.5 to 3 W: " + practice}, Span{"sleep_every_s", 2, 20, true, practice},
			Span{"sleep_for_s", 0.2, 3, true, practice}, Span{"sleep_w", 2, 7, true, practice}),
		sound("small-charger", "A charger smaller than the machine wants", "The customer's charger is that of a telephone. It charges, slowly.",
			[]string{"capability-mismatch", "ramp-normal"}, func(p *Parameters) { p.SinkWantsMW = 65000 }).
			with(func(r *rand.Rand, p *Parameters) {
				watts := oneOf(r, 18.0, 27, 30)
				p.Offers = []Offer{{5, 3}, {9, min(3, watts/9)}}
				if watts >= 30 {
					p.Offers = []Offer{{5, 3}, {9, 3}, {15, 2}, {20, 1.5}}
				}
				p.SourceLimitA = 3.6
				p.SinkWantsMW = 65000
			}),
		sound("programmable-contract", "A contract that moves", "A tablet that asks its charger for a little more or less voltage all the time.",
			[]string{"ramp-normal"}, func(p *Parameters) {
				p.Offers = []Offer{{5, 3}, {9, 3}}
				p.PPSMaxV, p.PPSUseV, p.SourceLimitA = 11, 9, 3.6
				p.BatteryCells, p.BatteryAH, p.RailMinimumV, p.ChargeA, p.PrechargeA = 2, 5, 6.2, 2, 0.3
			},
			Span{"pps_use_v", 8.2, 10.4, false, practice}, Span{"charge_a", 1, 2.6, false, practice}, Span{"battery_start", 0.1, 0.6, false, practice}),
		sound("extended-range", "A contract at 28 V", "A big machine on a charger of 140 W.",
			[]string{"ramp-normal"}, func(p *Parameters) {
				p.Offers = []Offer{{5, 3}, {9, 3}, {15, 3}, {20, 5}}
				p.EPR, p.SinkWantsMW, p.SourceLimitA = true, 90000, 6.5
				p.BatteryCells, p.BatteryAH, p.RailMinimumV, p.ChargeA, p.PrechargeA, p.BatteryOhm = 4, 6, 12.3, 4, 0.5, 0.12
			},
			Span{"charge_a", 2, 5, false, practice}),
		sound("replugged", "Pulled and put back", "Teo pulled the plug once, to see whether it is loose.",
			[]string{"ramp-normal"}, func(p *Parameters) { p.ReplugS, p.ReplugForS = 8, 3 },
			Span{"replug_s", 6, 12, false, practice}, Span{"replug_for_s", 1.5, 6, false, practice}),
		sound("plain-charger", "A plain 5 V charger", "An old charger that knows nothing of messages, and a tablet that takes what it gives.",
			[]string{"ramp-normal"}, func(p *Parameters) {
				p.Offers, p.SourcePD, p.SwitchAt5V = []Offer{{5, 2.4}}, false, true
				p.SourceLimitA, p.InputShare = 2.9, 0.6
				p.BatteryCells, p.BatteryAH, p.RailMinimumV, p.ChargeA, p.PrechargeA = 2, 5.2, 6.2, 1.5, 0.3
			},
			Span{"input_share", 0.3, 0.7, false, practice}, Span{"battery_start", 0.1, 0.6, false, practice}).
			with(mayNotWait),
		sound("board-alone", "A board without its battery", "The battery is out, the board is not started: what a sound board takes by itself.",
			nil, func(p *Parameters) { p.BatteryConnected = false },
			Span{"standby_w", 0.15, 0.6, true, "9 to 30 mA at 19 V: trade pages, common practice"}).
			on(patientMeter),
		sound("board-alone-starts", "A board starts without its battery", "The battery is out, and Oda presses the button.",
			[]string{"ramp-normal"}, func(p *Parameters) { p.BatteryConnected, p.BootS = false, 3 },
			Span{"boot_s", 1, 6, false, practice}, idleSwing).
			with(startsOnItsContract),
		sound("board-alone-waits", "A board that waits in its menu", "The battery is out. The board starts as soon as it is fed, and wants to know why its clock has stopped.",
			nil, func(p *Parameters) { p.BatteryConnected, p.BootS, p.IdleW, p.BootW = false, 0.3, 6, 8 },
			Span{"boot_s", 0.1, 1.5, true, practice}, Span{"boot_w", 3, 18, true, practice},
			Span{"idle_w", 2, 14, true, "5 to 20 W when it idles, less in a menu: " + practice}, idleSwing).
			on(patientMeter),
		sound("running", "A machine that runs while it charges", "The customer works on it while it waits at the counter.",
			[]string{"ramp-normal"}, func(p *Parameters) { p.BootS = 0.3 },
			Span{"boot_s", 0.2, 1, false, practice}, idleSwing),
		sound("late-recording", "The recording begins late", "Somebody pressed the button of both recorders when the machine had charged for a while.",
			[]string{"ramp-normal"}, func(p *Parameters) { p.MeterFromS, p.MessagesFromS = 10, 10 },
			Span{"meter_from_s", 8, 14, false, practice}).
			with(func(_ *rand.Rand, p *Parameters) { p.MessagesRecorded = false }),
		sound("long-cable", "A long cable", "Two metres and more; it charges, with a little less.",
			[]string{"ramp-normal"}, func(p *Parameters) { p.CableOhm = 0.24 }, Span{"cable_ohm", 0.2, 0.3, false, "at most 0.25 ohm at 3 A: USB Type-C R2.0 section 4.4.1"}).
			with(func(_ *rand.Rand, p *Parameters) {
				p.ChargeA = min(p.ChargeA, p.ChargeA*0.7*p.InputDropV/(p.CableOhm*p.chargeInput()))
			}),
		sound("patient-search", "A machine that feels its way up", "It has its contract, and still takes a little more every half second until it has what it wants.",
			[]string{"ramp-normal"}, func(p *Parameters) { p.Search = true },
			Span{"search_dwell_s", 0.25, 0.9, true, "500 ms: open laptop embedded-controller firmware"},
			Span{"search_step_a", 0.05, 0.13, true, "64 mA: open laptop embedded-controller firmware; 50 or 100 mA: data sheet SLUSE65A"}),
		sound("charge-pauses", "A charge that waits for the pack to cool", "It charges, waits and charges again. It lay in a hot car.",
			nil, func(p *Parameters) { p.BatteryCutS, p.BatteryBackS, p.BatteryWarm = 8, 8, true },
			Span{"battery_cut_s", 3, 20, true, practice}, Span{"battery_back_s", 3, 20, true, practice},
			Span{"charge_ramp_a_per_s", 0.6, 5, true, practice}),
		sound("charge-limit", "A charge that is held back", "The machine keeps its battery at four fifths, as it was told to, and idles.",
			nil, func(p *Parameters) { p.BatteryStart, p.ChargeA, p.BootS, p.IdleW, p.BootW = 0.8, 0.05, 0.3, 6, 8 },
			Span{"idle_w", 3, 12, true, "5 to 20 W: " + practice}, Span{"boot_w", 4, 14, true, practice}, idleSwing).
			on(patientMeter),
	}
}

func beforeFamilies() []Family {
	before := func(name, title, text, part string, rules []string, change func(p *Parameters), spans ...Span) Family {
		return story(name, title, text, BeforePort, part, rules, change, spans...)
	}
	return []Family{
		before("dead-charger", "A charger that gives nothing", "The lamp on the charger is out.", "source", []string{"no-vbus"},
			func(p *Parameters) { p.SourceDead = true }),
		before("broken-cable", "A cable that carries no current", "The cable was rolled over by a chair.", "cable", []string{"no-vbus"},
			func(p *Parameters) { p.CableOpen = true }),
		before("charger-refuses", "Asked, and refused", "The charger offers 65 W and takes it back when it is asked.", "source", []string{"request-refused", "contract-stalled"},
			func(p *Parameters) { p.SourceRefuses = true }).
			with(mayBeAlone),
		before("charger-too-high", "A charger above what it names", "It gets hot, and so does the machine.", "source", []string{"vbus-out-of-range"},
			func(p *Parameters) { p.SourceSetGain = 1.1 }, Span{"source_set_gain", 1.08, 1.16, false, "above 5 % and the meter's 1 %: USB PD R3.2 V1.1 table 7.23"}).
			with(mayBeAlone),
		before("charger-drops-out", "A charger that takes breaks", "It charges for some seconds, then it does not, then it does.", "source",
			[]string{"contract-lost", "hard-reset-loop"}, func(p *Parameters) { p.SourceDropS = 5 }, Span{"source_drop_s", 1.5, 8, true, practice}).
			with(mayBeAlone),
		before("charger-resets", "A charger that begins anew", "It charges, and every few seconds the charger has enough of it.", "source",
			[]string{"contract-lost", "hard-reset-loop"}, func(p *Parameters) { p.SourceResetS = 4 }, Span{"source_reset_s", 0.9, 12, true, practice}).
			with(mayBeAlone),
		before("silent-charger", "A charger that does not speak", "5 V and no more; the machine wants to be asked.", "source",
			[]string{"no-source-capabilities", "stuck-at-5v"}, func(p *Parameters) { p.SourcePD = false }),
		before("loose-cable", "A cable that comes and goes", "It charges while nobody touches the cable.", "cable",
			[]string{"contract-lost"}, func(p *Parameters) { p.ContactEveryS, p.ContactForMS, p.ContactWithCC = 2, 200, true }, contact()...).
			with(mayTakeCC, mayBeAlone),
		before("sagging-charger", "A charger whose voltage gives way", "It was cheap.", "source", []string{"series-resistance-high"},
			func(p *Parameters) { p.SourceOutputOhm = 0.7 }, Span{"source_output_ohm", holdsFromOhm, holdsToOhm, false, "as much as holds the machine back: " + practice}).
			with(func(r *rand.Rand, p *Parameters) { p.SourceOutputOhm = holdsBack(r, p) }),
		before("noisy-cable", "A cable that garbles the talk", "Sometimes it charges fast, mostly it does not charge at all.", "cable", []string{"crc-errors"},
			func(p *Parameters) { p.CCNoise = 0.4 }, Span{"cc_noise", 0.5, 0.95, false, practice}).
			with(func(_ *rand.Rand, p *Parameters) { p.MessageCRC = true }, mayBeAlone),
	}
}

// contact is how often a loose contact opens, and for how long.
func contact() []Span {
	return []Span{{"contact_every_s", 0.8, 5, true, practice}, {"contact_for_ms", 60, 900, true, "50 to 500 ms: " + practice}}
}

// mayBeAlone: the battery is out in half of the cases.
func mayBeAlone(r *rand.Rand, p *Parameters) { p.BatteryConnected = r.IntN(2) == 0 }

// mayTakeCC: play in a plug takes the contacts of CC with those of VBUS in half of the
// cases, in the cable's as in the receptacle's.
func mayTakeCC(r *rand.Rand, p *Parameters) { p.ContactWithCC = r.IntN(2) == 0 }

func portFamilies() []Family {
	port := func(name, title, text, part string, rules []string, change func(p *Parameters), spans ...Span) Family {
		return story(name, title, text, AtPort, part, rules, change, spans...)
	}
	return []Family{
		port("open-input-switch", "A contract and an open switch", "20 V on the meter, and the machine knows nothing of it.", "input-switch", []string{"no-draw-at-contract"},
			func(p *Parameters) { p.SwitchStuck = true }).
			with(mayBeAlone),
		port("leaky-vbus-alone", "A leak at the port, the battery out", "It drank coffee. The battery is out, and a little flows.", "vbus-leak", nil,
			func(p *Parameters) { p.VBUSLeakOhm, p.BatteryConnected = 100, false },
			Span{"vbus_leak_ohm", 60, 800, true, "10 ohm to 1 kohm: " + practice}),
		port("leak-above-5v", "A part at the port that gives way", "At 5 V all is well. A surge on the lead, some weeks ago.", "vbus-short", []string{"contract-lost", "hard-reset-loop"},
			func(p *Parameters) { p.VBUSLeakFromV, p.VBUSLeakOhm = 8, 0.3 },
			Span{"vbus_leak_from_v", 6, 9, false, "a clamp that was overloaded conducts below its voltage: " + practice},
			Span{"vbus_leak_ohm", 0.15, 0.6, true, "what it gets away with for longer burns it: " + practice}).
			with(mayBeAlone),
		port("open-cc", "A port that nobody sees", "The charger works on the other port.", "cc-contact", []string{"no-vbus"},
			func(p *Parameters) { p.CCOpen = true }),
		port("dead-controller-charges", "A tablet that charges slowly", "It takes 5 V from a charger that offers more, and answers nothing.", "port-controller", nil,
			func(p *Parameters) {
				p.ControllerAlive, p.SwitchAt5V, p.InputShare = false, true, 0.6
				p.BatteryCells, p.BatteryAH, p.RailMinimumV, p.ChargeA, p.PrechargeA = 2, 5.2, 6.2, 1.5, 0.3
			},
			Span{"input_share", 0.3, 0.7, false, practice}, Span{"battery_start", 0.1, 0.6, false, practice}),
		port("deaf-controller", "A controller that hears nothing", "5 V comes, goes and comes.", "port-controller", []string{"contract-stalled"},
			func(p *Parameters) { p.ControllerDeaf, p.BatteryConnected = true, false }),
		port("controller-unset", "A controller that lost its settings", "It asks for 5 V and lets nothing through.", "port-controller", nil,
			func(p *Parameters) { p.ControllerUnset, p.BatteryConnected = true, false }),
		port("controller-restarts", "A controller that begins again", "5 V, and the draw ticks.", "port-controller-supply", []string{"stuck-at-5v"},
			func(p *Parameters) {
				p.ControllerResetS, p.ControllerBootW, p.BatteryConnected = 0.06, 0.6, false
				p.ControllerBootMS = 20
			},
			Span{"controller_reset_s", 0.03, 0.09, true, practice}, Span{"controller_boot_ms", 8, 40, true, practice}, Span{"controller_boot_w", 0.3, 1.2, true, "0.10 to 0.25 A at 5 V: trade pages, common practice"}),
		port("controller-gives-out", "A contract that does not last", "It takes 20 V for a moment and loses it.", "port-controller-supply", []string{"contract-lost", "hard-reset-loop"},
			func(p *Parameters) { p.ControllerResetS = 2 }, Span{"controller_reset_s", 0.9, 5, true, practice}).
			with(mayBeAlone),
		port("input-switch-trips", "A switch that trips", "It charges a little, stops, and charges again.", "input-switch", []string{"retry-pulses"},
			func(p *Parameters) { p.SwitchTripA, p.SwitchRetryMS = 0.5, 200 },
			Span{"switch_retry_ms", 90, 700, true, "100 to 620 ms: data sheets JAJSJF0D, SLVSEG3E, SLVSGF4B"}).
			with(func(r *rand.Rand, p *Parameters) { p.SwitchTripA = p.chargeInput() * decades(r, 0.2, 0.8) }),
		port("worn-receptacle", "A receptacle with play", "The plug has to be held to one side.", "power-contact", []string{"contract-lost"},
			func(p *Parameters) { p.ContactEveryS, p.ContactForMS, p.ContactAtPort = 2, 200, true },
			contact()...).
			with(mayTakeCC, mayBeAlone),
		port("dirty-cc-contact", "A contact with green on it", "Liquid, some months ago.", "cc-contact", []string{"crc-errors"},
			func(p *Parameters) { p.CCNoise = 0.4 }, Span{"cc_noise", 0.5, 0.95, false, practice}).
			with(func(_ *rand.Rand, p *Parameters) { p.MessageCRC = true }, mayBeAlone),
	}
}

func boardFamilies() []Family {
	board := func(name, title, text, part string, rules []string, change func(p *Parameters), spans ...Span) Family {
		return story(name, title, text, BehindPort, part, rules, change, spans...)
	}
	ohms := func(from, to float64) Span { return Span{"rail_short_ohm", from, to, true, practice} }
	return []Family{
		board("endless-hiccup", "A short that never goes quiet", "Two ticks a second, for as long as it is plugged in.", "main-rail-short", []string{"retry-pulses"},
			func(p *Parameters) {
				p.RailShortOhm, p.HiccupTries, p.BatteryConnected = 0.1, 1000000, false
			}, ohms(0.02, 0.4)),
		board("shorted-charger-input", "A short behind the switch", "20 V comes, and goes in the same moment.", "charger-input-short", []string{"contract-lost", "hard-reset-loop"},
			func(p *Parameters) { p.InputLeakOhm, p.BatteryConnected = 0.5, false }, Span{"input_leak_ohm", 0.05, 2, true, practice}),
		board("leaky-main-rail", "A leak on the main rail", "It works, and it is warm when it is off.", "main-rail-leak", nil,
			func(p *Parameters) { p.RailShortOhm, p.BatteryConnected = 30, false }, ohms(8, 60)).
			on(patientMeter),
		board("dead-charger-circuit", "A charger circuit that does not start", "20 V at the charger circuit's input, nothing behind it.", "charger-circuit", []string{"no-draw-at-contract"},
			func(p *Parameters) { p.ChargerDead = true }).
			with(mayBeAlone),
		board("downstream-retries", "A rail that tries and tries", "The main rail stands; something behind it ticks.", "downstream-rail", []string{"retry-pulses"},
			func(p *Parameters) {
				p.DownstreamW, p.DownstreamOnMS, p.DownstreamOffMS, p.BatteryConnected = 15, 6, 150, false
			},
			Span{"downstream_w", 5, 30, true, practice}, Span{"downstream_on_ms", 5, 15, true, "3 to 7 ms: data sheet SLVSEG3E"},
			Span{"downstream_off_ms", 90, 650, true, "118 to 620 ms: data sheets SLVSEG3E, SLVSGF4B"}),
		board("short-under-voltage", "A short that comes with the voltage", "The rail comes up and falls down again after a moment.", "main-rail-short", []string{"retry-pulses"},
			func(p *Parameters) {
				p.RailShortOhm, p.RailShortAfterS, p.BatteryConnected = 0.1, 1, false
			},
			ohms(0.02, 0.3), Span{"rail_short_after_s", 0.1, 3, true, practice}),
		board("never-starts", "A board that lives and does not start", "The button does nothing. The battery is out.", "power-on-sequence", nil,
			func(p *Parameters) { p.BatteryConnected = false }, Span{"standby_w", 0.2, 1.6, true, "above 60 mA at 19 V suspicious: trade pages, common practice"}).
			on(patientMeter),
		board("falls-over", "A board that starts and falls over", "The fan turns, stops, and turns again. The battery is out.", "downstream-rail", nil,
			func(p *Parameters) {
				p.DownstreamW, p.DownstreamOnMS, p.DownstreamOffMS, p.BatteryConnected = 10, 500, 3000, false
			},
			Span{"downstream_w", 3, 25, true, practice}, Span{"downstream_on_ms", 150, 1000, true, practice},
			Span{"downstream_off_ms", 800, 8000, true, practice}),
		board("keeps-to-5v", "A contract at 5 V and no more", "It asks for 5 V and stays there.", "main-rail-short", nil,
			func(p *Parameters) {
				p.RailShortOhm, p.SwitchStuck, p.BatteryConnected = 0.1, true, false
			}, ohms(0.02, 3)).with(func(_ *rand.Rand, p *Parameters) { p.SinkWantsMW = 5000 }),
		board("battery-cuts-off", "A charge that breaks off", "It charges for some seconds, then it does not, and then again.", "battery", nil,
			func(p *Parameters) { p.BatteryCutS, p.BatteryBackS = 3, 3 },
			Span{"battery_cut_s", 0.8, 6, true, practice}, Span{"battery_back_s", 1, 8, true, practice}),
		board("battery-never-wakes", "A battery that stays in precharge", "A little current, for hours.", "battery", nil,
			func(p *Parameters) { p.BatteryStart, p.BatteryStays = -0.003, true }, Span{"battery_start", -0.02, -0.0015, false, practice}, longLog).
			on(patientMeter),
		board("charger-circuit-trips", "A charger circuit that trips early", "It starts, and starts, and starts.", "charger-circuit", []string{"retry-pulses"},
			func(p *Parameters) { p.ChargerTripA, p.ChargerRestartS = 1, 1 },
			Span{"charger_trip_a", 0.3, 1.2, true, practice}, Span{"charger_restart_s", 0.3, 3, true, practice}),
	}
}
