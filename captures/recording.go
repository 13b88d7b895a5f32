package captures

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// RecordingInput is one input of a recording and the time stated to be added
// to its own; nil where nothing is stated.
type RecordingInput struct {
	Input *Input
	Shift *time.Duration
}

// Clock is how one input's clock lies to the clock of the recording.
type Clock struct {
	Path      string
	Offset    *time.Duration // what is added to its times; nil where unknown
	Stated    bool           // by a shift; the uncertainty is then zero
	Reference bool           // the recording's times are this input's, or this input's moved by its own shift
}

// ErrShift is wrapped by what [Recording.Next] ends with where a stated shift
// is larger than [MaxTime].
var ErrShift = errors.New("expected a shift of at most 90 years")

// Recording is one or several inputs of one plug-in, merged in the order of
// time; records of the same time follow in the order of the inputs, those of
// one input in the order of its rows. Each record says which input it is from.
//
// The clock is that of the first list of messages, packets or line, else of the first
// input. An input whose offset is unknown keeps its own times, and its order
// against the others means nothing: [Recording.Clocks] tells.
type Recording struct {
	inputs []*Input
	clocks []Clock
	heads  []Record
	held   []bool                              // heads[i] holds a record not yet given
	retime []func(time.Duration) time.Duration // of each input, nil where its offset is added
	given  int                                 // whose record was given last, -1 at the start
	err    error                               // nothing can be read
}

// NewRecording merges inputs. A stated shift is added to an input's times. The
// reference among several keeps its times: where it is shifted, the others move
// the other way, which states their offsets. A single input is simply moved.
func NewRecording(given []RecordingInput) *Recording {
	r := &Recording{clocks: clocksOf(given), heads: make([]Record, len(given)), held: make([]bool, len(given)),
		retime: make([]func(time.Duration) time.Duration, len(given)), given: -1}
	for _, g := range given {
		r.inputs = append(r.inputs, g.Input)
		if g.Shift != nil && (*g.Shift < -MaxTime || *g.Shift > MaxTime) {
			r.err = fmt.Errorf("%s: %w, found %s", g.Input.stats.Path, ErrShift, *g.Shift)
		}
	}
	return r
}

// clocksOf works out each input's offset. It is known for the reference, and
// where the input or the reference was shifted by a stated time.
func clocksOf(given []RecordingInput) []Clock {
	reference := referenceOf(given)
	clocks := make([]Clock, len(given))
	for i, g := range given {
		c := &clocks[i]
		*c = Clock{Path: g.Input.stats.Path, Reference: i == reference}
		shift, base := g.Shift, given[reference].Shift
		if len(given) == 1 {
			base = nil
		}
		switch {
		case c.Reference && base == nil && shift != nil:
			c.Offset, c.Stated = difference(shift, nil), true
		case c.Reference:
			c.Offset = new(time.Duration)
		case shift != nil || base != nil:
			c.Offset, c.Stated = difference(shift, base), true
		}
	}
	return clocks
}

// referenceOf is the input whose clock the recording has.
func referenceOf(given []RecordingInput) int {
	for i, g := range given {
		if k := g.Input.Kind(); k == KindMessages || k == KindPackets || k == KindLine {
			return i
		}
	}
	return 0
}

// difference is a shift less that of the reference, nothing where none is stated.
func difference(shift, base *time.Duration) *time.Duration {
	var d time.Duration
	if shift != nil {
		d = *shift
	}
	if base != nil {
		d -= *base
	}
	return &d
}

// Inputs gives the inputs, in the order given.
func (r *Recording) Inputs() []*Input { return r.inputs }

// Retime puts the samples of an input on the clock of the recording by a function that
// keeps their order, in place of an offset. It must come before the first [Recording.Next].
func (r *Recording) Retime(input int, at func(time.Duration) time.Duration) { r.retime[input] = at }

// Clocks gives the clock of each input, in the order given.
func (r *Recording) Clocks() []Clock { return r.clocks }

// Stats gives what was read of each input so far, in the order given.
func (r *Recording) Stats() []Stats {
	out := make([]Stats, len(r.inputs))
	for i, in := range r.inputs {
		out[i] = in.Stats()
	}
	return out
}

// Next gives the next record in the order of time, then io.EOF. A record of a
// single input is given as soon as its row is whole; among several, as soon as
// each has shown its next.
func (r *Recording) Next() (Record, error) {
	if r.err != nil {
		return Record{}, r.err
	}
	if err := r.refill(); err != nil {
		return Record{}, err
	}
	best := -1
	for i, held := range r.held {
		if held && (best < 0 || r.heads[i].At() < r.heads[best].At()) {
			best = i
		}
	}
	if best < 0 {
		return Record{}, io.EOF
	}
	r.held[best] = false
	r.given = best
	return r.heads[best], nil
}

// refill reads on where the record given last came from; at the start, everywhere.
func (r *Recording) refill() error {
	from, to := r.given, r.given+1
	if r.given < 0 {
		from, to = 0, len(r.inputs)
		r.given = 0
	}
	for i := from; i < to; i++ {
		record, err := r.inputs[i].Next()
		if errors.Is(err, io.EOF) {
			continue
		}
		if err != nil {
			return err
		}
		r.place(i, record)
	}
	return nil
}

// place puts a record on the clock of the recording. The sum fits: see [MaxTime].
func (r *Recording) place(i int, record Record) {
	var offset time.Duration
	if known := r.clocks[i].Offset; known != nil {
		offset = *known
	}
	if s := record.Sample; s != nil {
		s.At += offset
		if at := r.retime[i]; at != nil {
			s.At = at(s.At)
		}
		s.Input = i
	} else {
		m := record.Message
		m.At += offset
		if m.HasEnd {
			m.End += offset
		}
		m.Input = i
	}
	r.heads[i], r.held[i] = record, true
}
