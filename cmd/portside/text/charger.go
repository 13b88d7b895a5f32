package text

import (
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"portside/decode/charger"
)

// ChargerPage is what a screen or a report shows of a charger.
type ChargerPage struct {
	*charger.Result
	Clock   string       // how the meter's clock was laid beside the messages'; "" where nothing had to be found
	Against *ChargerPage // a second charger, nil without one
}

// Charger prints what a charger is held to: the sentence for the customer, each
// failure for the bench, then every check.
func Charger(w io.Writer, c *ChargerPage, look Look) error {
	p := newPage(w, look)
	for _, line := range wrap(Safe(ChargerLine(c.Result)), p.width) {
		p.put(p.paint(bold, line))
	}
	p.para(0, Sentence(c.Summary))
	s := &sheet{}
	s.chargerFailures(c, func(int) string { return "  FAIL  " })
	s.chargerChecks(c, false)
	p.sheet(s)
	return p.close()
}

// ChargerFailures are what fails, each by its letter, for the top of a report.
func ChargerFailures(c *ChargerPage) []Section {
	s := &sheet{}
	s.chargerFailures(c, func(n int) string { return ChargerLetter(n) + " FAIL " })
	return s.sections
}

// ChargerDetail is everything else of a report: every check with its clause, what the
// charger offers, and what no recording can say.
func ChargerDetail(c *ChargerPage) []Section {
	s := &sheet{}
	s.chargerChecks(c, true)
	for _, x := range []*ChargerPage{c, c.Against} {
		if x != nil {
			s.chargerOffers(x, x != c)
		}
	}
	s.heading("Before you act on this")
	for _, caution := range chargerCautions {
		s.item("Caution: ", yellow, caution)
	}
	return s.sections
}

// ChargerLetter names the n-th failure, from 0.
func ChargerLetter(n int) string { return letterAt(n) }

// chargerCautions are what no recording of a plug-in can say, or says only in part.
var chargerCautions = []string{
	"What was not observed is not passed.",
	"None of this says that a charger is safe to touch or to leave alone: insulation, overload and overtemperature protection need a test laboratory.",
	"Never open a mains charger to look: its capacitors stay charged.",
	"Below its window a voltage fails only by more than a cable may take off, since the meter may sit at the device. With --meter-at source it is held to the whole limit.",
	"The cable is judged together with the charger. Try a second cable before you send the charger back.",
}

func (s *sheet) chargerFailures(c *ChargerPage, label func(int) string) {
	title := "What fails"
	for _, x := range []*ChargerPage{c, c.Against} {
		if x != nil {
			s.failures(x.Result, title, label)
		}
		title = "What fails of the other charger"
	}
}

// chargerChecks lists every check; full adds the clauses, for a page that is wide enough.
func (s *sheet) chargerChecks(c *ChargerPage, full bool) {
	switch {
	case c.Against != nil:
		s.beside(c.Result, c.Against.Result)
		if full {
			s.checksInFull(c.Result, " of this one")
			s.checksInFull(c.Against.Result, " of the other")
		}
	case full:
		s.checksInFull(c.Result, "")
	default:
		s.checks(c.Result)
		s.notObserved(c.Result, "")
	}
	for _, x := range []*ChargerPage{c, c.Against} {
		if x != nil && x.Clock != "" {
			who := "The clocks: "
			if x != c {
				who = "The clocks of the other recording: "
			}
			s.blank()
			s.para(2, who+stop(x.Clock))
		}
	}
}

// ChargerLine is the verdict in one line.
func ChargerLine(r *charger.Result) string {
	switch r.Verdict {
	case charger.WithinStandard:
		return "WITHIN THE STANDARD, as far as this recording shows."
	case charger.OutsideStandard:
		return "OUTSIDE THE STANDARD: " + count(r.Count(charger.Fail), "check fails", "checks fail") + "."
	}
	return "NOT ENOUGH EVIDENCE to judge this charger."
}

