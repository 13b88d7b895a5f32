package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"

	"portside/decode/evaluate"
)

type evaluateFlags struct {
	cases, lessons int
	seed           uint64
	advice         bool
	coverage       bool
	wrong, quiet   bool
	weigh          string
}

func newEvaluate(s *streams) *cobra.Command {
	var f evaluateFlags
	cmd := &cobra.Command{
		Use:         "evaluate [DIR...]",
		Annotations: map[string]string{readsInput: ""},
		Short:       "how often the verdict is right, and how honest its percents",
		Long: `Judges cases whose answer is known and prints how often the verdict was right,
left the case open or was wrong, from the meter alone, the messages alone and
both, and whether what it calls 70 % came true 7 times in 10.

With DIR it judges your own confirmed jobs: each folder in DIR that holds
recordings and a truth.json with {"location": "behind-port"} (before-port,
at-port, behind-port or healthy; "parameters": {"meter_at": "device"} or
"source" where you know it) is a case. Without DIR it draws cases from the
simulated bench; 400 take a minute.

--advice takes each simulated unit and measures what the verdict asks for
first, again and again, until it is certain; beside it the same in a senior
technician's fixed order.

--coverage draws --cases logs for each measured quantity (resistances, charge,
time constant, period, clock offset) and counts how often the true value lies
within twice the uncertainty that was stated.

--lessons N lets an observer that knows the bench learn from N other simulated
cases first, to say which cases can be decided at all from their files.

--weigh FILE is for those who work on the program: it weighs each sign by the
cases in the folders named, as the verdict's own table does, and writes such a
table. What is learned from cases must be judged on others.`,
		Example: "  portside evaluate --cases 12",
		Args:    operands(cobra.ArbitraryArgs),
		RunE: func(_ *cobra.Command, args []string) error {
			if f.cases < 1 || f.lessons < 0 {
				return usage("--cases must be 1 or more and --lessons 0 or more")
			}
			switch {
			case len(args) > 0 && (f.advice || f.coverage || f.lessons > 0):
				return usage("--advice, --coverage and --lessons need simulated cases, not a folder")
			case f.weigh != "" && len(args) == 0:
				return usage("--weigh needs a folder of cases to weigh by")
			case f.weigh != "":
				return weighFolders(s, args, f)
			case len(args) > 0:
				return evaluateFolders(s, args, f)
			case f.coverage:
				return evaluateCoverage(s, f)
			case f.advice:
				return evaluateAdvice(s, f)
			}
			return evaluateSimulated(s, f)
		},
	}
	cmd.Flags().SortFlags = false
	cmd.Flags().IntVar(&f.cases, "cases", 400, "how many simulated cases")
	cmd.Flags().Uint64Var(&f.seed, "seed", 1, "the first of their seeds")
	cmd.Flags().IntVar(&f.lessons, "lessons", 0, "how many cases an observer learns from first; 0 is none")
	cmd.Flags().BoolVar(&f.advice, "advice", false, "measure as the verdict advises, beside a senior's fixed order")
	cmd.Flags().BoolVar(&f.coverage, "coverage", false, "how often measured quantities hold the truth within twice their uncertainty")
	cmd.Flags().StringVar(&f.weigh, "weigh", "", "weigh each sign by these cases, and write the table to `FILE`")
	cmd.Flags().BoolVar(&f.wrong, "wrong", false, "list each wrong verdict")
	cmd.Flags().BoolVar(&f.quiet, "quiet", false, "no progress")
	return cmd
}

func (f evaluateFlags) options(s *streams) evaluate.Options {
	o := evaluate.Options{Cases: f.cases, First: f.seed, Workers: runtime.GOMAXPROCS(0)}
	if f.wrong {
		o.Wrong = s.out
	}
	return o
}

// readFolders finds the cases of all of them, and tells of each that it leaves out.
func readFolders(s *streams, dirs []string) (cases []evaluate.Case, leftOut int, err error) {
	for _, dir := range dirs {
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			return nil, 0, unreadable(dir, "there is no such folder; expected one whose folders hold recordings and a truth.json")
		}
		found, problems, skipped, err := evaluate.ReadFolder(os.DirFS(dir))
		if err != nil {
			return nil, 0, unreadable(dir, "%v", err)
		}
		within := ""
		if len(dirs) > 1 { // folders of two shops may have one name
			within = filepath.ToSlash(dir) + "/"
		}
		for _, p := range skipped {
			_, _ = fmt.Fprintf(s.err, "portside: passed over: %s%v\n", within, p)
		}
		for _, p := range problems {
			_, _ = fmt.Fprintf(s.err, "portside: left out: %s%v\n", within, p)
		}
		for i := range found {
			found[i].Family = path.Join(within, found[i].Family)
		}
		cases, leftOut = append(cases, found...), leftOut+len(problems)
	}
	return cases, leftOut, nil
}

