package main

import (
	"portside/captures/bench"
	"portside/cmd/portside/text"
)

const scenariosSchema = "portside/scenarios/1"

// scenariosDocument is what simulate --list --json prints.
type scenariosDocument struct {
	Schema    string          `json:"schema"`
	Scenarios []scenarioEntry `json:"scenarios"`
	Common    []spanEntry     `json:"common"`   // drawn in every scenario that does not say otherwise
	Settings  []settingEntry  `json:"settings"` // what --set takes
}

type scenarioEntry struct {
	Name       string      `json:"name"`
	Location   string      `json:"location"`
	Part       *string     `json:"part"` // null where all is sound
	Title      string      `json:"title"`
	Story      string      `json:"story"`
	Rules      []string    `json:"rules"`
	Parameters []spanEntry `json:"parameters"` // drawn from a range of its own
}

type spanEntry struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit"`
	From    float64 `json:"from"`
	To      float64 `json:"to"`
	Decades bool    `json:"by_decades"` // evenly over decades, else evenly
	Source  string  `json:"source"`
}

type settingEntry struct {
	Name   string   `json:"name"`
	Kind   string   `json:"kind"`
	Unit   string   `json:"unit"`
	Min    *float64 `json:"min"` // null for a switch or a choice
	Max    *float64 `json:"max"`
	Source string   `json:"source"`
}

// listFamilies lists the scenarios, or one with all that can be set in it.
func listFamilies(s *streams, o *simulateFlags, args []string) error {
	if o.out != "" || len(o.set) > 0 {
		return usage("--list writes no files; leave out --out and --set, or --list")
	}
	families := bench.Families()
	if len(args) == 1 {
		f, err := findFamily(args[0])
		if err != nil {
			return err
		}
		families = []bench.Family{f}
	}
	switch {
	case o.json:
		return writeJSON(s.out, scenariosOf(families))
	case len(args) == 1:
		return text.Family(s.out, families[0], o.seed, s.look(o.noColor))
	default:
		return text.Families(s.out, families, s.look(o.noColor))
	}
}

func scenariosOf(families []bench.Family) scenariosDocument {
	doc := scenariosDocument{
		Schema: scenariosSchema, Scenarios: []scenarioEntry{},
		Common: spansOf(bench.CommonSpans()), Settings: []settingEntry{},
	}
	for _, f := range families {
		e := scenarioEntry{
			Name: f.Name, Location: string(f.Location), Title: f.Title, Story: f.Story,
			Rules: append([]string{}, f.Rules...), Parameters: spansOf(f.Spans()),
		}
		if f.Part != "" {
			e.Part = &f.Part
		}
		doc.Scenarios = append(doc.Scenarios, e)
	}
	for _, x := range families[0].Settings() {
		e := settingEntry{Name: x.Name, Kind: x.Kind, Unit: x.Unit, Source: x.Source}
		if x.Max > x.Min {
			e.Min, e.Max = &x.Min, &x.Max
		}
		doc.Settings = append(doc.Settings, e)
	}
	return doc
}

func spansOf(spans []bench.Span) []spanEntry {
	out := []spanEntry{}
	for _, x := range spans {
		out = append(out, spanEntry{x.Name, bench.Unit(x.Name), x.From, x.To, x.Decades, x.Source})
	}
	return out
}
