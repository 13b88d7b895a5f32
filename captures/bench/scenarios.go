package bench

// Location is the side of the port a scenario's fault lies on.
type Location string

// Locations, by the names that every surface of the program uses.
const (
	BeforePort Location = "before-port"
	AtPort     Location = "at-port"
	BehindPort Location = "behind-port"
	Healthy    Location = "healthy"
)

// Scenario is one bench with its story and the answer.
type Scenario struct {
	Name       string // kebab-case
	Title      string
	Story      string // how it came to the bench, without the answer
	Location   Location
	Part       string   // the faulty part; empty where all is sound
	Rules      []string // what its recordings can show, by rule name
	Parameters Parameters
}

// Scenarios lists what is built in. All of them happen at one invented repair
// shop: two people, one bench, one meter that was bought twice.
func Scenarios() []Scenario {
	return []Scenario{
		soundCharging(), soundFullBattery(), soundPrecharge(), soundEndOfCharge(),
		soundBoot(), plainChargerSearch(), cableWithoutMarker(),
		hardShort(), softShort(), staircaseCollapse(),
		leakyVBUS(), shortedVBUS(), deadPortController(), requestNeverSent(),
		chargerWithoutPowerReady(), weakCharger(), resistiveCable(),
	}
}

// Find gives the scenario of a name.
func Find(name string) (Scenario, bool) {
	for _, s := range Scenarios() {
		if s.Name == name {
			return s, true
		}
	}
	return Scenario{}, false
}

func soundCharging() Scenario {
	p := Sound()
	p.MeterStartS, p.MessagesStartS = 214.35, 1.2
	p.MessageCRC = true
	return Scenario{
		Name: "sound-charging", Title: "A sound machine takes its charger",
		Story: "The reference of the Quillmarsh bench: Oda's own machine, half empty and switched off, on the shop's 65 W charger. " +
			"Every other recording is held against this one.",
		Location: Healthy, Rules: []string{"ramp-normal"}, Parameters: p,
	}
}

func soundFullBattery() Scenario {
	p := Sound()
	p.DurationS = 30
	p.BatteryStart, p.StandbyW = 1, 0.6
	p.MeterHz, p.MeterStepV, p.MeterStepA, p.MeterNoiseA = 10, 0.001, 0.001, 0.0006
	p.MeterStartS, p.MessagesStartS = 5.7, 96.25
	return Scenario{
		Name: "sound-full-battery", Title: "A full battery looks like no draw",
		Story: "\"It shows 20 volts and does nothing.\" The customer at Quillmarsh had charged it over night; " +
			"Teo plugged it in to see whether it was dead.",
		Location: Healthy, Rules: []string{}, Parameters: p,
	}
}

func soundPrecharge() Scenario {
	p := Sound()
	p.DurationS = 120
	p.BatteryStart, p.PrechargeA = -0.0027, 0.44
	p.MeterHz = 10
	p.MeterStartS, p.MessagesStartS = 31.9, 3.05
	return Scenario{
		Name: "sound-precharge", Title: "A deeply discharged battery wakes up",
		Story: "A machine that lay in a drawer for two years. It takes a quarter of an ampere at 20 V and nothing seems to happen, " +
			"so Oda let the meter run while she made tea.",
		Location: Healthy, Rules: []string{"ramp-normal"}, Parameters: p,
	}
}

func soundEndOfCharge() Scenario {
	p := Sound()
	p.DurationS = 1800
	p.BatteryStart, p.BatteryOhm, p.ChargeA = 0.905, 0.13, 2.4
	p.MeterHz, p.MeterStepV, p.MeterStepA, p.MeterNoiseV, p.MeterNoiseA = 2, 0.01, 0.001, 0.002, 0.0008
	p.MessagesRecorded = false
	return Scenario{
		Name: "sound-end-of-charge", Title: "The last of a charge",
		Story: "After a new battery Teo leaves the slow meter of the Quillmarsh bench on the machine for half an hour, " +
			"to see the draw fall by itself.",
		Location: Healthy, Rules: []string{"charge-taper"}, Parameters: p,
	}
}

func soundBoot() Scenario {
	p := Sound()
	p.DurationS = 45
	p.BatteryStart, p.BootS = 1, 4
	p.MeterStartS, p.MessagesStartS = 3610.2, 71.15
	return Scenario{
		Name: "sound-boot", Title: "A sound machine starts",
		Story: "Full battery, charger in, and the button pressed four seconds later: Teo records what a start looks like on the meter, " +
			"since the peaks of it are taken for faults so often.",
		Location: Healthy, Rules: []string{"ramp-normal"}, Parameters: p,
	}
}

