package text

import (
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"portside/decode/charger"
)

// Charger prints what a charger is held to: the sentence for the customer, each
// failure for the bench, then every check. Against is a second charger, nil
// without one.
func Charger(w io.Writer, r, against *charger.Result, look Look) error {
	p := newPage(w, look)
	for _, line := range wrap(Safe(chargerLine(r)), p.width) {
		p.put(p.paint(bold, line))
	}
	p.para(0, capital(stop(r.Summary)))
	s := &sheet{}
	s.failures(r)
	if against == nil {
		s.checks(r)
		s.notObserved(r)
	} else {
		s.beside(r, against)
	}
	p.sheet(s)
	return p.close()
}

func chargerLine(r *charger.Result) string {
	switch r.Verdict {
	case charger.WithinStandard:
		return "WITHIN THE STANDARD, as far as this recording shows."
	case charger.OutsideStandard:
		return "OUTSIDE THE STANDARD: " + count(r.Count(charger.Fail), "check fails", "checks fail") + "."
	}
	return "NOT ENOUGH EVIDENCE to judge this charger."
}

func (s *sheet) failures(r *charger.Result) {
	if r.Count(charger.Fail) == 0 {
		return
	}
	s.heading("What fails")
	for _, c := range r.Checks {
		if c.Result != charger.Fail {
			continue
		}
		at := ""
		if c.AtS != nil {
			at = " at " + secs(c.AtS)
		}
		s.item("  FAIL  ", red, c.Check+at+": "+stop(c.Text))
		if c.Effect != "" {
			s.item("        to a device: ", "", stop(c.Effect))
		}
		s.item("        by ", "", stop(c.Source))
	}
}

// checks lists what was observed.
func (s *sheet) checks(r *charger.Result) {
	s.heading("What was checked")
	g := newGrid("check", "result", "measured", "limit", "+/-").figures(2, 3, 4)
	for _, c := range r.Checks {
		if c.Result == charger.NotObserved {
			continue
		}
		g.add(c.Check, resultWord(c.Result), chargerValues(c.Measured), chargerValues(c.Limit), chargerValues(c.Uncertainty))
	}
	g.whole = true
	s.table(g)
	if len(g.Rows) == 0 {
		s.para(2, "Nothing in this recording can be held to the standard.")
	}
}

// notObserved says what the recording cannot show. Checks that want for the same
// reason stand together.
func (s *sheet) notObserved(r *charger.Result) {
	if r.Count(charger.NotObserved) == 0 {
		return
	}
	s.heading("What could not be observed")
	var reasons []string
	checks := map[string][]string{}
	for _, c := range r.Checks {
		if c.Result != charger.NotObserved {
			continue
		}
		if checks[c.Text] == nil {
			reasons = append(reasons, c.Text)
		}
		checks[c.Text] = append(checks[c.Text], c.Check)
	}
	g := newGrid("check", "why")
	g.narrow[0] = 28 // the longest name
	for _, why := range reasons {
		g.add(strings.Join(checks[why], ", "), why)
	}
	g.whole = true
	s.table(g)
}

// beside lists both chargers check by check, where either was observed.
func (s *sheet) beside(r, against *charger.Result) {
	s.heading("Both chargers")
	s.item("  this one   ", "", chargerLine(r))
	s.item("  the other  ", "", chargerLine(against))
	g := newGrid("check", "this one", "", "the other", "")
	for i, a := range r.Checks {
		b := against.Checks[i]
		if a.Result == charger.NotObserved && b.Result == charger.NotObserved {
			continue
		}
		g.add(a.Check, resultWord(a.Result), chargerValues(a.Measured), resultWord(b.Result), chargerValues(b.Measured))
	}
	g.whole = true
	s.table(g)
}

func resultWord(o charger.Outcome) string {
	switch o {
	case charger.Pass:
		return "pass"
	case charger.Fail:
		return "FAIL"
	}
	return "-"
}

// nothing is what prints as 0: a nanosecond is no uncertainty that a reader acts on.
const nothing = 1e-8

// chargerValues prints quantities by name; keys end in their unit.
func chargerValues(m charger.Values) string {
	var out []string
	for _, key := range slices.Sorted(maps.Keys(m)) {
		_, unit := splitUnit(key)
		v := m[key]
		if math.Abs(v) < nothing {
			v = 0
		}
		out = append(out, strings.TrimSpace(figure(&v, unit)))
	}
	return strings.Join(out, ", ")
}
