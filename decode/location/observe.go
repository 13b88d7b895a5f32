package location

import (
	"fmt"

	"portside/decode/rules"
)

type weights = map[string]float64

const (
	practice      = "common practice"
	workingA      = 0.10 // above standby: common practice
	quietA        = 0.02 // within a meter's offset: data sheet SBOS844C
	chargerFromS  = 0.45 // a charger's hiccup: 500 ms off, data sheets SLUSDU3 and SLUSE65A
	chargerToS    = 0.70
	highContractV = 8.0
)

// observe turns facts and findings into independent observations: how far the
// power-up came, how the draw looks there, and what the voltage says.
func observe(e Evidence) []observation {
	var out []observation
	found := byRule(e.Findings)
	for _, look := range []func(Evidence, map[string]rules.Finding) (observation, bool){powerUp, drawPattern, voltage, load, anyFault} {
		if o, ok := look(e, found); ok {
			o.cap = recordingCap
			out = append(out, o)
		}
	}
	return out
}

// byRule keeps the gravest finding of each rule.
func byRule(findings []rules.Finding) map[string]rules.Finding {
	out := map[string]rules.Finding{}
	for _, f := range findings {
		if old, seen := out[f.Rule]; !seen || old.Severity != rules.Fault && f.Severity == rules.Fault {
			out[f.Rule] = f
		}
	}
	return out
}

// powerUp says how far the machine came, from the messages where given.
func powerUp(e Evidence, found map[string]rules.Finding) (observation, bool) {
	rows := []struct {
		rule string
		base float64
		by   weights
	}{
		{"no-vbus", 0.01, weights{"mains": 0.9, "source": 0.4, "cable": 0.3, "cc-contact": 0.4, "vbus-short": 0.6, "power-contact": 0.3, healthyPart: 0.02}},
		{"capabilities-unanswered", 0.01, weights{"port-controller": 0.6, "port-controller-supply": 0.6, "cc-contact": 0.5, "cable": 0.08}},
		{"power-ready-missing", 0.005, weights{"source": 0.6, "mains": 0.05, "charger-input-short": 0.03, "vbus-short": 0.03, "main-rail-short": 0.01}},
		{"request-refused", 0.01, weights{"source": 0.2, "port-controller": 0.15, "cable": 0.03}},
		{"request-missing", 0.005, weights{"port-controller": 0.4, "port-controller-supply": 0.2, "cc-contact": 0.1, "cable": 0.02, "source": 0.02}},
	}
	for _, row := range rows {
		if f, seen := found[row.rule]; seen && f.Severity == rules.Fault {
			return observation{text: f.Text, base: row.base, by: row.by, source: f.Source}, true
		}
	}
	if reached(e) {
		return observation{text: "a contract above 5 V is reached, so CC, port controller and its supply work", base: 0.6, by: weights{
			"port-controller": 0.03, "port-controller-supply": 0.03, "cc-contact": 0.05, "vbus-short": 0.01, "mains": 0.05, healthyPart: 0.8, "source": 0.4,
		}, source: practice}, true
	}
	if f, seen := found["no-source-capabilities"]; seen {
		by := weights{"source": 0.3, "cable": 0.2, "cc-contact": 0.3, "port-controller": 0.1, healthyPart: 0.03}
		if f.Severity == rules.Note {
			by[healthyPart] = 0.3
		}
		return observation{text: f.Text, base: 0.03, by: by, source: f.Source}, true
	}
	if at5V(e) {
		return observation{text: "VBUS never leaves 5 V", base: 0.25, by: weights{
			"port-controller": 0.6, "port-controller-supply": 0.6, "cc-contact": 0.3, "source": 0.25, "cable": 0.15, healthyPart: 0.15, "vbus-short": 0.02, "mains": 0.02,
		}, source: practice}, true
	}
	return observation{}, false
}

// reached reports a contract or level above 5 V.
func reached(e Evidence) bool {
	if n := e.Facts.Negotiation; n != nil {
		for _, c := range n.Contracts {
			if c.VoltageMV == nil || *c.VoltageMV > 5500 {
				return true
			}
		}
	}
	if d := e.Facts.Draw; d != nil {
		for _, l := range d.Levels {
			if l.NominalV >= highContractV && l.EndS-l.StartS > 0.5 {
				return true
			}
		}
	}
	return false
}

func at5V(e Evidence) bool {
	if d := e.Facts.Draw; d != nil {
		for _, l := range d.Levels {
			if l.NominalV == 5 {
				return true
			}
		}
	}
	return false
}