func plainChargerSearch() Scenario {
	p := Sound()
	p.DurationS = 90
	p.Offers, p.SourcePD = []Offer{{5, 1.5}}, false
	p.SourceLimitA, p.SourceFoldback, p.SourceTripMS = 1.45, 0.3, 8
	p.SwitchAt5V, p.Search = true, true
	p.SearchDwellS = 0.4
	p.RailMinimumV, p.BatteryCells, p.BatteryAH = 6.2, 2, 5.2
	p.BootS = 0
	p.MeterHz = 10
	p.MessagesRecorded = false
	return Scenario{
		Name: "plain-charger-search", Title: "A plain 5 V charger is searched and found",
		Story: "A tablet on an old 5 V charger from the box under the Quillmarsh counter: the draw climbs, VBUS dips, it climbs again. " +
			"The customer took the dips for a fault.",
		Location: Healthy, Rules: []string{"staircase-draw", "ramp-normal"}, Parameters: p,
	}
}

func cableWithoutMarker() Scenario {
	p := Sound()
	p.Offers = []Offer{{5, 3}, {9, 3}, {15, 3}, {20, 5}}
	p.SinkWantsMW, p.SourceLimitA, p.ChargeA = 90000, 6, 4
	p.CableMarked, p.CableOhm = false, 0.15
	p.Meter = AtSource
	p.MeterStartS, p.MessagesStartS = 84.75, 6.6
	return Scenario{
		Name: "cable-without-marker", Title: "A big charger behind a plain cable",
		Story: "The 100 W charger of the customer charges no faster than the 60 W one of the shop. " +
			"It came with a cable from a telephone; Oda records what the charger offers through it.",
		Location: Healthy, Rules: []string{"cable-limited", "capability-mismatch", "ramp-normal"}, Parameters: p,
	}
}

func hardShort() Scenario {
	p := Sound()
	p.DurationS = 20
	p.RailShortOhm, p.BatteryConnected = 0.045, false
	p.MeterHz, p.MeterNoiseA = 100, 0.0012
	p.MeterStartS, p.MessagesStartS = 77.4, 0.6
	return Scenario{
		Name: "hard-short-main-rail", Title: "A hard short that goes quiet",
		Story: "Died while charging, says the note. At the Quillmarsh bench the meter shows 20 V and 0.00 A, and the battery's own " +
			"protection has opened. Oda logs the plug-in with the fast meter.",
		Location: BehindPort, Part: "main-rail-short",
		Rules: []string{"retry-pulses", "no-draw-at-contract"}, Parameters: p,
	}
}

func softShort() Scenario {
	p := Sound()
	p.DurationS = 40
	p.RailShortOhm, p.BatteryConnected, p.BootS = 1.9, false, 0
	p.RailMinimumV = 12.4
	p.MeterStartS, p.MessagesStartS = 1502.85, 8.4
	return Scenario{
		Name: "soft-short-main-rail", Title: "A soft short that the charger circuit holds",
		Story: "No battery in it, nobody pressed the button, and it takes sixty watts from the first second, flat as a ruler. " +
			"Teo smelled something warm and pulled the plug after forty seconds.",
		Location: BehindPort, Part: "main-rail-short",
		Rules: []string{"ramp-normal"}, Parameters: p,
	}
}

func staircaseCollapse() Scenario {
	p := Sound()
	p.DurationS = 75
	p.RailShortOhm, p.BatteryConnected = 0.8, false
	p.RailMinimumV = 12.4
	p.ChargerTripA, p.ChargerRestartS, p.ChargerOutputLimitA = 6.2, 1.6, 9
	p.Search, p.SearchTrips, p.SearchDwellS = true, 1000, 0.5
	p.MeterHz = 10
	p.MeterStartS, p.MessagesStartS = 40.2, 17.75
	return Scenario{
		Name: "staircase-collapse", Title: "A staircase that climbs and falls",
		Story: "The draw climbs step by step, falls to nothing and begins again, over and over. A second charger at the Quillmarsh bench " +
			"shows the same staircase.",
		Location: BehindPort, Part: "main-rail-short",
		Rules: []string{"staircase-draw"}, Parameters: p,
	}
}

