package bench

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
)

// readingStream parts the draws of readings from those of the bench.
const readingStream = 0x72656164

// Reading is what a technician's meter shows of the unit, or what a trial comes
// to, in the form in which it is typed: "0.21ohm", "open", "3.3V", "same". The
// same bench, seed and name give the same. ok is false where the bench has no
// answer. Sound values scatter as those of boards do: common practice.
func (s Scenario) Reading(name string, seed uint64) (text string, ok bool) {
	b := unit{Scenario: s, seed: seed, random: stream(seed, name)}
	read, known := readings()[name]
	if !known {
		return "", false
	}
	return read(b), true
}

func stream(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	_, _ = h.Write([]byte(name)) // it never fails
	return rand.New(rand.NewPCG(seed, readingStream^h.Sum64()))
}

// unit is the machine on the bench, with the scatter of one reading.
type unit struct {
	Scenario
	seed   uint64
	random *rand.Rand
}

func readings() map[string]func(unit) string {
	return map[string]func(unit) string{
		"main-rail-ohm":         func(b unit) string { return ohms(b.mainRail()) },
		"main-rail-diode-v":     func(b unit) string { return diode(b.mainRail(), even(b.random, 0.35, 0.5)) },
		"vbus-ohm":              func(b unit) string { return ohms(b.vbus()) },
		"vbus-diode-v":          func(b unit) string { return diode(b.vbus(), even(b.random, 0.4, 0.6)) },
		"charger-input-ohm":     func(b unit) string { return ohms(b.chargerNode()) },
		"always-on-rail-ohm":    func(b unit) string { return ohms(b.alwaysOn()) },
		"controller-supply-ohm": func(b unit) string { return ohms(b.controllerSupply()) },
		"cc1-ohm":               func(b unit) string { return ohms(b.cc(0)) },
		"cc2-ohm":               func(b unit) string { return ohms(b.cc(1)) },
		"cc1-diode-v":           func(b unit) string { return diode(b.cc(0), 0.55) },
		"cc2-diode-v":           func(b unit) string { return diode(b.cc(1), 0.55) },
		"vbus-v":                func(b unit) string { return volts(b.vbusVolts()) },
		"charger-input-v":       func(b unit) string { return volts(b.chargerInputVolts()) },
		"main-rail-v":           func(b unit) string { return volts(b.railVolts()) },
		"always-on-rail-v":      func(b unit) string { return volts(b.alwaysOnVolts()) },
		"controller-supply-v":   func(b unit) string { return volts(b.controllerVolts()) },
		"other-port":            unit.otherPort,
		"plug-flipped":          unit.plugFlipped,
		"known-good-charger":    func(b unit) string { return b.differs(b.Part == "source", 1) },
		"other-cable":           func(b unit) string { return b.differs(b.Part == "cable", 1) },
		"repeat": func(b unit) string {
			return b.differs(b.Parameters.ContactEveryS > 0 || b.Parameters.CCNoise > 0, 0.45)
		},
	}
}

// Leads of a hand-held meter add this: common practice.
const leadsOhm = 0.15

// What a meter shows as open, and the current of its diode range: common
// practice.
const (
	overrangeOhm = 2e6
	diodeA       = 0.001
)

func ohms(r float64) string {
	if r >= overrangeOhm {
		return "open"
	}
	return threeDigits(r+leadsOhm) + "ohm"
}

// threeDigits is a display's figure, without an exponent.
func threeDigits(x float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64) // it was just written
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// diode is the drop of the junctions, unless a resistance beside them takes the
// range's current at less.
func diode(r, junction float64) string {
	if r >= overrangeOhm {
		return "open"
	}
	return volts(min(junction, diodeA*(r+leadsOhm)))
}

func volts(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) + "V" }

func beside(sound, fault float64) float64 {
	if fault == 0 {
		return sound
	}
	return sound * fault / (sound + fault)
}

// mainRail cold: kiloohms on most boards, less on one in seven, since pages on
// what is normal disagree by twenty times; of one board alike in every range. A
// short that comes with the voltage does not show.
func (b unit) mainRail() float64 {
	board := stream(b.seed, "rail")
	sound := decades(board, 2e3, 8e4)
	if board.Float64() < 0.15 {
		sound = decades(board, 60, 900)
	}
	if b.Parameters.RailShortAfterS > 0 {
		return sound
	}
	return beside(sound, b.Parameters.RailShortOhm)
}

// vbus cold: a leak that comes with the voltage does not show.
func (b unit) vbus() float64 {
	sound := decades(b.random, 2e4, 5e6)
	if b.Parameters.VBUSLeakFromV > 0 {
		return sound
	}
	return beside(sound, b.Parameters.VBUSLeakOhm)
}