// leftOutOf is the error for cases that were left out; each was told.
func leftOutOf(dirs []string, leftOut int) error {
	if leftOut == 0 {
		return nil
	}
	left := unreadable(strings.Join(dirs, ", "), "%d cases left out", leftOut)
	left.told = true
	return left
}

func evaluateFolders(s *streams, dirs []string, f evaluateFlags) error {
	cases, leftOut, err := readFolders(s, dirs)
	if err != nil {
		return err
	}
	r, err := evaluate.OnCases(cases, f.options(s))
	if err != nil {
		return unreadable(strings.Join(dirs, ", "), "%v", err)
	}
	if leftOut > 0 {
		_, _ = fmt.Fprintf(s.out, "%d cases, %d left out\n", len(cases), leftOut)
	}
	r.Print(s.out)
	return leftOutOf(dirs, leftOut)
}

func weighFolders(s *streams, dirs []string, f evaluateFlags) error {
	if info, err := os.Stat(filepath.Dir(f.weigh)); err != nil || !info.IsDir() { // before minutes of work
		return unreadable(f.weigh, "there is no such folder to write to")
	}
	cases, leftOut, err := readFolders(s, dirs)
	if err != nil {
		return err
	}
	o := f.options(s)
	o.Judged = tally(s, f.quiet, len(cases), "weighing")
	found, err := evaluate.Weigh(cases, o)
	if err != nil {
		return unreadable(strings.Join(dirs, ", "), "%v", err)
	}
	out, err := os.Create(f.weigh)
	if err != nil {
		return unreadable(f.weigh, "%v", err)
	}
	if err := errors.Join(found.Write(out), out.Close()); err != nil {
		return unreadable(f.weigh, "%v", err)
	}
	_, _ = fmt.Fprintf(s.out, "%d signs weighed by %d cases: %s\n", len(found), len(cases), f.weigh)
	return leftOutOf(dirs, leftOut)
}

func evaluateCoverage(s *streams, f evaluateFlags) error {
	if err := evaluate.PrintCoverage(s.out, evaluate.Cover(f.cases, f.seed)); err != nil {
		return err
	}
	return evaluate.PrintBounded(s.out, evaluate.CoverPeaks(f.cases, f.seed))
}

func evaluateAdvice(s *streams, f evaluateFlags) error {
	o := f.options(s)
	o.Judged = tally(s, f.quiet, f.cases, "measuring")
	r, err := evaluate.Advice(o)
	if err != nil {
		return err
	}
	r.Print(s.out)
	return nil
}

// lessonSeeds parts the cases that are learned from and those that are judged.
const lessonSeeds = 1 << 40

func evaluateSimulated(s *streams, f evaluateFlags) error {
	o := f.options(s)
	if f.lessons > 0 {
		learn := o
		learn.Cases, learn.First = f.lessons, f.seed+lessonSeeds
		learn.Judged = tally(s, f.quiet, f.lessons, "weighing")
		lessons, err := evaluate.Lessons(learn)
		if err != nil {
			return err
		}
		o.Observer = evaluate.NewObserver(lessons)
		_, _ = fmt.Fprintf(s.out, "an observer that knows the bench learned from %d other cases\n", len(lessons))
	}
	o.Judged = tally(s, f.quiet, f.cases, "judging")
	r, err := evaluate.OnBench(o)
	if err != nil {
		return err
	}
	r.Print(s.out)
	return nil
}

// tally shows how many of the cases are done, on a terminal only.
func tally(s *streams, quiet bool, total int, what string) func() {
	if quiet || !s.errTTY {
		return nil
	}
	bar := progressbar.NewOptions(total, progressbar.OptionSetWriter(io.Writer(s.err)), progressbar.OptionSetDescription(what),
		progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish(), progressbar.OptionSetWidth(30))
	var done atomic.Int64
	return func() { _ = bar.Set64(done.Add(1)) }
}