func leakyVBUS() Scenario {
	p := Sound()
	p.DurationS = 30
	p.VBUSLeakOhm, p.BatteryStart, p.StandbyW = 62, 1, 0.6
	p.MeterStartS, p.MessagesStartS = 9.15, 402.6
	return Scenario{
		Name: "leaky-vbus", Title: "A leak at the receptacle",
		Story: "It charges, but the port gets warm even when the battery is full. Oda sees more current at 20 V than at 5 V, " +
			"where a sound machine takes less.",
		Location: AtPort, Part: "vbus-leak",
		Rules: []string{"resistive-load"}, Parameters: p,
	}
}

func shortedVBUS() Scenario {
	p := Sound()
	p.DurationS = 20
	p.VBUSLeakOhm, p.SourceRetryS, p.BatteryConnected = 0.15, 0.985, false
	p.MeterHz = 100
	p.MeterStartS, p.MessagesStartS = 33.35, 11.9
	return Scenario{
		Name: "shorted-vbus", Title: "VBUS never comes up",
		Story: "Nothing at all, on any charger. The plug was in at an angle when somebody stepped on it. " +
			"Teo hears the charger tick once a second.",
		Location: AtPort, Part: "vbus-short",
		Rules: []string{"no-vbus", "retry-pulses"}, Parameters: p,
	}
}

func deadPortController() Scenario {
	p := Sound()
	p.DurationS = 25
	p.ControllerAlive, p.ControllerW = false, 0.06
	p.BatteryConnected = false
	p.MeterHz, p.MeterStepV, p.MeterStepA = 10, 0.01, 0.001
	p.MeterStartS, p.MessagesStartS = 63.3, 2.9
	return Scenario{
		Name: "dead-port-controller", Title: "Nobody answers the offer",
		Story: "Liquid got into the left port. VBUS comes up and stays at 5 V with a few milliamperes; " +
			"the charger's offers go out one after another.",
		Location: AtPort, Part: "port-controller",
		Rules: []string{"capabilities-unanswered", "stuck-at-5v"}, Parameters: p,
	}
}

func requestNeverSent() Scenario {
	p := Sound()
	p.DurationS = 25
	p.SinkRequests = false
	p.BatteryConnected = false
	p.MeterStartS, p.MessagesStartS = 18.65, 55.1
	p.MessageCRC = true
	return Scenario{
		Name: "request-never-sent", Title: "Heard, and never asked",
		Story: "The port controller of this one was swapped somewhere else before it came to Quillmarsh. " +
			"The offer is acknowledged each time; VBUS goes away and comes back all day.",
		Location: AtPort, Part: "port-controller",
		Rules: []string{"request-missing", "contract-stalled", "hard-reset-loop"}, Parameters: p,
	}
}

func chargerWithoutPowerReady() Scenario {
	p := Sound()
	p.DurationS = 25
	p.SourcePowerReady = false
	p.MeterStartS, p.MessagesStartS = 7.05, 0.35
	return Scenario{
		Name: "charger-without-power-ready", Title: "Accepted, and nothing comes of it",
		Story: "The customer brought the charger too, luckily. It says Accept and then the voltage does not move; " +
			"Teo's machine at the next desk has the same trouble with it.",
		Location: BeforePort, Part: "source",
		Rules: []string{"power-ready-missing", "contract-stalled", "hard-reset-loop"}, Parameters: p,
	}
}

func weakCharger() Scenario {
	p := Sound()
	p.DurationS = 30
	p.SourceLimitA, p.SourceFoldback, p.SourceTripMS = 1.15, 0.35, 45
	p.SourceOutputOhm = 0.12
	p.Meter = AtSource
	p.MeterStartS, p.MessagesStartS = 120.9, 12.2
	return Scenario{
		Name: "weak-charger", Title: "A charger that gives way under load",
		Story: "A 65 W charger from a market stall. The machine starts to charge for a second, then everything begins anew; " +
			"on the shop's own charger it works.",
		Location: BeforePort, Part: "source",
		Rules: []string{"vbus-collapse", "contract-lost", "hard-reset-loop"}, Parameters: p,
	}
}

func resistiveCable() Scenario {
	p := Sound()
	p.DurationS = 60
	p.CableOhm, p.ChargeA, p.BootS = 0.60, 4.4, 6
	p.MeterHz = 10
	p.MeterStartS, p.MessagesStartS = 288.4, 30.45
	return Scenario{
		Name: "resistive-cable", Title: "A cable that eats the voltage",
		Story:    "It charges at Quillmarsh and not at home. Oda asks for the customer's own cable and puts the meter at the device's end of it.",
		Location: BeforePort, Part: "cable",
		Rules: []string{"series-resistance-high", "ramp-normal"}, Parameters: p,
	}
}
