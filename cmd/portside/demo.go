package main

import (
	"strings"

	"github.com/spf13/cobra"

	"portside/captures/demo"
	"portside/cmd/portside/text"
)

const demoSchema = "portside/demo/1"

// demoDocument is what demo --json prints.
type demoDocument struct {
	Schema string      `json:"schema"`
	Demos  []demoEntry `json:"demos"`
}

type demoEntry struct {
	Name     string   `json:"name"` // as it is given to a command, demo:NAME
	Title    string   `json:"title"`
	Story    string   `json:"story"`
	Location string   `json:"location"`
	Files    []string `json:"files"`
}

func newDemo(s *streams) *cobra.Command {
	var asJSON, noColor bool
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "lists the recordings that come with the program",
		Long: `Lists the recordings that come with the program. Each is read as demo:NAME
wherever a FILE is, and demo:NAME/meter or demo:NAME/messages is one file of it.`,
		Example: "  portside demo\n  portside diagnose demo:hard-short-main-rail\n  portside decode demo:hard-short-main-rail",
		Args:    operands(cobra.NoArgs),
		RunE: func(*cobra.Command, []string) error {
			list := demo.List()
			if asJSON {
				return writeJSON(s.out, demoDocumentOf(list))
			}
			return text.Demos(s.out, list, s.look(noColor))
		},
	}
	cmd.Flags().SortFlags = false
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	cmd.Flags().BoolVar(&noColor, "no-color", false, "no colour on a terminal")
	return cmd
}

func demoDocumentOf(list []demo.Info) demoDocument {
	doc := demoDocument{Schema: demoSchema, Demos: []demoEntry{}}
	for _, d := range list {
		doc.Demos = append(doc.Demos, demoEntry{
			Name: demoPrefix + d.Name, Title: d.Title, Story: d.Story,
			Location: string(d.Location), Files: append([]string{}, d.Files...),
		})
	}
	return doc
}

// demoCompletions names the demos for a shell.
func demoCompletions(prefix string) []string {
	var names []string
	for _, d := range demo.List() {
		if name := demoPrefix + d.Name; strings.HasPrefix(name, prefix) {
			names = append(names, name)
		}
	}
	return names
}
