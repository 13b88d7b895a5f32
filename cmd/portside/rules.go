package main

import (
	"github.com/spf13/cobra"

	"portside/cmd/portside/text"
	"portside/decode/rules"
)

const rulesSchema = "portside/rules/1"

// rulesDocument is what rules --json prints.
type rulesDocument struct {
	Schema string       `json:"schema"`
	Rules  []rules.Rule `json:"rules"`
}

func newRules(s *streams) *cobra.Command {
	var asJSON, noColor bool
	cmd := &cobra.Command{
		Use:   "rules [RULE]",
		Short: "every rule, its thresholds and where each number comes from",
		Long: `Lists every rule with what it needs, its thresholds, the sides of the port it
points to and the source of each number.`,
		Example: "  portside rules\n  portside rules retry-pulses\n  portside rules --json",
		Args:    operands(cobra.MaximumNArgs(1)),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return ruleNames(rules.Table()), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			table := rules.Table()
			if len(args) == 1 {
				var err error
				if table, err = pick(table, args[0]); err != nil {
					return err
				}
			}
			if asJSON {
				return writeJSON(s.out, rulesDocument{Schema: rulesSchema, Rules: table})
			}
			return text.Rules(s.out, table, s.look(noColor))
		},
	}
	cmd.Flags().SortFlags = false
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	cmd.Flags().BoolVar(&noColor, "no-color", false, "no colour on a terminal")
	return cmd
}

func ruleNames(table []rules.Rule) []string {
	var names []string
	for _, r := range table {
		names = append(names, r.Name)
	}
	return names
}

func pick(table []rules.Rule, name string) ([]rules.Rule, error) {
	for _, r := range table {
		if r.Name == name {
			return []rules.Rule{r}, nil
		}
	}
	if near := nearest(name, ruleNames(table)); near != "" {
		return nil, usage("there is no rule %q; did you mean %s?", name, near)
	}
	return nil, usage("there is no rule %q; portside rules lists all", name)
}
