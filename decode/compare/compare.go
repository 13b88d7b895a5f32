// Package compare sets a recording from before a repair beside one from after
// it, phase by phase, and says whether the repair is proven.
package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/probe"
	"portside/decode/rules"
)

// Schema names the form of a [Comparison]. Within one schema fields are only
// added.
const Schema = "portside/comparison/1"

// Verdict says what became of the fault.
type Verdict string

// Verdicts. Repaired is only said where it is shown.
const (
	Repaired      Verdict = "repaired"
	Improved      Verdict = "improved"
	Unchanged     Verdict = "unchanged"
	Worse         Verdict = "worse"
	NotComparable Verdict = "not-comparable"
)

// Comparison is what changed from one recording to the other.
type Comparison struct {
	Schema  string   `json:"schema"`
	Before  Side     `json:"before"`
	After   Side     `json:"after"`
	Changes []Change `json:"changes"`
	Verdict Verdict  `json:"verdict"`
	Summary string   `json:"summary"`
	Outcome string   `json:"-"` // the verdict in a few words, which say what the fault is now
}

// Side is the diagnosis of one of the two recordings in short.
type Side struct {
	Verdict rules.Location `json:"verdict"`
	Summary string         `json:"summary"`
}

// Change is one quantity on both sides. Before and After are a figure in Unit,
// a word, or nil where the recording does not say; Uncertainty is the standard
// uncertainty of the difference.
type Change struct {
	What        string   `json:"what"`
	Unit        string   `json:"unit"`
	Before      any      `json:"before"`
	After       any      `json:"after"`
	Uncertainty *float64 `json:"uncertainty"`
	Meaning     string   `json:"meaning"`
}

// Recording is one side: its diagnosis and the bench readings that belong to it.
type Recording struct {
	Diagnosis *decode.Diagnosis
	Readings  []probe.Reading
	AccuracyV *float64 // limits of its meter in percent of reading; nil where not given
	AccuracyA *float64
}

const (
	healthyStep = 0.2 // less in the probability of a sound machine is no change: the verdict's own robustness is 0.1
	shortOhm    = 5.0 // a node that reads less is shorted: common practice
)

// Compare sets the two beside one another.
func Compare(before, after Recording) *Comparison {
	b, a := look(before), look(after)
	c := &Comparison{
		Schema:  Schema,
		Before:  Side{before.Diagnosis.Verdict.Location, before.Diagnosis.Verdict.Summary},
		After:   Side{after.Diagnosis.Verdict.Location, after.Diagnosis.Verdict.Summary},
		Changes: append(changes(b, a), readingChanges(before.Readings, after.Readings)...),
	}
	if why := missing(b, a); why != "" {
		c.Verdict, c.Outcome, c.Summary = NotComparable, "not comparable", "not comparable: "+why
		return c
	}
	c.Verdict = judge(before, after)
	why := unproven(before, after)
	fault, other := another(before.Diagnosis.Verdict, after.Diagnosis.Verdict)
	c.Outcome = outcome(c.Verdict, after.Diagnosis.Verdict.Location, fault)
	c.Summary = summary(c.Verdict, b, a, why) + other + gone(before.Readings, after.Readings)
	return c
}

// outcome is the verdict in words that do not call a new fault the old one.
func outcome(v Verdict, is rules.Location, fault newFault) string {
	switch {
	case v == Repaired:
		return "repaired: the fault is gone"
	case fault == surelyNew && v == Improved:
		return "improved, and another fault"
	case fault == surelyNew && v == Worse:
		return "worse: another fault"
	case fault == surelyNew:
		return "still faulty: another fault"
	case fault == likelyNew && v == Improved:
		return "improved, likely another fault"
	case fault == likelyNew && v == Worse:
		return "worse: likely another fault"
	case fault == likelyNew:
		return "still faulty: likely another fault"
	case v == Improved && faulty(is):
		return "improved, not repaired"
	case v == Improved:
		return "improved, not shown to be repaired"
	case v == Worse:
		return "worse than before"
	case is == rules.Healthy:
		return "no change: sound both times"
	case faulty(is):
		return "unchanged: still faulty"
	}
	return "no change shown"
}