func (s *sheet) failures(r *charger.Result, title string, label func(int) string) {
	if r.Count(charger.Fail) == 0 {
		return
	}
	s.heading(title)
	n := 0
	for _, c := range r.Checks {
		if c.Result != charger.Fail {
			continue
		}
		at := ""
		if c.AtS != nil {
			at = " at " + secs(c.AtS)
		}
		s.item(label(n), red, c.Check+at+": "+stop(c.Text))
		n++
		if c.Effect != "" {
			s.item("        to a device: ", "", stop(c.Effect))
		}
		s.item("        clause: ", "", stop(c.Source))
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

// checksInFull lists what was observed with what it was held to.
func (s *sheet) checksInFull(r *charger.Result, whose string) {
	s.heading("What was checked" + whose)
	g := newGrid("check", "result", "measured", "limit", "+/-", "what was seen", "clause").figures(2, 3, 4)
	for _, c := range r.Checks {
		if c.Result != charger.NotObserved {
			g.add(c.Check, resultWord(c.Result), chargerValues(c.Measured), chargerValues(c.Limit), chargerValues(c.Uncertainty), capital(c.Text), c.Source)
		}
	}
	s.table(g)
	if len(g.Rows) == 0 {
		s.para(2, "Nothing in this recording can be held to the standard.")
	}
	s.notObserved(r, whose)
}

// chargerOffers lists what the charger offers and what rating that comes to.
func (s *sheet) chargerOffers(c *ChargerPage, other bool) {
	if len(c.Offers) == 0 {
		return
	}
	title := "What it offers"
	if other {
		title = "What the other charger offers"
	}
	s.heading(title)
	g := newGrid("offer", "kind", "voltage", "current", "power").figures(0, 2, 3, 4)
	for _, o := range c.Offers {
		g.add(strconv.Itoa(o.Position), o.Kind, offerVolts(o), orDash(o.CurrentMA, "A"), orDash(o.PowerMW, "W"))
	}
	s.table(g)
	if c.PDPW != nil {
		s.para(2, "Its rating, stated or by what it offers: "+figure(c.PDPW, "W")+".")
	}
}

// notObserved says what the recording cannot show. Checks that want for the same
// reason stand together.
func (s *sheet) notObserved(r *charger.Result, whose string) {
	if r.Count(charger.NotObserved) == 0 {
		return
	}
	s.heading("What could not be observed" + whose)
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
		if len(checks[why]) <= mostInCell {
			g.add(strings.Join(checks[why], ", "), why)
		}
	}
	g.whole = true
	s.table(g)
	for _, why := range reasons {
		if len(checks[why]) > mostInCell {
			s.blank()
			s.para(2, capital(why)+". So not observed: "+strings.Join(checks[why], ", ")+".")
		}
	}
}

// mostInCell is how many checks of one reason stand in the table: more are a column of
// words that nobody reads.
const mostInCell = 4

// beside lists both chargers check by check, where either was observed.
func (s *sheet) beside(r, against *charger.Result) {
	s.heading("Both chargers")
	s.item("  this one   ", "", ChargerLine(r)+rated(r))
	s.item("  the other  ", "", ChargerLine(against)+rated(against))
	s.blank()
	g := newGrid("check", "this one", "", "the other", "").figures(2, 4)
	var neither []string
	for i, a := range r.Checks {
		b := against.Checks[i]
		if a.Result == charger.NotObserved && b.Result == charger.NotObserved {
			neither = append(neither, a.Check)
			continue
		}
		g.add(a.Check, resultWord(a.Result), chargerValues(a.Measured), resultWord(b.Result), chargerValues(b.Measured))
	}
	g.whole = true
	s.table(g)
	if len(neither) > 0 {
		s.blank()
		s.para(2, "A - is not observed. Observed in neither: "+strings.Join(neither, ", ")+".")
	}
}

// rated names the rating of a charger, stated or by what it offers.
func rated(r *charger.Result) string {
	if r.PDPW == nil {
		return ""
	}
	return " Rating: " + figure(r.PDPW, "W") + "."
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
