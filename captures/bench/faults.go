package bench

// fault is a part that is out of order.
type fault struct {
	location Location
	part     string
}

// Where a parameter that every bench has begins to be a fault.
const (
	cableFaultOhm      = 0.4  // at most 0.25 ohm: USB Type-C R2.0 section 4.4.1; a long cable and its contacts may have more: common practice
	sourceFaultOhm     = 0.3  // 5 % of 5 V at 1 A is 0.25 ohm: USB PD R3.2 V1.1 table 7.23
	receptacleFaultOhm = 0.1  // two contacts of 40 mohm when new: common practice
	leakOhm            = 1000 // 10 ohm to 1 kohm is a leak: common practice
	noiseFault         = 0.1  // a sound line loses one frame in thousands: common practice
	weakShare          = 0.9  // of the offered current: common practice
	setFaultLow        = 0.95 // within 5 %: USB PD R3.2 V1.1 table 7.23
	setFaultHigh       = 1.05
	deepCharge         = -0.0201 // a pack that precharge wakes stands above: common practice
)

// faults lists what is out of order in a bench, by its parameters. Noise on CC
// is the cable's unless the scenario has it at the port's contact. A board that
// never starts with nothing wrong on it is not seen.
func (s *Scenario) faults() []fault {
	p := &s.Parameters
	var out []fault
	add := func(is bool, where Location, part string) {
		f := fault{where, part}
		if is && (len(out) == 0 || out[len(out)-1] != f) {
			out = append(out, f)
		}
	}
	leaks := func(ohm float64) bool { return ohm > 0 && ohm < leakOhm }
	highest := p.Offers[len(p.Offers)-1]

	add(p.SourceDead || p.SourceRefuses || p.SourcePD && !p.SourcePowerReady || p.SourceDropS > 0 || p.SourceResetS > 0 ||
		!p.SourcePD && !p.SwitchAt5V || p.SourceOutputOhm > sourceFaultOhm || p.SourceLimitA < weakShare*highest.Amps ||
		p.SourceSetGain != 0 && (p.SourceSetGain < setFaultLow || p.SourceSetGain > setFaultHigh), BeforePort, "source")
	noise := p.CCNoise > noiseFault
	opens := p.ContactEveryS > 0 && p.ContactForMS > 0
	add(p.CableOpen || p.CableOhm > cableFaultOhm || noise && !s.noiseAtPort() || opens && !p.ContactAtPort, BeforePort, "cable")

	add(p.CCOpen || noise && s.noiseAtPort(), AtPort, ccContact)
	add(opens && p.ContactAtPort || p.ReceptacleOhm > receptacleFaultOhm, AtPort, "power-contact")
	add(!p.ControllerAlive || !p.SinkRequests || p.ControllerUnset || p.ControllerDeaf, AtPort, "port-controller")
	add(p.ControllerResetS > 0, AtPort, "port-controller-supply")
	add(p.SwitchStuck || p.SwitchTripA > 0, AtPort, "input-switch")
	add(leaks(p.VBUSLeakOhm), AtPort, vbusPart(p.VBUSLeakOhm))

	add(leaks(p.InputLeakOhm), BehindPort, "charger-input-short")
	add(leaks(p.RailShortOhm), BehindPort, railPart(p.RailShortOhm))
	add(p.ChargerDead || p.ChargerTripA > 0 && !leaks(p.RailShortOhm), BehindPort, "charger-circuit")
	add(p.DownstreamW > 0, BehindPort, "downstream-rail")
	add(p.BatteryCutS > 0 && !p.BatteryWarm || p.BatteryConnected && (p.BatteryStays || p.BatteryStart < deepCharge), BehindPort, "battery")
	return out
}

const ccContact = "cc-contact"

func (s *Scenario) noiseAtPort() bool { return s.Part == ccContact }

// A short is below these, a leak above: trade pages that disagree between 5
// and 10 ohm; common practice.
const (
	railShortOhm = 5.0
	vbusShortOhm = 10.0
)

func railPart(ohm float64) string {
	if ohm < railShortOhm {
		return "main-rail-short"
	}
	return "main-rail-leak"
}

func vbusPart(ohm float64) string {
	if ohm < vbusShortOhm {
		return "vbus-short"
	}
	return "vbus-leak"
}
