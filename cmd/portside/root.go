package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

const (
	version  = "0.1.0"
	standard = "USB Power Delivery R3.2 V1.1"
	// patience is how long an interrupted command may take to stop by itself.
	patience = 500 * time.Millisecond
)

// run is the program: arguments in, exit status out.
func run(args []string, s *streams) int {
	ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
	defer cancel()
	asJSON := wantsJSON(args)
	done := make(chan int, 1)
	go func() { done <- execute(ctx, args, s, asJSON) }()
	select {
	case code := <-done:
		return code
	case <-ctx.Done():
	}
	select {
	case <-done:
	case <-time.After(patience):
	}
	return exitInterrupted
}

// execute runs one command and turns a crash into one line.
func execute(ctx context.Context, args []string, s *streams, asJSON bool) (code int) {
	defer func() {
		if cause := recover(); cause != nil {
			err := fmt.Errorf("portside %s broke inside (%v); please report it with the command line: %s", version, cause, commandLine(args))
			if s.getenv("PORTSIDE_DEBUG") != "" {
				err = fmt.Errorf("%w\n%s", err, debug.Stack())
			}
			code = status(err, s.err, asJSON)
		}
	}()
	kept := &keeping{w: s.out}
	inner := *s
	inner.out = kept
	root := newRoot(&inner)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil && kept.err != nil {
		err = kept.err
	}
	return status(err, s.err, asJSON)
}

func newRoot(s *streams) *cobra.Command {
	var showVersion bool
	root := &cobra.Command{
		Use:   "portside COMMAND",
		Short: "says on which side of a USB-C port a fault lies",
		Long: `Says on which side of a USB-C port a fault lies, from the recording of one
plug-in: before it (mains, charger, cable), at it (connector, CC lines, port
controller, input switches) or behind it (a short or another failed part).`,
		Example: `  portside diagnose demo:hard-short-main-rail
  portside diagnose meter.csv messages.csv
  portside diagnose meter.csv --reading main-rail-ohm=0.8ohm`,
		Args:          cobra.ArbitraryArgs,
		SilenceUsage:  true,
		SilenceErrors: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if showVersion {
				_, err := fmt.Fprintf(s.out, "portside %s (%s), knows %s\n", version, runtime.Version(), standard)
				return err
			}
			if len(args) == 0 {
				return cmd.Help()
			}
			return unknownCommand(cmd, args[0])
		},
	}
	root.SetOut(s.out)
	root.SetErr(s.err)
	root.SetIn(s.in)
	root.CompletionOptions.DisableDefaultCmd = true
	root.Flags().BoolVar(&showVersion, "version", false, "print version and the revision of the standard")
	root.SetFlagErrorFunc(flagError)
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { printHelp(s.out, cmd) })
	cobra.EnableCommandSorting = false // listed in the order of use
	root.AddCommand(newDiagnose(s), newCompare(s), newWatch(s), newCharger(s), newDecode(s), newConvert(s), newServe(s), newRules(s), newEvaluate(s), newDemo(s), newSimulate(s), newTeach(s), newCompletion(s))
	root.SetHelpCommand(newHelp(s))
	return root
}

// unknownCommand names the nearest command, or the main one where the word
// looks like a file.
func unknownCommand(root *cobra.Command, word string) error {
	if near := root.SuggestionsFor(word); len(near) > 0 {
		return usage("there is no command %q; did you mean %q? See portside --help", word, near[0])
	}
	if strings.ContainsAny(word, "./:\\") || word == "-" {
		return usage("%q is no command; to read it as a file: portside diagnose %s", word, quote(word))
	}
	return usage("there is no command %q; see portside --help", word)
}

// flagError turns the flag reader's errors into usage errors with the nearest
// name.
func flagError(cmd *cobra.Command, err error) error {
	var none *pflag.NotExistError
	if errors.As(err, &none) {
		name := none.GetSpecifiedName()
		if near := nearest(name, flagNames(cmd)); near != "" {
			return usage("there is no flag %s; did you mean --%s? See %s --help", dashes(name), near, cmd.CommandPath())
		}
		return usage("there is no flag %s; see %s --help", dashes(name), cmd.CommandPath())
	}
	var missing *pflag.ValueRequiredError
	if errors.As(err, &missing) {
		return usage("flag %s needs a value; see %s --help", dashes(missing.GetSpecifiedName()), cmd.CommandPath())
	}
	var invalid *pflag.InvalidValueError
	if errors.As(err, &invalid) {
		return usage("--%s %q: %s", invalid.GetFlag().Name, invalid.GetValue(), invalid.Unwrap())
	}
	return usage("%s; see %s --help", err, cmd.CommandPath())
}

func dashes(name string) string {
	if len(name) == 1 {
		return "-" + name
	}
	return "--" + name
}

func flagNames(cmd *cobra.Command) []string {
	var names []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			names = append(names, f.Name)
		}
	})
	return names
}

// operands wraps a check of the operands so that its error is a usage error.
func operands(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if err := check(cmd, args); err != nil {
			return usage("%s %s; see %s --help", cmd.CommandPath(), err, cmd.CommandPath())
		}
		return nil
	}
}

// commandLine writes arguments as a shell takes them.
func commandLine(args []string) string {
	words := []string{"portside"}
	for _, a := range args {
		words = append(words, quote(a))
	}
	return strings.Join(words, " ")
}

// quote protects a word from the shell where it needs it.
func quote(s string) string {
	safe := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("_-./:=,@%+", r)
	}
	if s != "" && strings.IndexFunc(s, func(r rune) bool { return !safe(r) }) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
