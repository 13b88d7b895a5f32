package text

import (
	"fmt"
	"strconv"
	"strings"

	"portside/decode"
	"portside/decode/location"
)

// next prints the first measurement in full and the rest in a table.
func (p *sheet) next(d *decode.Diagnosis, command string) {
	if len(d.Next) == 0 {
		p.heading("Measure next: nothing")
		p.para(2, "No further measurement on the list would change the verdict.")
		if len(d.Locate) > 0 {
			p.para(2, "The steps that find the part stand below.")
		}
		return
	}
	first := d.Next[0]
	p.heading(fmt.Sprintf("Measure next: %s, about %s", first.Test, minutes(first.Minutes)))
	p.test(first, command)
	if len(d.Next) == 1 {
		return
	}
	p.heading("After that, where it is still open")
	g := newGrid("measurement", "minutes", "bits", "--reading").figures(1, 2)
	var shown []location.Test
	var little []string
	for _, t := range d.Next[1:] {
		if t.GainBits < leastShown {
			little = append(little, testName(t))
			continue
		}
		shown = append(shown, t)
		back := "-"
		if t.Reading != nil {
			back = *t.Reading + "=" + form(*t.Reading)
		}
		g.add(t.Test, strconv.FormatFloat(t.Minutes, 'g', 3, 64), fmt.Sprintf("%.2f", t.GainBits), back)
	}
	if len(shown) > 0 {
		p.table(g)
	}
	if len(little) > 0 {
		p.para(2, "Less than "+strconv.FormatFloat(leastShown, 'g', 3, 64)+" bit each: "+Safe(strings.Join(little, ", "))+".")
	}
	p.testCautions(shown)
}

// leastShown is the gain in bit below which a test has no row of its own.
const leastShown = 0.01

// testCautions prints each caution once, with the tests that it goes with.
func (p *sheet) testCautions(tests []location.Test) {
	var order []string
	of := map[string][]string{}
	for _, t := range tests {
		if t.Caution == nil {
			continue
		}
		if of[*t.Caution] == nil {
			order = append(order, *t.Caution)
		}
		of[*t.Caution] = append(of[*t.Caution], testName(t))
	}
	for _, c := range order {
		p.item("  Caution: ", yellow, "for "+Safe(strings.Join(of[c], ", "))+": "+stop(c))
	}
}

func (p *sheet) test(t location.Test, command string) {
	if t.Caution != nil {
		p.item("  Caution: ", yellow, stop(*t.Caution))
	}
	for _, l := range sides {
		if expect, ok := t.Expect[l]; ok {
			p.item("  "+pad(side(l), 16)+" reads  ", "", expect)
		}
	}
	if t.Reading == nil {
		return
	}
	p.para(2, "Feed it back ("+accepted(*t.Reading)+"):")
	p.para(4, fmt.Sprintf("%s --reading %s=%s", command, *t.Reading, form(*t.Reading)))
}

// minutes prints a duration as a person plans it.
func minutes(m float64) string {
	if m == 1 {
		return "1 minute"
	}
	return strconv.FormatFloat(m, 'g', 3, 64) + " minutes"
}

// trials are readings that compare a second trial with the recording.
var trials = [...]string{"known-good-charger", "other-cable", "other-port", "plug-flipped", "repeat"}

// form is the placeholder that stands for a reading's value.
func form(reading string) string {
	switch {
	case isTrial(reading):
		return "same|different|none"
	case strings.HasSuffix(reading, "-ohm"):
		return "OHM"
	case strings.HasSuffix(reading, "-v"):
		return "VOLT"
	case strings.HasSuffix(reading, "-a"):
		return "AMPERE"
	default:
		return "VALUE"
	}
}

// accepted says what a reading's value may look like.
func accepted(reading string) string {
	switch {
	case isTrial(reading):
		return "same complaint, different, or none at hand"
	case strings.HasSuffix(reading, "-ohm"):
		return "such as 0.8ohm or 4.7kohm, or open, or short"
	case strings.HasSuffix(reading, "-v"):
		return "such as 0.45V or 20mV, or open, or short"
	case strings.HasSuffix(reading, "-a"):
		return "such as 20mA or 0.4A"
	default:
		return "portside help readings lists the values"
	}
}

func isTrial(reading string) bool {
	for _, t := range trials {
		if t == reading {
			return true
		}
	}
	return false
}

// testName is the short name of a test: its reading where it has one.
func testName(t location.Test) string {
	if t.Reading != nil {
		return *t.Reading
	}
	return t.Test
}
