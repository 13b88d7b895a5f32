package text

import (
	"io"
	"strings"

	"portside/captures/demo"
)

// Demos lists the recordings that come with the program.
func Demos(w io.Writer, list []demo.Info, look Look) error {
	p := newPage(w, look)
	for i, d := range list {
		if i > 0 {
			p.blank()
		}
		p.put(p.paint(bold, Safe("demo:"+d.Name)))
		p.para(2, stop(d.Title))
		p.para(2, stop(d.Story))
		p.item("  files: ", "", strings.Join(d.Files, ", "))
	}
	p.blank()
	p.para(0, "Try one: portside diagnose demo:NAME")
	return p.close()
}
