package text

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/rules"
)

// factCount is how many facts a reader takes in at a glance.
const factCount = 3

// letter names the findings a, b, c, ... so that the picture, the facts and
// the table speak of the same one; the gravest are named first.
func letter(findings []rules.Finding) []string {
	order := make([]int, len(findings))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(weight(findings[b].Severity), weight(findings[a].Severity))
	})
	names := make([]string, len(findings))
	for place, at := range order {
		names[at] = letterAt(place)
	}
	return names
}

// letterAt counts a to z, aa, ab, ...
func letterAt(n int) string {
	name := ""
	for n++; n > 0; n = (n - 1) / 26 {
		name = string(rune('a'+(n-1)%26)) + name
	}
	return name
}

// facts names the three things that carry the verdict: findings that point
// where it points, the gravest first; then what rules the others out; then what
// would change it.
func (p *sheet) facts(d *decode.Diagnosis, letters []string) {
	p.heading("Why")
	p.carriers(d, letters)
	if first := d.Verdict.WouldChange; len(first) > 0 {
		p.item("  ?  ", "", change(d, first[0]))
	}
}

// change says what reading would change the verdict, or make it less sure.
func change(d *decode.Diagnosis, x location.Change) string {
	would, then := "would change", fmt.Sprintf("%s (%s)", side(x.Location), percent(x.Probability))
	switch x.Location {
	case rules.Undetermined:
		then = "nothing settled"
	case d.Verdict.Location:
		would = "would be less sure"
	}
	return fmt.Sprintf("It %s with %s reading %s: then %s.", would, x.Reading, x.Reads, then)
}

// carriers names the things that carry the verdict.
func (p *sheet) carriers(d *decode.Diagnosis, letters []string) {
	printed, carry := 0, carrying(d)
	for _, i := range carry {
		f := d.Findings[i]
		label := "  " + pad(letters[i], 2) + " " + pad(severity(f.Severity), 8)
		p.item(label, severityStyle(f.Severity), capital(findingText(d, f)))
		printed++
	}
	said := map[string]bool{}
	once := func(why string) string {
		if said[why] {
			return "the same."
		}
		said[why] = true
		for _, i := range carry {
			if strings.HasSuffix(why, d.Findings[i].Text) { // a time may stand before it
				return "see " + letters[i] + "."
			}
		}
		return stop(why)
	}
	for _, e := range ruledOut(d) {
		if printed == factCount {
			return
		}
		p.item("  -  ", "", "Not "+strings.Join(e.sides, ", not ")+": "+once(e.why))
		printed++
	}
	for _, s := range d.Suspects {
		if printed == factCount {
			return
		}
		if s.Why == "" {
			continue
		}
		p.item("  -  ", "", "For "+part(s.Part)+": "+once(s.Why))
		printed++
	}
	if printed == 0 {
		p.para(2, "Nothing in the recording points anywhere.")
	}
}

// reason is what rules sides out.
type reason struct {
	why   string
	sides []string
}

// ruledOut groups the sides by what rules them out.
func ruledOut(d *decode.Diagnosis) []reason {
	var out []reason
	for _, e := range d.Verdict.Excluded {
		at := slices.IndexFunc(out, func(r reason) bool { return r.why == e.Why })
		if at < 0 {
			at = len(out)
			out = append(out, reason{why: e.Why})
		}
		out[at].sides = append(out[at].sides, side(e.Location))
	}
	return out
}

// carrying picks the findings that carry the verdict. Two rules may say the same of one
// stall: its words stand once. A note that points elsewhere carries nothing.
func carrying(d *decode.Diagnosis) []int {
	to := []rules.Location{d.Verdict.Location}
	if d.Verdict.Location == rules.Undetermined {
		to = d.Verdict.Open
	}
	points := func(i int) int {
		for _, l := range d.Findings[i].PointsTo {
			if slices.Contains(to, l) {
				return 1
			}
		}
		return 0
	}
	order := make([]int, len(d.Findings))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(
			cmp.Compare(points(b), points(a)),
			cmp.Compare(weight(d.Findings[b].Severity), weight(d.Findings[a].Severity)),
		)
	})
	var carry []int
	for _, i := range order {
		said := slices.ContainsFunc(carry, func(j int) bool { return findingText(d, d.Findings[i]) == findingText(d, d.Findings[j]) })
		aside := d.Findings[i].Severity == rules.Note && points(i) == 0
		if !said && !aside && len(carry) < factCount {
			carry = append(carry, i)
		}
	}
	return carry
}

// findingText is the finding in words, with its clock where clocks differ.
func findingText(d *decode.Diagnosis, f rules.Finding) string {
	if f.Input == nil {
		return stop(f.Text)
	}
	return stop(f.Text) + " (" + clockName(d, *f.Input) + " time)"
}

// clockName is the kind of an input, or its path where two are of one kind.
func clockName(d *decode.Diagnosis, path string) string {
	kind, same := "", 0
	for _, in := range d.Inputs {
		if in.Path == path {
			kind = in.Kind
		}
	}
	for _, in := range d.Inputs {
		if in.Kind == kind {
			same++
		}
	}
	switch {
	case same != 1:
		return path
	case kind == "messages":
		return "message"
	default:
		return kind
	}
}

// part names a suspect in words.
func part(name string) string { return "the " + strings.ReplaceAll(name, "-", " ") }
