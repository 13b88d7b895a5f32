package report

import (
	"io"
	"strings"

	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/charger"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// Tested is a charger with what its recording shows over time.
type Tested struct {
	Page        *text.ChargerPage
	Draw        *draw.Result // nil without a meter log
	Talk        *Talk        // nil without messages
	Negotiation *negotiation.Result
	OneClock    bool // both lie on one clock
}

// Charger writes the report of a charger held to the standard, and of a second one
// beside it; other is nil without.
func Charger(w io.Writer, one, other *Tested, about About) error {
	return write(w, OfCharger(one, other, about))
}

// OfCharger is what a page shows of a charger.
func OfCharger(one, other *Tested, about About) *View {
	v := &View{
		Heading: text.ChargerLine(one.Page.Result),
		Lead:    text.Sentence(one.Page.Summary),
		First:   text.ChargerFailures(one.Page),
		About:   about,
	}
	v.list(text.ChargerDetail(one.Page), "")
	v.show(one, "", "plot")
	if other != nil {
		v.Lead += " The other charger: " + text.ChargerLine(other.Page.Result) + " " + text.Sentence(other.Page.Summary)
		v.show(other, "The other charger", "other")
	}
	v.Title = title(v.Heading, about.Read())
	return v
}

// show draws what the recording of a charger shows, with its failures marked where the
// clocks allow that.
func (v *View) show(t *Tested, whose, id string) {
	if t.Draw == nil {
		return
	}
	d := &decode.Diagnosis{Draw: t.Draw, Negotiation: t.Negotiation}
	r := Recorded{Diagnosis: d, Talk: t.Talk}
	d.Verdict.Summary = strings.TrimSuffix(text.ChargerLine(t.Page.Result), ".") + ": " + t.Page.Summary
	if t.OneClock {
		d.Clock.OffsetS, d.Findings = new(float64), failures(t.Page.Result)
	}
	if p := picture(r, whose); p != nil {
		p.ID = id
		v.Plots = append(v.Plots, p)
	}
}

// failures are what fails as marks of a picture.
func failures(r *charger.Result) []rules.Finding {
	var out []rules.Finding
	for i := range r.Checks {
		if c := &r.Checks[i]; c.Result == charger.Fail {
			out = append(out, rules.Finding{Severity: rules.Fault, StartS: c.AtS, Text: c.Check + ": " + c.Text})
		}
	}
	return out
}
