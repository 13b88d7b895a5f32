package text

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"portside/decode/rules"
)

// Rules prints the table of rules.
func Rules(w io.Writer, table []rules.Rule, look Look) error {
	p := newPage(w, look)
	for i, r := range table {
		if i > 0 {
			p.blank()
		}
		p.put(p.paint(bold, Safe(r.Name)) + ", at most " + p.paint(severityStyle(r.Severity), severity(r.Severity)))
		p.para(2, stop(r.Text))
		p.item("  points to  ", "", wordsOr(places(r.PointsTo), "nothing"))
		p.item("  needs      ", "", wordsOr(strings.Join(r.Needs, " or "), "nothing"))
		p.item("  limits     ", "", wordsOr(anyLimits(r.Limits), "none"))
		p.item("  source     ", "", stop(r.Source))
	}
	return p.close()
}

func wordsOr(s, none string) string {
	if s == "" {
		return none
	}
	return s
}

// anyLimits prints thresholds by name; keys end in their unit.
func anyLimits(m map[string]any) string {
	var words []string
	for _, key := range slices.Sorted(maps.Keys(m)) {
		name, unit := splitUnit(key)
		words = append(words, strings.TrimSpace(fmt.Sprintf("%s %s %s", name, number(m[key]), unit)))
	}
	return strings.Join(words, ", ")
}

func number(v any) string {
	if f, ok := v.(float64); ok {
		return strconv.FormatFloat(f, 'g', 4, 64)
	}
	return fmt.Sprint(v)
}
