package evaluate

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"sync"

	"portside/decode/rules"
)

// Options say how much is evaluated.
type Options struct {
	Cases    int
	First    uint64    // seed of the first case
	Workers  int       // at least 1
	Observer *Observer // nil: the open sets are not computed
	Wrong    io.Writer // where wrong verdicts are listed; nil: nowhere
	Judged   func()    // called after each case, from any worker; nil: nobody wants to know
}

// Report is the evaluation of many cases.
type Report struct {
	Total    map[string]*Score // by inputs
	Truths   map[string]*Score // by location and inputs
	Rates    map[string]*Score // meter alone, by rate
	Families map[string]*Score // by family and inputs
	Strange  map[string]*Score // by inputs: the observer itself on what it decides, its own family unseen
	rivals   map[string]int    // right answers, by inputs and opponent
	judged   []Judged          // those that an observer looked at
}

// Inputs lists what a case may be judged from.
func Inputs() []string { return []string{Meter, Messages, Both} }

func newReport() *Report {
	return &Report{Total: map[string]*Score{}, Truths: map[string]*Score{}, Rates: map[string]*Score{}, Families: map[string]*Score{}, Strange: map[string]*Score{}, rivals: map[string]int{}}
}

func of(m map[string]*Score, key string) *Score {
	if m[key] == nil {
		m[key] = &Score{}
	}
	return m[key]
}

// OnBench draws cases and judges them.
func OnBench(o Options) (*Report, error) {
	r := newReport()
	var mu sync.Mutex
	if err := each(o, func(c Case) error { return r.judge(c, o, &mu) }); err != nil || o.Observer == nil {
		return r, err
	}
	o.Observer.Strange(r.judged)
	for _, j := range r.judged {
		if len(j.open()) == 1 {
			of(r.Strange, j.Inputs).Add(Judged{Truth: j.Truth, Named: named(j.stranger), Shares: j.stranger})
		}
	}
	r.judged = nil
	return r, nil
}

// named is the location that shares name, as the verdict would.
func named(shares map[rules.Location]float64) rules.Location {
	for _, l := range locations {
		if shares[l] >= namedFrom {
			return l
		}
	}
	return rules.Undetermined
}

// namedFrom is the share from which the verdict names a location.
const namedFrom = 0.6

// OnCases judges cases that are there already.
func OnCases(cases []Case, o Options) (*Report, error) {
	r := newReport()
	var mu sync.Mutex
	for _, c := range cases {
		if err := r.judge(c, o, &mu); err != nil {
			return r, err
		}
	}
	return r, nil
}

// judge takes a case from each of its inputs. A case of one kind of file alone
// is judged from that.
func (r *Report) judge(c Case, o Options, mu *sync.Mutex) error {
	for _, in := range Inputs() {
		if !c.holds(in) {
			continue
		}
		j, d, err := Judge(c, in)
		if err != nil {
			return fmt.Errorf("%s, %s: %w", c.name(), in, err)
		}
		if o.Observer != nil && c.Run != nil {
			j.seen = observe(c.Run, in).x
			j.Reference = o.Observer.Tell(in, j.seen)
		}
		mu.Lock()
		if j.seen != nil {
			r.judged = append(r.judged, j)
		}
		r.add(j)
		for _, rival := range Opponents {
			if rival.Tell(d) == j.Truth {
				r.rivals[in+", "+rival.Name]++
			}
		}
		if o.Wrong != nil && j.Named != rules.Undetermined && j.Named != j.Truth {
			_, _ = fmt.Fprintf(o.Wrong, "wrong: %s, %s at %.0f Hz: %s %.2f, it was %s\n", c.name(), in, j.MeterHz, j.Named, j.Shares[j.Named], j.Truth)
		}
		mu.Unlock()
	}
	if o.Judged != nil {
		o.Judged()
	}
	return nil
}

func (c Case) name() string {
	if c.Run != nil {
		return fmt.Sprintf("%s, seed %d", c.Family, c.Run.Seed)
	}
	return c.Family
}

func (r *Report) add(j Judged) {
	of(r.Total, j.Inputs).AddReferred(j)
	of(r.Truths, string(j.Truth)+", "+j.Inputs).AddReferred(j)
	of(r.Families, j.Family+", "+j.Inputs).AddReferred(j)
	if j.Inputs == Meter {
		of(r.Rates, "meter at "+rate(j.MeterHz)).AddReferred(j)
		if j.MeterHz >= tenHzFrom {
			of(r.Rates, "meter at "+tenHz).AddReferred(j)
		}
	}
}

