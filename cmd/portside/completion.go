package main

import (
	"strings"

	"github.com/spf13/cobra"
)

func newCompletion(s *streams) *cobra.Command {
	shells := []string{"bash", "zsh", "fish", "powershell"}
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "prints a completion script for bash, zsh, fish or powershell",
		Long: `Prints a completion script for bash, zsh, fish or powershell. Load it in your
shell's start-up file.`,
		Example:   "  portside completion bash\n  portside completion fish",
		Args:      operands(cobra.ExactArgs(1)),
		ValidArgs: shells,
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			switch args[0] {
			case "bash":
				return root.GenBashCompletionV2(s.out, true)
			case "zsh":
				return root.GenZshCompletion(s.out)
			case "fish":
				return root.GenFishCompletion(s.out, true)
			case "powershell":
				return root.GenPowerShellCompletionWithDesc(s.out)
			}
			if near := nearest(args[0], shells); near != "" {
				return usage("there is no completion for %q; did you mean %s?", args[0], near)
			}
			return usage("there is no completion for %q; expected bash, zsh, fish or powershell", args[0])
		},
	}
}

// fileEndings are those under which recordings are usually kept. They help a
// shell; the kind is told from the content.
func fileEndings() []string { return []string{"csv", "tsv", "txt", "log", "gz", "zst"} }

// completeFiles offers files, and demos once demo: is typed.
func completeFiles(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	if typed != "" && (strings.HasPrefix(typed, demoPrefix) || strings.HasPrefix(demoPrefix, typed)) {
		return demoCompletions(typed), cobra.ShellCompDirectiveNoFileComp
	}
	return fileEndings(), cobra.ShellCompDirectiveFilterFileExt
}
