package lessons

import (
	"fmt"

	"portside/cmd/portside/text"
)

// Sections are the lesson as every surface shows it, one section a step and
// the last for what the engine says of it.
func (l *Lesson) Sections() []text.Section {
	var out []text.Section
	for i := range l.Steps {
		out = append(out, l.section(i))
	}
	return append(out, l.end())
}

func (l *Lesson) section(i int) text.Section {
	s := &l.Steps[i]
	out := text.Section{Title: fmt.Sprintf("Step %d: %s", i+1, s.Title)}
	add := func(b text.Block) { out.Blocks = append(out.Blocks, b) }
	g := text.Grid{Head: []string{"", "here"}, Figures: map[int]bool{1: true, 2: true}}
	if s.Sound != nil {
		g.Head = append(g.Head, "a sound one")
	}
	row := func(name string, of func(Moment) string) {
		cells := []string{name, of(s.Mine)}
		if s.Sound != nil {
			cells = append(cells, of(*s.Sound))
		}
		g.Rows = append(g.Rows, cells)
	}
	row("time since plug-in", func(m Moment) string { return ifFound(m, "%.3f s", m.AtS) })
	row("meter: VBUS", func(m Moment) string { return ifFound(m, "%.3f V", m.Volts) })
	row("meter: current", func(m Moment) string { return ifFound(m, "%.3f A", m.Amps) })
	row("after "+s.After, func(m Moment) string {
		if m.WaitedS == nil {
			return "-"
		}
		if *m.WaitedS >= 1 {
			return ifFound(m, "%.3f s", *m.WaitedS)
		}
		return ifFound(m, "%.1f ms", 1000**m.WaitedS)
	})
	if s.Mine.PeakA != nil {
		row("highest current", func(m Moment) string {
			if m.PeakA == nil {
				return "-"
			}
			return fmt.Sprintf("%.3f A", *m.PeakA)
		})
	}
	add(text.Block{Table: &g})
	add(text.Block{Indent: 2, Label: "On CC: ", Text: onCC(s.Mine)})
	if s.Parts && s.Sound.Found && s.Sound.Words != s.Mine.Words {
		add(text.Block{Indent: 2, Label: "On CC of a sound one: ", Text: onCC(*s.Sound)})
	}
	add(text.Block{Indent: 2, Label: "Why: ", Text: s.Why})
	for _, x := range s.Limits {
		add(text.Block{Indent: 2, Label: "Limit: ", Text: fmt.Sprintf("%s, %s (%s)", x.Name, x.Text, x.Source)})
	}
	if s.Parts {
		add(text.Block{Indent: 2, Label: "HERE IT PARTS: ", Grave: "fault", Text: l.parting(s)})
	}
	add(text.Block{Indent: 2, Label: "If it failed here: ", Text: s.Fails})
	return out
}

func onCC(m Moment) string {
	switch {
	case !m.Found:
		return "the step never comes"
	case m.Words == "":
		return "nothing new"
	}
	return m.Words
}

func ifFound(m Moment, format string, x float64) string {
	if !m.Found {
		return "never"
	}
	return fmt.Sprintf(format, x)
}

func (l *Lesson) parting(s *Step) string {
	if !s.Mine.Found && s.Sound.Found {
		return "a sound machine gets this far, this one never does."
	}
	return "up to here it went as in a sound machine; from here on it does not."
}

// end is what the engine says of the recording, and the truth.
func (l *Lesson) end() text.Section {
	d := l.Mine.Diagnosis
	out := text.Section{Title: "What the whole recording says"}
	add := func(label, grave, s string) {
		out.Blocks = append(out.Blocks, text.Block{Indent: 2, Label: label, Grave: grave, Text: s})
	}
	add("The engine: ", "", text.VerdictLine(&d.Verdict)+" "+text.Sentence(d.Verdict.Summary))
	for _, f := range d.Findings[:min(len(d.Findings), findingsShown)] {
		add(string(f.Severity)+": ", string(f.Severity), text.Sentence(f.Text))
	}
	if n := len(d.Findings) - findingsShown; n > 0 {
		add("and: ", "", fmt.Sprintf("%d further findings; portside diagnose shows all", n))
	}
	s := &l.Mine.Run.Scenario
	truth := text.Side(locationOf(s))
	if s.Part != "" {
		truth += ", " + s.Part
	}
	add("The truth: ", "", truth)
	if len(d.Next) > 0 && s.Part != "" {
		t := d.Next[0]
		add("Measure first: ", "", fmt.Sprintf("%s (%.3g min)", t.Test, t.Minutes))
		if t.Caution != nil {
			add("CAUTION: ", "warning", *t.Caution)
		}
	}
	if len(d.Next) == 0 && len(d.Locate) > 0 {
		add("Then: ", "", text.Sentence(d.Locate[0].Step)+" "+text.Sentence(d.Locate[0].Expect))
	}
	return out
}

// findingsShown is how many findings a lesson repeats.
const findingsShown = 6
