package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"portside/cmd/portside/lessons"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
)

const lessonsSchema = "portside/lessons/1"

type teachFlags struct {
	html     reportFile
	practice bool
	seed     uint64
	cases    int
	level    int
	record   string
	json     bool
	noColor  bool
}

func newTeach(s *streams) *cobra.Command {
	o := &teachFlags{}
	cmd := &cobra.Command{
		Use:   "teach [SCENARIO]",
		Short: "walks through a power-up, sound or faulty, step by step",
		Long: `Walks through a power-up step by step: what the meter shows, what is on the CC
line, why it happens, the standard's limit, and what it would mean if it failed
there. Without a SCENARIO it lists the lessons; sound-charging is the first.
Each is a simulated bench, and --seed N chooses which. On a terminal it waits
for Enter between steps.

With --practice it sets cases drawn at random, easy ones first. You see what
meter and messages show, may ask for measurements (each costs its minutes), and
name the side of the port. Powering a node that is shorted loses the case. An
explanation follows. The same --seed and answers give the same cases. Nothing
is kept unless --record names a FILE. It is played by typing, or by a script on
standard input:

  readings         what can be measured, and what it costs
  measure NAME     take a reading of the unit
  answer LOCATION  before-port, at-port, behind-port or healthy
  show, give-up, quit`,
		Example: `  portside teach
  portside teach sound-charging
  portside teach hard-short-main-rail --html lesson.html
  portside teach --practice --seed 7`,
		Args: operands(cobra.MaximumNArgs(1)),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return familyNames(), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if o.practice {
				if len(args) > 0 {
					return usage("--practice draws its cases itself; leave out %s", args[0])
				}
				return practise(s, o)
			}
			if o.record != "" || o.cases != 0 || o.level != 0 {
				return usage("--record, --cases and --level belong to --practice")
			}
			if len(args) == 0 {
				return listLessons(s, o)
			}
			return teach(s, o, args[0])
		},
	}
	f := cmd.Flags()
	f.SortFlags = false
	f.Uint64Var(&o.seed, "seed", 1, "which bench, or which cases, `N`")
	f.BoolVar(&o.practice, "practice", false, "set cases to solve")
	f.IntVar(&o.cases, "cases", 0, "end after `N` cases")
	f.IntVar(&o.level, "level", 0, "stay at level `N` (1 to 3); else it climbs with right answers")
	f.StringVar(&o.record, "record", "", "add each result to `FILE`, one JSON object a line")
	o.html.add(cmd)
	f.BoolVar(&o.json, "json", false, "print JSON")
	f.BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	return cmd
}

// lessonsDocument is what teach --json prints without a lesson.
type lessonsDocument struct {
	Schema  string        `json:"schema"`
	Lessons []lessonEntry `json:"lessons"`
}

type lessonEntry struct {
	Name     string `json:"name"`
	Title    string `json:"title"`
	Location string `json:"location"`
}

func listLessons(s *streams, o *teachFlags) error {
	if o.html.path != "" {
		return usage("--html needs a lesson: portside teach SCENARIO --html %s", o.html.path)
	}
	doc := lessonsDocument{Schema: lessonsSchema}
	g := &text.Grid{Head: []string{"lesson", "side", "what it is about"}}
	for _, f := range lessons.List() {
		doc.Lessons = append(doc.Lessons, lessonEntry{Name: f.Name, Title: f.Title, Location: string(f.Location)})
		g.Rows = append(g.Rows, []string{f.Name, string(f.Location), f.Title})
	}
	if o.json {
		return writeJSON(s.out, doc)
	}
	return text.Lessons(s.out, g, s.look(o.noColor))
}

// lessonDocument is what teach --json prints of a lesson.
type lessonDocument struct {
	Schema   string         `json:"schema"`
	Lesson   string         `json:"lesson"`
	Title    string         `json:"title"`
	Seed     uint64         `json:"seed"`
	PartsAt  *int           `json:"parts_at_step"` // null where it stays sound
	Steps    []lessons.Step `json:"steps"`
	Location string         `json:"location"`
}

func teach(s *streams, o *teachFlags, name string) error {
	if err := o.html.check(nil); err != nil {
		return err
	}
	l, err := lessons.New(name, o.seed)
	if errors.Is(err, lessons.ErrNoLesson) {
		_, err = findFamily(name)
	}
	if err != nil {
		return err
	}
	if o.json {
		doc := lessonDocument{
			Schema: "portside/lesson/1", Lesson: l.Name, Title: l.Title, Seed: o.seed,
			Steps: l.Steps, Location: string(l.Mine.Run.Scenario.Location),
		}
		if l.PartsAt >= 0 {
			step := l.PartsAt + 1
			doc.PartsAt = &step
		}
		err = writeJSON(s.out, doc)
	} else {
		err = walkLesson(s, o, l)
	}
	if err == nil {
		err = o.html.write(func(w io.Writer) error {
			return report.Teach(w, pageOf(l), report.About{Version: version, Standard: standard})
		})
	}
	return err
}

func pageOf(l *lessons.Lesson) *report.Lesson {
	p := &report.Lesson{Title: "Lesson: " + l.Title, Lead: l.Lead, Sections: l.Sections(), Mine: simulated(l.Mine)}
	if l.Sound != nil {
		sound := simulated(l.Sound)
		p.Sound = &sound
	}
	return p
}

// simulated is a simulated recording as a report shows it.
func simulated(r *lessons.Recording) report.Recorded {
	out := report.Recorded{Diagnosis: r.Diagnosis, Talk: &report.Talk{}}
	for i := range r.Run.Messages {
		out.Talk.Add(&r.Run.Messages[i])
	}
	return out
}

// walkLesson prints a lesson. Where somebody sits at it, it waits between
// steps.
func walkLesson(s *streams, o *teachFlags, l *lessons.Lesson) error {
	look := s.look(o.noColor)
	if err := text.Paragraphs(s.out, l.Title, []string{l.Lead}, look); err != nil {
		return err
	}
	if err := text.Picture(s.out, l.Mine.Diagnosis, look); err != nil {
		return err
	}
	keys := bufio.NewReader(s.in)
	for _, section := range l.Sections() {
		if s.outTTY && s.inTTY {
			if _, err := fmt.Fprint(s.out, "\n[Enter] "); err != nil {
				return err
			}
			if _, err := keys.ReadString('\n'); err != nil {
				return nil // the end of the keys is the end of the lesson
			}
		}
		if err := text.Sections(s.out, []text.Section{section}, look); err != nil {
			return err
		}
	}
	return nil
}
