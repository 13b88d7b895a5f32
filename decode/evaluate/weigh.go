package evaluate

import (
	"fmt"
	"sync"

	"portside/decode/location"
	"portside/decode/signs"
)

// Weigh finds how much more, or less, each sign speaks for a side in these cases than the tables
// of the verdict say: from the meter alone, the messages alone, and both. The
// error names a case that cannot be read.
func Weigh(cases []Case, o Options) (location.Found, error) {
	type read struct {
		evidence []signs.Evidence
		err      error
	}
	lessons, workers := location.NewLessons(), max(1, o.Workers)
	for len(cases) > 0 { // as many at a time as there are workers: a recording is large, a lesson is not
		batch := cases[:min(workers, len(cases))]
		cases = cases[len(batch):]
		out := make([]read, len(batch))
		var all sync.WaitGroup
		for i, c := range batch {
			all.Go(func() { out[i].evidence, out[i].err = c.evidence() })
		}
		all.Wait()
		for i, r := range out {
			if r.err != nil {
				return nil, fmt.Errorf("%s: %w", batch[i].name(), r.err)
			}
			for _, e := range r.evidence {
				lessons.Add(e, batch[i].Truth)
			}
			if o.Judged != nil {
				o.Judged()
			}
		}
	}
	return lessons.Found(), nil
}

// evidence is what the verdict would rest on, by inputs.
func (c Case) evidence() ([]signs.Evidence, error) {
	var out []signs.Evidence
	for _, in := range Inputs() {
		if !c.holds(in) {
			continue
		}
		t, err := take(c, in)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", in, err)
		}
		out = append(out, t.engine.Evidence(t.recording.Stats(), t.recording.Clocks()))
	}
	return out, nil
}
