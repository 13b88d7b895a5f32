package text

import (
	"fmt"
	"io"
	"math"
	"strings"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/rules"
)

// Options are what the diagnosis does not carry and its print-out needs.
type Options struct {
	Look Look
	// Command is the command line so far, up to where a further --reading goes.
	Command string
}

// Diagnosis prints a diagnosis: where, why, what to measure next, then all
// the detail.
func Diagnosis(w io.Writer, d *decode.Diagnosis, o Options) error {
	p := newPage(w, o.Look)
	letters := letter(d.Findings)
	p.verdict(&d.Verdict)
	why, rest := &sheet{}, &sheet{}
	why.facts(d, letters)
	p.sheet(why)
	p.picture(d, letters)
	rest.next(d, o.Command)
	rest.detail(d, letters)
	p.sheet(rest)
	return p.close()
}

// verdict says the side first, then how sure that is, then why in one
// sentence.
func (p *page) verdict(v *location.Verdict) {
	for _, line := range wrap(Safe(verdictLine(v)), p.width) {
		p.put(p.paint(bold, line))
	}
	p.para(0, capital(stop(v.Summary)))
	p.blank()
	for _, l := range sides {
		share := v.Locations[l]
		p.put(fmt.Sprintf("  %-16s %6s  %s", side(l), percent(share), p.bar(share)))
	}
}

func verdictLine(v *location.Verdict) string {
	if v.Location != rules.Undetermined {
		return fmt.Sprintf("%s: %s (%s).", strings.ToUpper(side(v.Location)), sure(v.Probability), percent(v.Probability))
	}
	var open []string
	for _, l := range v.Open {
		open = append(open, fmt.Sprintf("%s (%s)", strings.ToUpper(side(l)), percent(v.Locations[l])))
	}
	if len(open) == 0 {
		return "NOT SETTLED: the evidence does not part the sides of the port."
	}
	return strings.Join(open, " or ") + ": not settled yet."
}

// bar draws a share of one as a length.
func (p *page) bar(share float64) string {
	const long = 40
	mark := "#"
	if p.look.Unicode {
		mark = "■"
	}
	return strings.Repeat(mark, int(math.Round(min(max(share, 0), 1)*float64(min(long, p.width-30)))))
}