// missing names the condition without which two recordings say nothing of one
// another; "" where all are met.
func missing(b, a *phases) string {
	switch {
	case b.tooShort():
		return "the recording from before ends less than 1 s after its contract"
	case a.tooShort():
		return "the recording from after ends less than 1 s after its contract"
	case b.kind != "" && a.kind != "" && b.kind != a.kind:
		return fmt.Sprintf("before, the contract was %s, after, it was %s; record both with the same charger and cable", b.kind, a.kind)
	}
	return ""
}

func judge(before, after Recording) Verdict {
	b, a := before.Diagnosis, after.Diagnosis
	was, is := b.Verdict.Location, a.Verdict.Location
	better := a.Verdict.Locations[rules.Healthy] - b.Verdict.Locations[rules.Healthy]
	switch {
	case was == rules.Healthy && is == rules.Healthy:
		return Unchanged
	case was == rules.Healthy && faulty(is):
		return Worse
	case is == rules.Healthy && unshown(before, after) == "":
		return Repaired
	case better >= healthyStep, better > -healthyStep && fewer(faults(a), faults(b)):
		return Improved
	case better <= -healthyStep, fewer(faults(b), faults(a)):
		return Worse
	}
	return Unchanged
}

// newFault says how sure it is that the fault from after is another one than before.
type newFault uint8

const (
	notNew newFault = iota
	likelyNew
	surelyNew
)

// another says that what is wrong after is not what was wrong before: no side is open
// in both, or likely so where each names a side of its own.
func another(b, a location.Verdict) (newFault, string) {
	was, is := sides(b), sides(a)
	if b.Location == rules.Healthy || a.Location == rules.Healthy || len(was) == 0 || len(is) == 0 {
		return notNew, ""
	}
	switch {
	case !slices.ContainsFunc(is, func(l rules.Location) bool { return slices.Contains(was, l) }):
		return surelyNew, fmt.Sprintf("; it is another fault: %s now, %s before", orList(is), orList(was))
	case faulty(b.Location) && faulty(a.Location) && a.Location != b.Location:
		return likelyNew, fmt.Sprintf("; it is likely another fault: %s now, %s before", sideWords[a.Location], sideWords[b.Location])
	}
	return notNew, ""
}

func orList(list []rules.Location) string {
	var words []string
	for _, l := range list {
		words = append(words, sideWords[l])
	}
	return strings.Join(words, " or ")
}

var sideWords = map[rules.Location]string{
	rules.BeforePort: "before the port", rules.AtPort: "at the port", rules.BehindPort: "behind the port",
}

// gone says that a node that read as a short no longer does.
func gone(before, after []probe.Reading) string {
	for _, b := range before {
		if !isShort(b) {
			continue
		}
		for _, a := range after {
			if a.Name == b.Name && !isShort(a) {
				return fmt.Sprintf("; %s reads %s now, %s before", a.Name, a.Text, b.Text)
			}
		}
	}
	return ""
}

const smallCharger = "capability-mismatch"

func faulty(l rules.Location) bool {
	return l == rules.BeforePort || l == rules.AtPort || l == rules.BehindPort
}

// faults are the names of the grave findings.
func faults(d *decode.Diagnosis) []string {
	var out []string
	for _, f := range d.Findings {
		if f.Severity == rules.Fault && !slices.Contains(out, f.Rule) {
			out = append(out, f.Rule)
		}
	}
	return out
}

// fewer reports that some of b are gone in a and none has come.
func fewer(a, b []string) bool {
	return len(a) < len(b) && !slices.ContainsFunc(a, func(r string) bool { return !slices.Contains(b, r) })
}

// shorted names a reading that still shows a short; "" where none does.
func shorted(readings []probe.Reading) string {
	for _, r := range readings {
		if isShort(r) {
			return r.String()
		}
	}
	return ""
}

