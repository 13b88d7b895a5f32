package captures

import (
	"errors"
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
	Reference bool           // this input's clock is the recording's
}

// Recording is one or several inputs of one plug-in, merged in the order of
// time. The clock is that of the first message list or packet file, else of the
// first input.
type Recording struct {
	inputs []*Input
	clocks []Clock
	heads  []Record
	held   []bool // heads[i] holds a record not yet given
	given  int    // whose record was given last, -1 at the start
}

// NewRecording merges inputs.
func NewRecording(given []RecordingInput) *Recording {
	r := &Recording{clocks: clocksOf(given), heads: make([]Record, len(given)), held: make([]bool, len(given)), given: -1}
	for _, g := range given {
		r.inputs = append(r.inputs, g.Input)
	}
	return r
}

// clocksOf works out each input's offset. It is known for the reference, and
// where the input or the reference was shifted by a stated time.
func clocksOf(given []RecordingInput) []Clock {
	reference := 0
	for i, g := range given {
		if kind := g.Input.Kind(); kind == KindMessages || kind == KindPackets {
			reference = i
			break
		}
	}
	clocks := make([]Clock, len(given))
	for i, g := range given {
		clocks[i] = Clock{Path: g.Input.stats.Path, Reference: i == reference}
		var offset time.Duration
		switch {
		case i == reference:
		case g.Shift != nil || given[reference].Shift != nil:
			clocks[i].Stated = true
			if g.Shift != nil {
				offset += *g.Shift
			}
			if by := given[reference].Shift; by != nil {
				offset -= *by
			}
		default:
			continue
		}
		clocks[i].Offset = &offset
	}
	return clocks
}

// Inputs gives the inputs, in the order given.
func (r *Recording) Inputs() []*Input { return r.inputs }

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

// Next gives the next record in the order of time, then io.EOF.
func (r *Recording) Next() (Record, error) {
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

// place puts a record on the clock of the recording.
func (r *Recording) place(i int, record Record) {
	var offset time.Duration
	if known := r.clocks[i].Offset; known != nil {
		offset = *known
	}
	if s := record.Sample; s != nil {
		s.At += offset
		s.Input = i
	} else {
		m := record.Message
		m.At += offset
		m.End += offset
		m.Input = i
	}
	r.heads[i], r.held[i] = record, true
}
