package location

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"portside/decode/rules"
)

const (
	namedFrom   = 0.6  // a location is named from here on
	openFrom    = 0.05 // and left open from here on
	certainFrom = 0.95 // nothing more is worth measuring
	unsafeFrom  = 0.3  // a node this likely shorted is read cold before anything is powered
	unknownFrom = 0.2  // the share of "none of these" that is told
	openMinutes = 12   // opening the case, once: common practice
	leastGain   = 0.005
)

// Locate weighs the evidence. It is a pure function.
func Locate(e Evidence) Result {
	all := classes()
	seen := append(observe(e), measured(e.Readings)...)
	p := weigh(all, seen)
	out := Result{Suspects: suspects(all, p, seen), NotSeen: []string{}}
	out.Next = next(all, p, e.Readings)
	out.Verdict = verdict(all, p, seen, out.Next)
	out.Locate = steps(out.Verdict.Location, e.Readings)
	if u := p[len(p)-1]; u >= unknownFrom {
		out.NotSeen = append(out.NotSeen, fmt.Sprintf("%.0f in 100 of the weight fits no fault that is modelled here", 100*u))
	}
	return out
}

// byLocation sums the classes; what fits none is spread as the prior is.
func byLocation(all []class, p []float64) map[rules.Location]float64 {
	out, prior, known := map[rules.Location]float64{}, map[rules.Location]float64{}, 0.0
	for i, c := range all {
		if c.location != "" {
			out[c.location] += p[i]
			prior[c.location] += c.prior
			known += c.prior
		}
	}
	unknown := p[len(p)-1]
	for l := range prior {
		out[l] += unknown * prior[l] / known
	}
	return out
}

func verdict(all []class, p []float64, seen []observation, tests []Test) Verdict {
	v := Verdict{Locations: byLocation(all, p), Open: []rules.Location{}, Excluded: []Excluded{}}
	order := locations()
	slices.SortStableFunc(order, func(a, b rules.Location) int { return cmp.Compare(v.Locations[b], v.Locations[a]) })
	for _, l := range order {
		if v.Locations[l] >= openFrom {
			v.Open = append(v.Open, l)
			continue
		}
		v.Excluded = append(v.Excluded, Excluded{Location: l, Why: against(all, seen, l)})
	}
	v.Probability = v.Locations[order[0]]
	v.Location = rules.Undetermined
	if v.Probability >= namedFrom {
		v.Location = order[0]
	}
	v.Summary = summary(v, seen, tests)
	return v
}

// against names the observation that speaks most against a location.
func against(all []class, seen []observation, l rules.Location) string {
	why, worst := "it is rare from the start", 1.0
	for _, o := range seen {
		most, here := 0.0, 0.0
		for _, c := range all {
			most = max(most, o.likelihood(c.part))
			if c.location == l {
				here = max(here, o.likelihood(c.part))
			}
		}
		if ratio := here / most; ratio < worst {
			why, worst = o.text, ratio
		}
	}
	return why
}

var locationWords = map[rules.Location]string{
	rules.BeforePort: "before the port (mains, charger or cable)",
	rules.AtPort:     "at the port (connector, CC, port controller or input switches)",
	rules.BehindPort: "behind the port (charger circuit, main rail or what it feeds)",
	rules.Healthy:    "nowhere: the machine looks sound",
}

func summary(v Verdict, seen []observation, tests []Test) string {
	if v.Location == rules.Healthy {
		return "no fault seen: " + reason(seen)
	}
	if v.Location != rules.Undetermined {
		return "the fault lies " + locationWords[v.Location] + ": " + reason(seen)
	}
	var open, out []string
	for _, l := range v.Open {
		open = append(open, short(l))
	}
	for _, x := range v.Excluded {
		out = append(out, short(x.Location))
	}
	text := "undetermined: open are " + strings.Join(open, ", ")
	if len(out) > 0 {
		text += "; ruled out are " + strings.Join(out, ", ")
	}
	if len(tests) > 0 {
		text += "; next: " + tests[0].Test
	}
	return text
}