func (b unit) chargerNode() float64 {
	return beside(decades(b.random, 2e3, 5e4), b.Parameters.InputLeakOhm)
}

func (b unit) alwaysOn() float64 {
	if b.Parameters.DownstreamW > 0 {
		return decades(b.random, 0.5, 8)
	}
	return decades(b.random, 150, 3e3)
}

// controllerSupply cold: half of the regulators that fail leave a low reading.
func (b unit) controllerSupply() float64 {
	if b.Part == "port-controller-supply" && b.random.Float64() < 0.5 {
		return decades(b.random, 1, 60)
	}
	return decades(b.random, 300, 5e3)
}

// cc is one line cold: Rd of 4.6 to 5.6 kohm, alike on both, unless a contact
// or an input is damaged.
func (b unit) cc(line uint64) float64 {
	common := stream(b.seed, "cc")
	rd := even(common, 4.6e3, 5.6e3)
	damaged := b.Part == "cc-contact" || b.Part == "port-controller" && common.Float64() < 0.35
	if !damaged || common.Uint64()&1 != line {
		return rd * even(b.random, 0.99, 1.01)
	}
	if b.Parameters.CCOpen {
		return math.Inf(1)
	}
	return decades(b.random, 20, 3e3)
}

// contractVolts is the contract that stands, 0 where none does.
func (b unit) contractVolts() float64 {
	p := &b.Parameters
	if !p.SourcePD || !p.SourcePowerReady || p.SourceRefuses || !p.ControllerAlive || p.ControllerDeaf || !p.SinkRequests || p.ControllerResetS > 0 && p.ControllerResetS < 0.5 || b.vbusGone() {
		return 0
	}
	_, offer := choose(p.Offers, p.wantsMW())
	if p.VBUSLeakFromV > 0 && offer.Volts-p.VBUSLeakFromV > p.VBUSLeakOhm*p.SourceLimitA {
		return 0
	}
	return offer.Volts
}

// heldDownOhm is a leak that no source brings up.
const heldDownOhm = 1.5

func (b unit) vbusGone() bool {
	p := &b.Parameters
	return p.SourceDead || p.CableOpen || p.CCOpen || p.VBUSLeakOhm > 0 && p.VBUSLeakOhm < heldDownOhm && p.VBUSLeakFromV == 0
}

func (b unit) vbusVolts() float64 {
	switch v := b.contractVolts(); {
	case b.vbusGone():
		return even(b.random, 0, 0.3)
	case v > 0:
		return v * even(b.random, 0.97, 1.01)
	default:
		return even(b.random, 4.85, 5.15)
	}
}

func (b unit) chargerInputVolts() float64 {
	p := &b.Parameters
	switch {
	case b.vbusGone(), p.SwitchStuck, p.ControllerUnset, p.InputLeakOhm > 0, b.contractVolts() == 0 && !p.SwitchAt5V:
		return even(b.random, 0, 0.3)
	}
	return b.vbusVolts()
}

// railVolts with the battery out: what the charger circuit makes of its input.
// The board alone takes too little to trip a switch.
func (b unit) railVolts() float64 {
	p := &b.Parameters
	short := p.RailShortOhm > 0 && p.RailShortOhm < 5
	if b.chargerInputVolts() < 1 || p.ChargerDead || short {
		return even(b.random, 0, 0.4)
	}
	return p.RailMinimumV * even(b.random, 1.1, 1.35)
}

func (b unit) alwaysOnVolts() float64 {
	switch {
	case b.railVolts() < 1:
		return even(b.random, 0, 0.2)
	case b.Parameters.DownstreamW > 0:
		return even(b.random, 0.2, 2.2)
	}
	return even(b.random, 3.25, 3.35)
}

func (b unit) controllerVolts() float64 {
	switch {
	case b.vbusGone():
		return 0
	case b.Part == "port-controller-supply":
		return even(b.random, 0, 2.6)
	}
	return even(b.random, 3.2, 3.4)
}

// differs is a trial whose part was the fault, with the chance that it shows.
func (b unit) differs(fault bool, chance float64) string {
	if fault && b.random.Float64() < chance {
		return "different"
	}
	return "same"
}

// otherPort: one machine in four has a single port that charges.
func (b unit) otherPort() string {
	if stream(b.seed, "ports").Float64() < 0.25 {
		return "none"
	}
	return b.differs(b.Location == AtPort, 0.95)
}

func (b unit) plugFlipped() string {
	switch b.Part {
	case "cc-contact":
		return b.differs(true, 0.85)
	case "power-contact":
		return b.differs(true, 0.45)
	}
	return b.differs(b.Part == "cable", 0.3)
}
