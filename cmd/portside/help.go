package main

import (
	"embed"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

//go:embed help/*.txt
var topicFiles embed.FS

// topics are the help texts beside the commands, in the order of use.
var topics = [...]struct{ name, short string }{
	{"formats", "what can be read, and how it is told apart"},
	{"readings", "bench measurements and the values they take"},
	{"recording", "how to take a trace that answers the question"},
	{"environment", "variables that are looked at"},
	{"exit-codes", "what the exit status says"},
	{"sources", "where the numbers come from"},
	{"safety", "before you touch the board"},
	{"glossary", "the words of the standard and of the trade"},
}

func topicNames() []string {
	var names []string
	for _, t := range topics {
		names = append(names, t.name)
	}
	return names
}

func newHelp(s *streams) *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND|TOPIC]",
		Short:   "explains a command or a topic",
		Long:    "Explains a command or a topic.",
		Example: "  portside help diagnose\n  portside help recording",
		Args:    operands(cobra.MaximumNArgs(1)),
		ValidArgsFunction: func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
			return append(commandNames(cmd.Root()), topicNames()...), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Root().Help()
			}
			return explain(s.out, cmd.Root(), args[0])
		},
	}
}

func explain(w io.Writer, root *cobra.Command, word string) error {
	if raw, err := topicFiles.ReadFile("help/" + word + ".txt"); err == nil {
		_, err := w.Write(raw)
		return err
	}
	for _, c := range root.Commands() {
		if c.Name() == word {
			return c.Help()
		}
	}
	if near := nearest(word, append(commandNames(root), topicNames()...)); near != "" {
		return usage("there is no help on %q; did you mean: portside help %s", word, near)
	}
	return usage("there is no help on %q; portside --help lists commands and topics", word)
}

func commandNames(root *cobra.Command) []string {
	var names []string
	for _, c := range root.Commands() {
		if !c.Hidden && c.Name() != "help" {
			names = append(names, c.Name())
		}
	}
	slices.Sort(names)
	return names
}

const helpWidth = 80

// printHelp prints a command's help: one sentence, examples, flags, exit
// status.
func printHelp(w io.Writer, cmd *cobra.Command) {
	cmd.InitDefaultHelpFlag()
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n  %s\n\nExamples:\n%s\n", strings.TrimSpace(cmd.Long), usageLine(cmd), cmd.Example)
	if !cmd.HasParent() {
		b.WriteString("\nCommands:\n")
		for _, c := range cmd.Commands() {
			if !c.Hidden && c.Name() != "help" {
				fmt.Fprintf(&b, "  %-12s %s\n", c.Name(), c.Short)
			}
		}
		b.WriteString("\nHelp topics (portside help TOPIC):\n")
		for _, t := range topics {
			fmt.Fprintf(&b, "  %-12s %s\n", t.name, t.short)
		}
	}
	b.WriteString("\nFlags:\n" + cmd.LocalFlags().FlagUsagesWrapped(helpWidth))
	fmt.Fprintf(&b, "\nExit status: %s.\nportside help exit-codes has the details.\n", exitWords(cmd))
	_, _ = io.WriteString(w, b.String()) // the writer keeps its error
}

func usageLine(cmd *cobra.Command) string {
	line := cmd.Use
	if cmd.HasParent() {
		line = "portside " + line
	}
	if cmd.HasAvailableLocalFlags() && cmd.HasParent() {
		line += " [flags]"
	}
	return line
}

// readsInput marks a command that reads recordings without the flags of a file.
const readsInput = "reads-input"

// exitWords says which statuses a command can end with.
func exitWords(cmd *cobra.Command) string {
	words := "0 it ran, 1 a fault inside, 2 wrong command line"
	_, folder := cmd.Annotations[readsInput]
	if folder || cmd.Flags().Lookup("as") != nil {
		words += ",\n3 an input could not be used"
	}
	if cmd.Flags().Lookup("fail-on") != nil {
		words += ", 4 --fail-on found one"
	}
	if cmd.Flags().Lookup("as") != nil {
		words += ", 130 interrupted"
	}
	return words
}
