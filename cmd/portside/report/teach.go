package report

import (
	"io"

	"portside/cmd/portside/text"
)

// Lesson is a lesson as a page shows it.
type Lesson struct {
	Title    string
	Lead     string
	Sections []text.Section
	Mine     Recorded
	Sound    *Recorded // nil where the lesson is of a sound machine
}

// Teach writes a lesson as a page: the pictures first, then the steps.
func Teach(w io.Writer, l *Lesson, about About) error {
	v := &View{Title: l.Title, Heading: l.Title, Lead: l.Lead, About: about}
	v.list(l.Sections, "")
	add := func(r Recorded, whose, id string) {
		if p := picture(r, whose); p != nil {
			p.ID = id
			v.Plots = append(v.Plots, p)
		}
	}
	add(l.Mine, "This power-up", "plot")
	if l.Sound != nil {
		add(*l.Sound, "A sound one beside it", "sound")
	}
	return write(w, v)
}