func isShort(r probe.Reading) bool {
	return strings.HasSuffix(r.Name, "-ohm") && !strings.HasPrefix(r.Name, "cc") && r.Value < shortOhm
}

// summary is the sentence for the customer's record; why is what keeps an
// improvement from being a repair.
func summary(v Verdict, b, a *phases, why string) string {
	switch v {
	case Repaired:
		return fmt.Sprintf("repaired: %s; before, %s", a.story(), b.story())
	case Improved:
		return fmt.Sprintf("improved, and not shown to be repaired: %s; %s; before, %s", why, a.story(), b.story())
	case Worse:
		return fmt.Sprintf("worse: %s; before, %s", a.story(), b.story())
	}
	if a.story() == b.story() {
		return "unchanged: on both sides " + a.story()
	}
	return fmt.Sprintf("no better: %s; before, %s", a.story(), b.story())
}

// changes lists what both recordings say in the order of a power-up.
func changes(b, a *phases) []Change {
	rows := []Change{
		change("time from attach to contract", "s", b.toContract, a.toContract, "how long the negotiation takes"),
		change("contract voltage", "V", b.contractV, a.contractV, "what source and device agreed on"),
		change("VBUS at the contract", "V", b.volts, a.volts, "lower at the same draw is a loss on the way"),
		change("steady draw at the contract", "A", b.steady, a.steady, "what the unit takes once it has settled"),
		change("time from contract to steady draw", "s", b.ramp, a.ramp, "how long the ramp takes"),
		change("largest draw", "A", b.peak, a.peak, "spikes and pulses included"),
		counted("retry pulses", b.pulses, a.pulses, "short draws with rest between them: a circuit that tries and gives up"),
		counted("collapses of a climb", b.resets, a.resets, "a staircase that begins again"),
		counted("collapses of VBUS", b.collapses, a.collapses, "the source gives way, or trips"),
		counted("Hard Resets", b.hardResets, a.hardResets, "a negotiation that was given up"),
		change("series resistance", "ohm", b.resistance, a.resistance, "source, cable and contacts up to the meter"),
		change("resistance of a leak", "ohm", b.leak, a.leak, "a load that is a resistor"),
		change("inrush charge", "C", b.inrush, a.inrush, "the capacitors that fill"),
		change("energy", "Wh", b.energy, a.energy, "as far as each recording goes"),
	}
	return slices.DeleteFunc(rows, func(c Change) bool { return c.Before == nil && c.After == nil })
}

func change(what, unit string, b, a *value, meaning string) Change {
	c := Change{What: what, Unit: unit, Meaning: meaning}
	if b != nil {
		c.Before = b.x
	}
	if a != nil {
		c.After = a.x
	}
	if b != nil && a != nil && b.u != nil && a.u != nil {
		u := math.Hypot(*b.u, *a.u)
		c.Uncertainty = &u
	}
	return c
}

// counted is a change of a count: exact as far as the recording shows it.
func counted(what string, b, a *int, meaning string) Change {
	c := Change{What: what, Meaning: meaning}
	if b != nil {
		c.Before = *b
	}
	if a != nil {
		c.After = *a
	}
	if b != nil && a != nil && *b == 0 && *a == 0 {
		c.Before, c.After = nil, nil // nothing of the kind on either side
	}
	return c
}

// readingChanges lists the bench readings of both sides.
func readingChanges(before, after []probe.Reading) []Change {
	var out []Change
	find := func(list []probe.Reading, name string) any {
		for _, r := range list {
			if r.Name == name {
				if r.Word != "" {
					return r.Word
				}
				return r.Value
			}
		}
		return nil
	}
	for _, r := range append(slices.Clone(before), after...) {
		if slices.ContainsFunc(out, func(c Change) bool { return c.What == r.Name }) {
			continue
		}
		unit := ""
		for _, f := range probe.Readings() {
			if f.Name == r.Name {
				unit = f.Unit
			}
		}
		out = append(out, Change{What: r.Name, Unit: unit, Before: find(before, r.Name), After: find(after, r.Name), Meaning: "measured at the bench"})
	}
	return out
}