func short(l rules.Location) string {
	if l == rules.Healthy {
		return "a sound machine"
	}
	return strings.ReplaceAll(string(l), "-port", " the port")
}

// reason is the evidence given last, which is the most specific: a reading
// before the draw, the draw before the way it came up.
func reason(seen []observation) string {
	for i := len(seen) - 1; i >= 0; i-- {
		if seen[i].text != "the recording shows a fault" {
			return seen[i].text
		}
	}
	return "by how often such faults come in; nothing was recorded"
}

func suspects(all []class, p []float64, seen []observation) []Suspect {
	out := []Suspect{}
	for i, c := range all {
		if c.part == healthyPart {
			continue
		}
		s := Suspect{Part: c.part, Probability: p[i], Why: favours(c.part, seen), Confirm: c.confirm}
		if c.location != "" {
			s.Location = &c.location
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Suspect) int { return cmp.Compare(b.Probability, a.Probability) })
	return out
}

// favours names the observation that lifts a part most over the field.
func favours(part string, seen []observation) string {
	why, best := "how often it comes in", 1.0
	for _, o := range seen {
		if ratio := o.likelihood(part) / o.likelihood(""); ratio > best {
			why, best = o.text, ratio
		}
	}
	return why
}

// next lists the measurements by safety, then by information a minute.
func next(all []class, p []float64, given []Reading) []Test {
	out := []Test{}
	at := byLocation(all, p)
	for _, l := range locations() {
		if at[l] >= certainFrom {
			return out
		}
	}
	group := make([]int, len(all))
	for i, c := range all {
		group[i] = slices.Index(locations(), c.location)
	}
	closed := !slices.ContainsFunc(given, func(r Reading) bool {
		d := Readings()[slices.Index(names(), r.Name)]
		return d.opens
	})
	unsafe := unreadShorts(all, p, given)
	for _, d := range Readings() {
		if _, done := find(given, d.Name); done || d.outcomes == nil || doubled(given, d.Name) || d.powers && len(unsafe) > 0 {
			continue
		}
		gain := expectedGainBits(p, chances(all, d), group, len(locations()))
		if gain < leastGain {
			continue
		}
		t := Test{Test: d.test, Reading: &d.Name, GainBits: gain, Minutes: d.minutes, Expect: expect(all, p, d), Caution: &d.caution}
		if d.opens && closed {
			t.Minutes += openMinutes
		}
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(a, b Test) int {
		if first, second := unsafe[*a.Reading], unsafe[*b.Reading]; first != second {
			if first {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.GainBits/b.Minutes, a.GainBits/a.Minutes)
	})
	return out
}

// unreadShorts are the cold readings due before anything is powered.
func unreadShorts(all []class, p []float64, given []Reading) map[string]bool {
	out := map[string]bool{}
	for i, c := range all {
		if p[i] < unsafeFrom {
			continue
		}
		switch c.part {
		case "main-rail-short":
			need(out, given, "main-rail-ohm", "main-rail-diode-v")
		case "vbus-short":
			need(out, given, "vbus-ohm", "vbus-diode-v")
		case "charger-input-short":
			need(out, given, "charger-input-ohm", "charger-input-ohm")
		}
	}
	return out
}

func need(out map[string]bool, given []Reading, ohm, diode string) {
	_, a := find(given, ohm)
	_, b := find(given, diode)
	if !a && !b {
		out[ohm] = true
	}
}

// chances is the outcome table of a reading, each class adding up to 1.
func chances(all []class, d Definition) [][]float64 {
	table := make([][]float64, len(d.outcomes))
	for i := range table {
		table[i] = make([]float64, len(all))
	}
	for j, c := range all {
		sum := 0.0
		for i, o := range d.outcomes {
			p, named := o.by[c.part]
			if !named {
				p = o.base
			}
			if c.part == unknownPart {
				p = 1
			}
			table[i][j] = p
			sum += p
		}
		for i := range table {
			table[i][j] /= sum
		}
	}
	return table
}

// expect says what each location would most likely read.
func expect(all []class, p []float64, d Definition) map[rules.Location]string {
	table, out := chances(all, d), map[rules.Location]string{}
	for _, l := range locations() {
		best, label := -1.0, ""
		for i, o := range d.outcomes {
			sum := 0.0
			for j, c := range all {
				if c.location == l {
					sum += p[j] * table[i][j]
				}
			}
			if sum > best {
				best, label = sum, o.label
			}
		}
		out[l] = label
	}
	return out
}

// steps leads from the location to the part.
func steps(l rules.Location, given []Reading) []Step {
	out := []Step{}
	add := func(step, reading string, minutes float64, want, caution string, limits map[string]float64) {
		s := Step{Step: step, Minutes: minutes, Expect: want, Limits: limits}
		if reading != "" {
			s.Reading = &reading
		}
		if caution != "" {
			s.Caution = &caution
		}
		out = append(out, s)
	}
	none := map[string]float64{}
	switch l {
	case rules.BeforePort:
		add("swap the cable", "other-cable", 2, "works with a sound cable", poweredCaution, none)
		add("swap the charger", "known-good-charger", 2, "works with a sound charger", "Chargers are tested from outside only: the primary side can kill. Local codes and licensed practice come first.", none)
	case rules.AtPort:
		add("look into the receptacle: bent, burnt, green or dirty contacts", "", 3, "clean and straight", coldCaution, none)
		add("VBUS to ground, cold", "vbus-ohm", 2, "above 1 kohm", coldCaution, map[string]float64{"short_ohm": 10})
		add("CC1 against CC2, cold", "cc1-ohm", 1.5, "both alike within 10 percent", coldCaution, map[string]float64{"difference_percent": 10})
		add("the port controller's supply", "controller-supply-v", 3, "2.5 V or more", poweredCaution, map[string]float64{"supply_v": 2.5})
		add("VBUS behind the input switches", "charger-input-v", 3, "the contract's voltage", poweredCaution, none)
	case rules.BehindPort:
		add("look along the main rail under magnification: cracked, raised or discoloured parts", "", 5, "often something shows; a crack may not", coldCaution, none)
		add("main rail to ground, cold", "main-rail-ohm", 3, "above 1 kohm; below 5 ohm is a short", coldCaution, map[string]float64{"short_ohm": 5, "plausible_ohm": 1000})
		add("each buck stage's switch node to the main rail: is it really this rail?", "", 5, "no low resistance between them", "A shorted high-side switch makes the processor part of this rail; injecting would kill it.", none)
		if r, known := find(given, "main-rail-ohm"); known && r.Value < 50 {
			v, a := injection(r.Value)
			add(fmt.Sprintf("inject into the main rail: start at %.2g V with a limit of %.2g A, never above 2 V or the rail's own voltage", v, a), "", 10,
				"the failed part warms first",
				"Eye protection, no face over the board, nothing flammable wet, under 30 s at a time; battery out. Hot air and injected power burn; local codes and licensed practice come first.",
				map[string]float64{"start_v": v, "limit_a": a, "ceiling_v": 2, "ceiling_a": 2, "power_w": a * a * r.Value})
			add("take out one suspect, then measure the rail again before anything else", "main-rail-ohm", 10, "back above 1 kohm when found", "No hot air near cells or plastic.", none)
		}
	}
	return out
}

// injection gives start voltage and current limit for a short of the given
// resistance: 0.5 to 1 V and up to 1 A, common practice.
func injection(ohm float64) (volts, amps float64) {
	volts = 1
	if ohm < 0.5 {
		volts = 0.5
	}
	return volts, math.Min(1, volts/math.Max(ohm, 1e-3))
}
