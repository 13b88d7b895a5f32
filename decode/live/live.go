// Package live turns the growing diagnosis of a recording that is still being
// written into events: what has happened since the last look, each told once.
package live

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"portside/decode"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// Kind names an event.
type Kind string

// Kinds of event. An Unplug says that going on can do harm.
const (
	Start    Kind = "start"
	Attach   Kind = "attach"
	Detach   Kind = "detach"
	Offer    Kind = "offer"
	Contract Kind = "contract"
	Finding  Kind = "finding"
	Verdict  Kind = "verdict"
	Unplug   Kind = "unplug"
	Gap      Kind = "gap"
	Problem  Kind = "problem"
	End      Kind = "end"
)

// Event is one thing that happened. Fields that do not apply are left out.
type Event struct {
	Event    Kind                  `json:"event"`
	TimeS    *float64              `json:"time_s"` // on the clock of the recording; null where it has none
	Text     string                `json:"text"`
	Rule     string                `json:"rule,omitempty"`
	Severity rules.Severity        `json:"severity,omitempty"`
	Contract *negotiation.Contract `json:"contract,omitempty"`
	Verdict  rules.Location        `json:"verdict,omitempty"`
}

// Teller remembers what was told. The zero value is ready.
type Teller struct {
	started   bool
	attached  map[float64]bool
	detached  int
	offers    string
	contracts int
	findings  map[string]rules.Severity
	unplugged map[string]bool
	verdict   rules.Location
	gapsTo    float64
	problems  map[string]int
}

// Look returns what happened since the last look, in the order of time; the
// verdict comes last.
func (t *Teller) Look(d *decode.Diagnosis) []Event {
	if t.attached == nil {
		t.attached, t.findings, t.unplugged = map[float64]bool{}, map[string]rules.Severity{}, map[string]bool{}
		t.problems, t.gapsTo = map[string]int{}, math.Inf(-1)
	}
	var out []Event
	add := func(e Event) { out = append(out, e) }
	t.plugs(d, add)
	t.offer(d, add)
	t.contract(d, add)
	t.finding(d, add)
	t.gap(d, add)
	t.problem(d, add)
	slices.SortStableFunc(out, func(a, b Event) int { return cmp.Compare(when(a), when(b)) })
	t.start(d, &out)
	if v := d.Verdict; v.Location != t.verdict && (t.verdict != "" || v.Location != rules.Undetermined) {
		t.verdict = v.Location
		out = append(out, Event{Event: Verdict, TimeS: last(d), Verdict: v.Location, Text: v.Summary})
	}
	return out
}

// End is the last event: the verdict as it stands.
func (t *Teller) End(d *decode.Diagnosis) Event {
	return Event{Event: End, TimeS: last(d), Verdict: d.Verdict.Location, Text: d.Verdict.Summary}
}

// when orders an event; what has no time comes first.
func when(e Event) float64 {
	if e.TimeS == nil {
		return math.Inf(-1)
	}
	return *e.TimeS
}

// last is the time up to which the recording goes.
func last(d *decode.Diagnosis) *float64 {
	switch {
	case d.Draw.Sampling.N > 0 && d.Negotiation.LastS != nil && d.Clock.OffsetS != nil:
		return number(max(d.Draw.Sampling.EndS, *d.Negotiation.LastS))
	case d.Draw.Sampling.N > 0:
		return number(d.Draw.Sampling.EndS)
	}
	return d.Negotiation.LastS
}

func (t *Teller) start(d *decode.Diagnosis, out *[]Event) {
	if t.started || (d.Draw.Sampling.N == 0 && d.Negotiation.Messages == 0) {
		return
	}
	t.started = true
	var names []string
	for _, in := range d.Inputs {
		names = append(names, fmt.Sprintf("%s (%s)", in.Path, in.Kind))
	}
	first := d.Negotiation.FirstS
	if d.Draw.Sampling.N > 0 {
		first = number(d.Draw.Sampling.StartS)
	}
	*out = slices.Insert(*out, 0, Event{Event: Start, TimeS: first, Text: "following " + strings.Join(names, ", ")})
}

// plugs tells attach and detach: from the messages, else from VBUS.
func (t *Teller) plugs(d *decode.Diagnosis, add func(Event)) {
	n := d.Negotiation
	if n.AttachS != nil {
		t.attach(*n.AttachS, "the messages begin with the attach", add)
	}
	for _, s := range n.Detaches[min(t.detached, len(n.Detaches)):] {
		add(Event{Event: Detach, TimeS: number(s), Text: "detached"})
	}
	t.detached = len(n.Detaches)
	if n.AttachS != nil {
		return
	}
	for i, l := range d.Draw.Levels {
		if n.Messages > 0 && len(t.attached) > 0 {
			return // a Hard Reset takes VBUS away too
		}
		before := i > 0 && d.Draw.Levels[i-1].NominalV == 0
		switch {
		case l.NominalV > 0 && before:
			t.attach(l.StartS, fmt.Sprintf("VBUS comes up to %.2f V", l.VoltageV), add)
		case l.NominalV == 0 && i > 0 && !t.attached[l.StartS]:
			t.attached[l.StartS] = true
			add(Event{Event: Detach, TimeS: number(l.StartS), Text: "VBUS is off"})
		}
	}
}

