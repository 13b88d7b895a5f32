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
	for _, t := range d.Next[1:] {
		back := "-"
		if t.Reading != nil {
			back = *t.Reading + "=" + form(*t.Reading)
		}
		g.add(t.Test, strconv.FormatFloat(t.Minutes, 'g', 3, 64), fmt.Sprintf("%.2f", t.GainBits), back)
	}
	p.table(g)
	for _, t := range d.Next[1:] {
		if t.Caution != nil {
			p.item("  Caution, "+Safe(testName(t))+": ", yellow, stop(*t.Caution))
		}
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
