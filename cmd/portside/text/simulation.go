package text

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"portside/captures/bench"
)

// SimulationFacts is what was written of a simulated bench.
type SimulationFacts struct {
	Scenario string
	Seed     uint64
	Files    []string
	Rows     int // of the meter
	Messages int
	Recorded bool // the messages
}

// Simulation tells which files stand ready, and not what they show.
func Simulation(w io.Writer, f SimulationFacts, look Look) error {
	p := newPage(w, look)
	p.para(0, fmt.Sprintf("%s, seed %d: %s and %s.", f.Scenario, f.Seed, counted(f.Rows, "meter row"), counted(f.Messages, "message")))
	for _, file := range f.Files {
		p.put("  " + Safe(file))
	}
	if !f.Recorded {
		p.para(0, "The message recorder was switched off.")
	}
	p.para(0, "The answer stands in truth.json.")
	return p.close()
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// benchSides in the order in which current passes them.
func benchSides() []bench.Location {
	return []bench.Location{bench.Healthy, bench.BeforePort, bench.AtPort, bench.BehindPort}
}

// Families lists scenarios by side of the port, with what each draws by itself.
func Families(w io.Writer, list []bench.Family, look Look) error {
	p := newPage(w, look)
	p.para(0, fmt.Sprintf("%d scenarios. Below each: the ranges that are its own.", len(list)))
	for _, side := range benchSides() {
		p.heading(string(side))
		for i := range list {
			if list[i].Location == side {
				p.family(&list[i])
			}
		}
	}
	p.blank()
	p.para(0, "All parameters of one: portside simulate --list SCENARIO")
	p.para(0, "Write one:             portside simulate SCENARIO --out DIR --seed N")
	return p.close()
}

func (p *page) family(f *bench.Family) {
	p.put("  " + p.paint(bold, f.Name))
	p.para(6, stop(f.Title))
	var ranges []string
	for _, s := range f.Spans() {
		ranges = append(ranges, spanText(s))
	}
	if len(ranges) > 0 {
		p.para(6, strings.Join(ranges, "; "))
	}
}

func spanText(s bench.Span) string {
	return strings.TrimSpace(fmt.Sprintf("%s %.4g to %.4g %s", settingName(s.Name), s.From, s.To, bench.Unit(s.Name)))
}

// settingName is a parameter's name as it is typed.
func settingName(name string) string { return strings.ReplaceAll(name, "_", "-") }

// Family shows one scenario with everything that can be set in it: what is
// drawn, and from what; what stands still, and where; and what is allowed.
func Family(w io.Writer, f bench.Family, seed uint64, look Look) error {
	p := newPage(w, look)
	p.put(p.paint(bold, f.Name))
	p.item("  ", "", stop(f.Title))
	p.item("  ", "", stop(f.Story))
	where := string(f.Location)
	if f.Part != "" {
		where += ", " + f.Part
	}
	p.item("  Location: ", "", where)
	if len(f.Rules) > 0 {
		p.item("  Its recordings can show: ", "", strings.Join(f.Rules, ", "))
	}
	p.heading("Drawn from a range of its own")
	p.spans(f.Spans())
	p.heading(fmt.Sprintf("Everything that --set takes, with seed %d's value", seed))
	s := f.Draw(seed)
	for _, x := range s.Settings() {
		p.item(fmt.Sprintf("  %-24s ", settingName(x.Name)), "", settingText(x))
	}
	return p.close()
}

func (p *page) spans(spans []bench.Span) {
	if len(spans) == 0 {
		p.put("  none: only what differs from bench to bench")
	}
	for _, s := range spans {
		p.item(fmt.Sprintf("  %-24s ", settingName(s.Name)), "",
			strings.TrimSpace(fmt.Sprintf("%.4g to %.4g %s", s.From, s.To, bench.Unit(s.Name)))+" ("+s.Source+")")
	}
}

func settingText(x bench.Setting) string {
	switch x.Kind {
	case "switch":
		return x.Value + " (true or false)"
	case "choice":
		return x.Value + " (source or device)"
	case "offers":
		return x.Value + " (volts:amperes, 5 V first)"
	}
	unit := x.Unit
	if unit != "" {
		unit = " " + unit
	}
	return fmt.Sprintf("%s%s (%.6g to %.6g)", shortNumber(x.Value), unit, x.Min, x.Max)
}

// shortNumber takes a drawn figure's digits off that nobody would set.
func shortNumber(text string) string {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(x, 'g', 4, 64)
}