// Meters of 10 Hz and faster as one: a row each 0.1 s, with what its clock may be off.
const (
	tenHz     = "10 Hz and faster"
	tenHzFrom = 9
)

type meterRate struct {
	belowHz float64
	name    string
}

// meterRates are the classes of meters, by the samples a second that a log holds:
// displays, loggers, good loggers, analysers. Common practice.
var meterRates = []meterRate{
	{1e-9, "an unknown rate"}, {3, "1 to 2 Hz"}, {8, "5 Hz"}, {30, "10 to 20 Hz"}, {300, "50 to 100 Hz"}, {math.Inf(1), "1 to 10 kHz"},
}

func rate(hz float64) string {
	for _, r := range meterRates {
		if hz < r.belowHz {
			return r.name
		}
	}
	return meterRates[0].name
}

// Lessons draws cases for an observer to learn from.
func Lessons(o Options) ([]Lesson, error) {
	var mu sync.Mutex
	var out []Lesson
	err := each(o, func(c Case) error {
		l := Learn(c)
		mu.Lock()
		out = append(out, l)
		mu.Unlock()
		if o.Judged != nil {
			o.Judged()
		}
		return nil
	})
	return out, err
}

// each draws cases and hands them to workers. The first error ends it.
func each(o Options, do func(Case) error) error {
	seeds, failed := make(chan uint64), make(chan error, max(o.Workers, 1))
	var all sync.WaitGroup
	for range max(o.Workers, 1) {
		all.Go(func() {
			for seed := range seeds {
				c, err := Draw(seed)
				if err == nil {
					err = do(c)
				}
				if err != nil {
					failed <- err
					return
				}
			}
		})
	}
	var err error
	for i := 0; i < o.Cases && err == nil; i++ {
		select {
		case seeds <- o.First + uint64(i): //nolint:gosec // a count
		case err = <-failed:
		}
	}
	close(seeds)
	all.Wait()
	if err == nil && len(failed) > 0 {
		err = <-failed
	}
	return err
}

// Print writes the report: whole tables by inputs, a line for each rate and
// family.
func (r *Report) Print(w io.Writer) {
	for _, in := range Inputs() {
		s := r.Total[in]
		if s == nil {
			continue
		}
		s.Print(w, in)
		for _, o := range Opponents {
			right := r.rivals[in+", "+o.Name]
			low, high := Wilson(right, s.N)
			_, _ = fmt.Fprintf(w, "  %-34s right %5.1f %% (%.1f to %.1f)\n", o.Name, 100*float64(right)/float64(s.N), 100*low, 100*high)
		}
	}
	r.printShort(w)
	r.printTruths(w)
	r.printRates(w)
	_, _ = fmt.Fprintf(w, "%-40s %5s %6s %5s %6s %5s\n", "by family", "cases", "right", "open", "wrong", "loss")
	for _, key := range slices.Sorted(maps.Keys(r.Families)) {
		r.Families[key].line(w, key)
	}
	r.printDecided(w)
	for _, in := range Inputs() {
		if s := r.Strange[in]; s != nil {
			_, _ = fmt.Fprintf(w, "where files leave one location open, the observer without the family, %s:\n", in)
			share := shares(w)
			share("  right and named", s.Right, s.N)
			share("  wrong", s.Wrong, s.N)
			_, _ = fmt.Fprintf(w, "    log-loss %.3f +- %.3f\n", s.LogLoss(), 2*s.LogLossError())
		}
	}
}