// drawPattern is the one thing that the draw shows. A pulse and the low mean
// it causes are one observation; what the meter cannot resolve is none.
func drawPattern(e Evidence, found map[string]rules.Finding) (observation, bool) {
	d := e.Facts.Draw
	if d == nil || d.Sampling.WithCurrent == 0 {
		return observation{}, false
	}
	is := func(rule string, s rules.Severity) bool { f, seen := found[rule]; return seen && f.Severity == s }
	stalled := !reached(e) && len(found) > 0 && (is("capabilities-unanswered", rules.Fault) || is("request-missing", rules.Fault) ||
		is("power-ready-missing", rules.Fault) || is("no-vbus", rules.Fault))
	switch {
	case stalled:
		return observation{}, false // the draw follows from the stall
	case is("vbus-collapse", rules.Fault):
		return observation{text: found["vbus-collapse"].Text, base: 0.01, by: weights{
			"source": 0.5, "cable": 0.2, "power-contact": 0.15, "main-rail-short": 0.08, "downstream-rail": 0.1, "charger-circuit": 0.05, "battery": 0.05,
		}, source: practice}, true
	case is("hard-reset-loop", rules.Fault) && !reached(e):
		return observation{text: found["hard-reset-loop"].Text, base: 0.05, by: weights{
			"source": 0.3, "port-controller": 0.3, "port-controller-supply": 0.2, "cc-contact": 0.15, "vbus-short": 0.15, "cable": 0.1, "main-rail-short": 0.08, healthyPart: 0.01,
		}, source: "VBUS goes with a Hard Reset whoever asks for it: USB PD R3.2 V1.1 section 6.8.3"}, true
	case is("retry-pulses", rules.Fault):
		return pulses(found["retry-pulses"]), true
	case is("staircase-draw", rules.Fault):
		return observation{text: found["staircase-draw"].Text, base: 0.01, by: weights{
			"main-rail-leak": 0.35, "downstream-rail": 0.35, "main-rail-short": 0.2, "charger-circuit": 0.2, "battery": 0.1, "source": 0.1, "cable": 0.08,
		}, source: practice}, true
	case is("over-contract-current", rules.Fault):
		return observation{text: found["over-contract-current"].Text, base: 0.02, by: weights{
			"main-rail-leak": 0.2, "charger-input-short": 0.2, "charger-circuit": 0.1, "vbus-leak": 0.1, "downstream-rail": 0.1,
		}, source: practice}, true
	case is("ramp-normal", rules.Note) || is("charge-taper", rules.Note):
		return observation{text: workingText(found), base: 0.01, by: weights{
			healthyPart: 0.8, "cable": 0.08, "source": 0.05, "main-rail-leak": 0.06, "power-contact": 0.05, "vbus-leak": 0.06,
		}, source: practice}, true
	case is("no-draw-at-contract", rules.Warning):
		return observation{text: found["no-draw-at-contract"].Text, base: 0.02, by: weights{
			"input-switch": 0.6, "charger-circuit": 0.4, "main-rail-short": 0.35, healthyPart: 0.2, "power-on-sequence": 0.15, "charger-input-short": 0.05,
		}, source: "a charger that latched after its retries draws nothing: data sheet SLUSDU3"}, true
	case reached(e):
		return observation{text: "a high voltage stands with a small draw", base: 0.03, by: weights{
			healthyPart: 0.4, "power-on-sequence": 0.5, "downstream-rail": 0.2, "charger-circuit": 0.2, "battery": 0.2, "main-rail-leak": 0.15, "main-rail-short": 0.1, "input-switch": 0.08,
		}, source: practice}, true
	}
	return observation{}, false
}

func workingText(found map[string]rules.Finding) string {
	if f, seen := found["ramp-normal"]; seen {
		return f.Text
	}
	return found["charge-taper"].Text
}

// pulses weighs a train of retries by its period, as a likelihood and not as
// a name.
func pulses(f rules.Finding) observation {
	period, _ := f.Values["period_s"].(*float64)
	if period != nil && *period >= chargerFromS && *period <= chargerToS {
		return observation{text: f.Text, base: 0.01, by: weights{
			"main-rail-short": 0.7, "charger-circuit": 0.15, "downstream-rail": 0.2, "charger-input-short": 0.1, "main-rail-leak": 0.05,
		}, source: "500 ms off, 10 ms on: data sheets SLUSDU3 and SLUSE65A"}
	}
	return observation{text: f.Text, base: 0.02, by: weights{
		"main-rail-short": 0.3, "downstream-rail": 0.25, "charger-circuit": 0.2, "vbus-short": 0.2, "source": 0.15, "port-controller-supply": 0.12, "port-controller": 0.08, "charger-input-short": 0.2,
	}, source: "data sheets SLVSEG3E and SLVSDJ5D"}
}