func (t *Teller) attach(s float64, text string, add func(Event)) {
	if !t.attached[s] {
		t.attached[s] = true
		add(Event{Event: Attach, TimeS: number(s), Text: text})
	}
}

func (t *Teller) offer(d *decode.Diagnosis, add func(Event)) {
	var words []string
	for _, o := range d.Negotiation.Offers {
		words = append(words, offerWords(o))
	}
	offers := strings.Join(words, ", ")
	if offers == t.offers || offers == "" {
		return
	}
	t.offers = offers
	var at *float64
	for _, a := range d.Negotiation.Attempts {
		if a.Offers > 0 {
			at = number(a.StartS)
		}
	}
	add(Event{Event: Offer, TimeS: at, Text: "the source offers " + offers})
}

func offerWords(o negotiation.Offer) string {
	volts := func(mv *int) string {
		if mv == nil {
			return "?"
		}
		return fmt.Sprintf("%.3g", float64(*mv)/1000)
	}
	out := volts(o.VoltageMV) + " V"
	if o.VoltageMV == nil {
		out = volts(o.MinVoltageMV) + " V up"
	}
	switch {
	case o.CurrentMA != nil:
		out += fmt.Sprintf(" %.3g A", float64(*o.CurrentMA)/1000)
	case o.PowerMW != nil:
		out += fmt.Sprintf(" %.3g W", float64(*o.PowerMW)/1000)
	}
	return out
}

func (t *Teller) contract(d *decode.Diagnosis, add func(Event)) {
	all := d.Negotiation.Contracts
	for i := min(t.contracts, len(all)); i < len(all); i++ {
		c := all[i]
		text := "a contract stands"
		if c.VoltageMV != nil && c.CurrentMA != nil {
			text = fmt.Sprintf("a contract stands: %.3g V, %.3g A (%s)", float64(*c.VoltageMV)/1000, float64(*c.CurrentMA)/1000, c.Kind)
		}
		add(Event{Event: Contract, TimeS: c.StartS, Text: text, Contract: &c})
	}
	t.contracts = len(all)
}

// finding tells each finding once, and again where it has become graver.
func (t *Teller) finding(d *decode.Diagnosis, add func(Event)) {
	for _, f := range d.Findings {
		key := f.Rule
		if f.StartS != nil {
			key = fmt.Sprintf("%s %.2f", f.Rule, *f.StartS)
		}
		if before, told := t.findings[key]; told && before == f.Severity {
			continue
		}
		t.findings[key] = f.Severity
		add(Event{Event: Finding, TimeS: f.StartS, Text: f.Text, Rule: f.Rule, Severity: f.Severity})
		if caution := harm(f, d); caution != "" && !t.unplugged[f.Rule] {
			t.unplugged[f.Rule] = true
			add(Event{Event: Unplug, TimeS: f.StartS, Text: caution, Rule: f.Rule, Severity: rules.Fault})
		}
	}
}

// harm is the caution where going on can do harm; "" where it cannot.
func harm(f rules.Finding, d *decode.Diagnosis) string {
	const cold = "; then measure cold, battery disconnected, before any power is put on again"
	switch f.Rule {
	case "retry-pulses":
		if f.Severity == rules.Fault && d.Verdict.Locations[rules.Healthy] < 0.5 {
			return "unplug now: each further try drives current into what may be a short, and heats it" + cold
		}
	case "over-contract-current":
		if f.Severity != rules.Note {
			return "unplug now: more current flows than was agreed; charger, cable and board are outside what they are made for" + cold
		}
	case "vbus-out-of-range":
		volts, _ := f.Values["voltage_v"].(float64)
		nominal, known := f.Values["nominal_v"].(float64)
		if f.Severity == rules.Fault && known && volts > nominal {
			return "unplug now: VBUS is above what was agreed and can destroy the input stage and the cells; do not use this charger again before it is checked"
		}
	}
	return ""
}

func (t *Teller) gap(d *decode.Diagnosis, add func(Event)) {
	for _, g := range d.Draw.Gaps {
		if g.StartS >= t.gapsTo {
			t.gapsTo = g.EndS
			add(Event{Event: Gap, TimeS: number(g.StartS), Text: fmt.Sprintf("the log has a gap of %.3g s", g.EndS-g.StartS)})
		}
	}
}

func (t *Teller) problem(d *decode.Diagnosis, add func(Event)) {
	for _, in := range d.Inputs {
		told := t.problems[in.Path]
		for _, p := range in.Problems[min(told, len(in.Problems)):] {
			text := in.Path + ": " + p.Text
			if p.Line != nil {
				text = fmt.Sprintf("%s: line %d: %s", in.Path, *p.Line, p.Text)
			}
			add(Event{Event: Problem, TimeS: p.TimeS, Text: text})
		}
		t.problems[in.Path] = len(in.Problems)
	}
}

func number(x float64) *float64 { return &x }