// printShort writes the shares of all inputs side by side.
func (r *Report) printShort(w io.Writer) {
	row := func(name string, of func(s *Score, in string) string) {
		line := fmt.Sprintf("  %-40s", name)
		for _, in := range Inputs() {
			cell := "-"
			if s := r.Total[in]; s != nil && s.N > 0 {
				cell = of(s, in)
			}
			line += fmt.Sprintf(" %10s", cell)
		}
		_, _ = fmt.Fprintln(w, line)
	}
	share := func(k, n int) string {
		if n == 0 {
			return "-"
		}
		return fmt.Sprintf("%.1f %%", 100*float64(k)/float64(n))
	}
	_, _ = fmt.Fprintf(w, "%-42s %10s %10s %10s\n", "in short", Meter, Messages, Both)
	row("cases", func(s *Score, _ string) string { return strconv.Itoa(s.N) })
	row("right and named", func(s *Score, _ string) string { return share(s.Right, s.N) })
	row("left open", func(s *Score, _ string) string { return share(s.Undecided, s.N) })
	row("wrong", func(s *Score, _ string) string { return share(s.Wrong, s.N) })
	row("sound machines accused", func(s *Score, _ string) string { return share(s.Accused, s.Sound) })
	row("faults called healthy", func(s *Score, _ string) string { return share(s.CalledSound, s.Faulty) })
	row("wrong where 0.9 or more was said", func(s *Score, _ string) string { return share(s.SureWrong, s.Sure) })
	row("log-loss", func(s *Score, _ string) string { return fmt.Sprintf("%.2f", s.LogLoss()) })
	row("Brier score", func(s *Score, _ string) string { return fmt.Sprintf("%.2f", s.Brier()) })
	row("calibration error", func(s *Score, _ string) string { return fmt.Sprintf("%.3f", s.CalibrationError()) })
	for _, o := range Opponents {
		row("right: "+o.Name, func(s *Score, in string) string { return share(r.rivals[in+", "+o.Name], s.N) })
	}
}

// printTruths writes a line for each location that was true, and what it was judged
// from.
func (r *Report) printTruths(w io.Writer) {
	heading(w, "by where the fault was")
	for _, in := range Inputs() {
		for _, l := range locations {
			if s := r.Truths[string(l)+", "+in]; s != nil {
				s.bounded(w, string(l)+", "+in)
			}
		}
	}
}

// printRates writes a line for each rate of a meter alone.
func (r *Report) printRates(w io.Writer) {
	heading(w, "meter alone, by its rate")
	decided := false
	for _, x := range meterRates {
		if s := r.Rates["meter at "+x.name]; s != nil {
			s.bounded(w, "at "+x.name)
			decided = decided || s.Decided != nil
		}
	}
	if !decided {
		return
	}
	heading(w, "of them one open")
	for _, x := range append(slices.Clone(meterRates), meterRate{name: tenHz}) {
		if s := r.Rates["meter at "+x.name]; s != nil && s.Decided != nil && s.Decided.N > 0 {
			s.Decided.bounded(w, "at "+x.name)
		}
	}
}

func heading(w io.Writer, title string) {
	_, _ = fmt.Fprintf(w, "%-24s %5s  %14s  %14s %4s %5s %5s\n", title, "cases", "right (95 %)", "wrong (95 %)", "loss", "Brier", "ECE")
}

// bounded is a score in one line with the bounds of its shares.
func (s *Score) bounded(w io.Writer, name string) {
	share := func(k int) string {
		low, high := Wilson(k, s.N)
		return fmt.Sprintf("%.0f %% (%.0f-%.0f)", 100*float64(k)/float64(s.N), 100*low, 100*high)
	}
	_, _ = fmt.Fprintf(w, "  %-22s %5d  %14s  %14s %4.2f %5.2f %5.3f\n", name, s.N, share(s.Right), share(s.Wrong), s.LogLoss(), s.Brier(), s.CalibrationError())
}

// line is a score in one line of 80 columns.
func (s *Score) line(w io.Writer, name string) {
	percent := func(k int) float64 { return 100 * float64(k) / float64(s.N) }
	_, _ = fmt.Fprintf(w, "  %-38s %5d %4.0f %% %3.0f %% %4.0f %% %5.2f\n", name, s.N, percent(s.Right), percent(s.Undecided), percent(s.Wrong), s.LogLoss())
}

// printDecided adds what the observer says, by family.
func (r *Report) printDecided(w io.Writer) {
	head := false
	for _, key := range slices.Sorted(maps.Keys(r.Families)) {
		s := r.Families[key]
		if s.Decided == nil {
			continue
		}
		if !head {
			_, _ = fmt.Fprintf(w, "%-40s %7s %6s %18s\n", "", "decided", "right", "mass inside open")
			head = true
		}
		inside := "-"
		if s.Open > 0 {
			inside = fmt.Sprintf("%.0f %%", 100*s.OpenInside/float64(s.Open))
		}
		_, _ = fmt.Fprintf(w, "  %-38s %7d %6d %18s\n", key, s.Decided.N, s.Decided.Right, inside)
	}
}