// voltage is what the level and its slope say.
func voltage(_ Evidence, found map[string]rules.Finding) (observation, bool) {
	if f, seen := found["series-resistance-high"]; seen {
		by := weights{"cable": 0.6, "power-contact": 0.35, "source": 0.15, healthyPart: 0.03}
		if f.Severity != rules.Fault {
			by = weights{"cable": 0.5, "power-contact": 0.3, "source": 0.2, healthyPart: 0.2}
		}
		return observation{text: f.Text, base: 0.04, by: by, source: f.Source}, true
	}
	if f, seen := found["vbus-out-of-range"]; seen && f.Severity == rules.Fault {
		return observation{text: f.Text, base: 0.03, by: weights{"source": 0.5, "vbus-leak": 0.1, "vbus-short": 0.15, "cable": 0.1}, source: f.Source}, true
	}
	return observation{}, false
}

// load is what the law of the load says.
func load(_ Evidence, found map[string]rules.Finding) (observation, bool) {
	f, seen := found["resistive-load"]
	return observation{text: f.Text, base: 0.03, by: weights{
		"vbus-leak": 0.5, "main-rail-leak": 0.35, "charger-input-short": 0.2, healthyPart: 0.02,
	}, source: f.Source}, seen
}

// anyFault keeps a machine that shows a fault from being called sound.
func anyFault(_ Evidence, found map[string]rules.Finding) (observation, bool) {
	for _, f := range found {
		if f.Severity == rules.Fault {
			return observation{text: "the recording shows a fault", base: 1, by: weights{healthyPart: 0.05}, source: practice}, true
		}
	}
	return observation{}, false
}

// display stands in for a log where a meter only has a display.
func display(readings []Reading) (out []observation) {
	v, hasV := find(readings, "display-v")
	a, hasA := find(readings, "display-a")
	p, hasP := find(readings, "display-pattern")
	add := func(text string, base float64, by weights) {
		out = append(out, observation{text: text, base: base, by: by, cap: recordingCap, source: practice})
	}
	if hasV {
		text := fmt.Sprintf("the display shows %s", v.Text)
		switch {
		case v.Value <= 0.8:
			add(text, 0.01, weights{"mains": 0.9, "source": 0.4, "cable": 0.3, "cc-contact": 0.4, "vbus-short": 0.6, "power-contact": 0.3, healthyPart: 0.02})
		case v.Value < highContractV:
			add(text+", which is no contract above 5 V", 0.25, weights{"port-controller": 0.6, "port-controller-supply": 0.6, "cc-contact": 0.3, "source": 0.25, "cable": 0.15, healthyPart: 0.15, "vbus-short": 0.02, "mains": 0.02})
		default:
			add(text+", so a contract is made", 0.6, weights{"port-controller": 0.03, "port-controller-supply": 0.03, "cc-contact": 0.05, "vbus-short": 0.01, "mains": 0.05, healthyPart: 0.8, "source": 0.4})
		}
	}
	switch {
	case hasP && p.Word == "pulsing":
		add("the display pulses", 0.02, weights{"main-rail-short": 0.3, "downstream-rail": 0.25, "charger-circuit": 0.2, "vbus-short": 0.2, "source": 0.15, "port-controller-supply": 0.12, "port-controller": 0.1, "charger-input-short": 0.2})
	case hasP && p.Word == "staircase":
		add("the display climbs in steps and falls back", 0.02, weights{"main-rail-leak": 0.3, "downstream-rail": 0.3, "main-rail-short": 0.15, "charger-circuit": 0.15, "source": 0.15, "cable": 0.1, healthyPart: 0.05})
	case hasA && a.Value >= workingA && hasV && v.Value >= highContractV:
		add("the display shows a working draw", 0.02, weights{healthyPart: 0.6, "main-rail-leak": 0.15, "downstream-rail": 0.1, "battery": 0.1})
	case hasA && a.Value < quietA && hasV && v.Value >= highContractV:
		add("a contract stands and nothing is drawn", 0.02, weights{"input-switch": 0.6, "charger-circuit": 0.4, "main-rail-short": 0.35, healthyPart: 0.2, "power-on-sequence": 0.15})
	}
	return out
}
