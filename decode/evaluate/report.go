package evaluate

import (
	"fmt"
	"io"
	"maps"
	"slices"
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
}

// Report is the evaluation of many cases.
type Report struct {
	Total    map[string]*Score // by inputs
	Rates    map[string]*Score // meter alone, by rate
	Families map[string]*Score // by family and inputs
	rivals   map[string]int    // right answers, by inputs and opponent
}

// Inputs lists what a case may be judged from.
func Inputs() []string { return []string{Meter, Messages, Both} }

func newReport() *Report {
	return &Report{Total: map[string]*Score{}, Rates: map[string]*Score{}, Families: map[string]*Score{}, rivals: map[string]int{}}
}

func of(m map[string]*Score, key string) *Score {
	if m[key] == nil {
		m[key] = &Score{}
	}
	return m[key]
}

// Evaluate draws cases and judges them.
func Evaluate(o Options) (*Report, error) {
	r := newReport()
	var mu sync.Mutex
	err := each(o.Cases, o.First, o.Workers, func(c Case) error {
		for _, in := range Inputs() {
			if in != Meter && !c.recorded() {
				continue
			}
			j, d, err := Judge(c, in)
			if err != nil {
				return fmt.Errorf("%s, seed %d, %s: %w", c.Family, c.Run.Seed, in, err)
			}
			if o.Observer != nil {
				j.Reference = o.Observer.Tell(c, in)
			}
			mu.Lock()
			r.add(j)
			for _, rival := range Opponents {
				if rival.Tell(d) == j.Truth {
					r.rivals[in+", "+rival.Name]++
				}
			}
			if o.Wrong != nil && j.Named != rules.Undetermined && j.Named != j.Truth {
				_, _ = fmt.Fprintf(o.Wrong, "wrong: seed %d %s, %s at %g Hz: %s %.2f, open %v\n", c.Run.Seed, c.Family, in, j.MeterHz, j.Named, j.Shares[j.Named], j.open())
			}
			mu.Unlock()
		}
		return nil
	})
	return r, err
}

func (r *Report) add(j Judged) {
	of(r.Total, j.Inputs).AddReferred(j)
	of(r.Families, j.Family+", "+j.Inputs).AddReferred(j)
	if j.Inputs == Meter {
		of(r.Rates, fmt.Sprintf("meter at %5.0f Hz", j.MeterHz)).AddReferred(j)
	}
}

// each draws cases and hands them to workers. The first error ends it.
func each(n int, first uint64, workers int, do func(Case) error) error {
	seeds, failed := make(chan uint64), make(chan error, max(workers, 1))
	var all sync.WaitGroup
	for range max(workers, 1) {
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
	for i := 0; i < n && err == nil; i++ {
		select {
		case seeds <- first + uint64(i): //nolint:gosec // a count
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
			_, _ = fmt.Fprintf(w, "  %-34s right %5.1f %%\n", o.Name, 100*float64(r.rivals[in+", "+o.Name])/float64(s.N))
		}
	}
	for _, m := range []map[string]*Score{r.Rates, r.Families} {
		for _, key := range slices.Sorted(maps.Keys(m)) {
			m[key].line(w, key)
		}
	}
}

// line is a score in one line of 80 columns.
func (s *Score) line(w io.Writer, name string) {
	percent := func(k int) float64 { return 100 * float64(k) / float64(s.N) }
	_, _ = fmt.Fprintf(w, "  %-40s %5d right %3.0f open %3.0f wrong %3.0f loss %.2f", name, s.N, percent(s.Right), percent(s.Undecided), percent(s.Wrong), s.LogLoss())
	if s.Decided != nil {
		_, _ = fmt.Fprintf(w, " decided %3.0f right %3.0f", percent(s.Decided.N), 100*float64(s.Decided.Right)/float64(max(s.Decided.N, 1)))
	}
	if s.Open > 0 {
		_, _ = fmt.Fprintf(w, " inside %3.0f", 100*s.OpenInside/float64(s.Open))
	}
	_, _ = fmt.Fprintln(w)
}
