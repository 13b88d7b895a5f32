package main

import (
	"context"
	"errors"
	"io"
	"os"
	"slices"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"portside/captures"
	capturesline "portside/captures/line"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/line"
	"portside/decode/live"
)

// lookLive is how often what has come is looked at.
const lookLive = 50 * time.Millisecond

// watchOptions are the flags of watch.
type watchOptions struct {
	recordingFlags
	readings words
	meterAt  choice
	accuracy accuracy
}

func newWatch(s *streams) *cobra.Command {
	o := &watchOptions{}
	o.readings.name = "NAME=VALUE"
	o.meterAt.of = meterPlaces
	cmd := &cobra.Command{
		Use:   "watch FILE...|-",
		Short: "follows a log while it is written, and says what happens",
		Long: `Follows a log while a recorder writes it, or standard input, and says what
happens as it happens: the plug-in, the offer, the contract, each finding, and
the verdict once it is certain. It says "unplug now" where going on can do harm.
Several files are followed together: portside watch meter.csv messages.csv. A
recorder may also write into it: recorder | portside watch -. Ctrl-C ends it
with the verdict so far.`,
		Example: `  portside watch demo:hard-short-main-rail
  portside watch --json demo:staircase-collapse`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("watch needs a FILE that is being written, or - for standard input")
			}
			return watch(cmd.Context(), s, o, args)
		},
	}
	o.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.columns, "columns", "", "columns of a meter log: time=`NAME[:UNIT],...`, also voltage, current")
	f.Var(&o.readings, "reading", "a bench measurement (portside help readings); repeatable")
	addChoice(cmd, &o.meterAt, "meter-at", "the end of the cable the meter sits at; unknown if not given")
	f.Var(&o.accuracy, "meter-accuracy", "the meter's limits in percent of reading (default 1,1)")
	f.Var(&o.unpacked, "max-unpacked", "how much a packed file may unpack to (default 8GiB)")
	f.Var(&o.rate, "rate", "samples a second of a log without a time column")
	f.BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	return cmd
}

// watch follows the files until they end. A file that is replaced begins the
// watch anew.
func watch(ctx context.Context, s *streams, o *watchOptions, args []string) error {
	readings, err := parseReadings(o.readings.values)
	if err != nil {
		return err
	}
	options, err := o.readerOptions()
	if err != nil {
		return err
	}
	shifts, err := parseShifts(o.shift.values)
	if err != nil {
		return err
	}
	var events text.Events = text.NewEvents(s.out, s.look(o.noColor), s.outTTY)
	if o.json {
		events = &jsonEvents{w: s.out}
	}
	for {
		files, err := resolve(args, s)
		if err != nil {
			return err
		}
		w := &watching{s: s, o: o, events: events, engine: decode.NewEngine(decode.Options{
			Readings: readings, MeterAt: o.meterAt.value,
			AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps,
		})}
		again, err := w.run(ctx, files, options, shifts)
		if err != nil || !again {
			return err
		}
	}
}

// jsonEvents prints one object a line.
type jsonEvents struct{ w io.Writer }

func (j *jsonEvents) Tell(e live.Event) error                         { return writeJSON(j.w, e) }
func (j *jsonEvents) Status(*decode.Diagnosis, captures.Sample) error { return nil }
func (j *jsonEvents) Close() error                                    { return nil }

// watching is one run over the files from their start.
type watching struct {
	s      *streams
	o      *watchOptions
	events text.Events
	teller live.Teller

	mu     sync.Mutex // guards what follows
	engine *decode.Engine
	inputs []*followed
	last   captures.Sample
	count  int
}

// followed is one file that is being followed.
type followed struct {
	stats captures.Stats
	clock captures.Clock
	open  bool // its header was read
	gone  bool
	err   error
}

// run reads every file at once and tells what happens, until all have ended.
// Again says that one was replaced.
func (w *watching) run(ctx context.Context, files []operand, options captures.Options, shifts []shift) (again bool, err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var readers sync.WaitGroup
	for i, f := range files {
		in := &followed{}
		w.inputs = append(w.inputs, in)
		readers.Go(func() {
			if err := w.read(ctx, in, i, f, options, shifts); err != nil {
				w.mu.Lock()
				in.err = err
				w.mu.Unlock()
			}
			if in.gone {
				stop() // the others are read again too
			}
		})
	}
	ended := make(chan struct{})
	go func() { readers.Wait(); close(ended) }()
	if err := w.tell(ended); err != nil {
		stop()
		return false, err
	}
	if slices.ContainsFunc(w.inputs, func(in *followed) bool { return in.gone }) {
		return true, nil
	}
	return false, w.end()
}

// tell looks at what has come until the readers end.
func (w *watching) tell(ended <-chan struct{}) error {
	every := time.NewTicker(lookLive)
	defer every.Stop()
	for told := 0; ; {
		select {
		case <-ended:
			return nil
		case <-every.C:
		}
		began := time.Now()
		d, last, count := w.look()
		if count == told {
			continue
		}
		told = count
		if err := w.report(d, last); err != nil {
			return err
		}
		// a look at a long log must not starve its reading
		every.Reset(max(lookLive, 2*time.Since(began)))
	}
}

func (w *watching) look() (*decode.Diagnosis, captures.Sample, int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	var stats []captures.Stats
	var clocks []captures.Clock
	for _, in := range w.inputs {
		if in.open {
			stats, clocks = append(stats, in.stats), append(clocks, in.clock)
		}
	}
	reference := max(0, slices.IndexFunc(stats, func(s captures.Stats) bool { return s.Messages }))
	for i := range clocks {
		if i == reference && clocks[i].Offset == nil {
			clocks[i].Reference, clocks[i].Offset = true, new(time.Duration)
		}
	}
	return w.engine.Diagnose(stats, clocks), w.last, w.count
}

func (w *watching) report(d *decode.Diagnosis, last captures.Sample) error {
	for _, e := range w.teller.Look(d) {
		if err := w.events.Tell(e); err != nil {
			return err
		}
	}
	return w.events.Status(d, last)
}

// end tells the verdict, and what stood in the way of an input.
func (w *watching) end() error {
	d, last, count := w.look()
	var unread error
	for _, in := range w.inputs {
		var f *failure
		switch {
		case in.err == nil:
		case errors.As(in.err, &f) && f.status == exitInput:
			f.tell(w.s.err, w.o.json)
			unread = &failure{status: exitInput, told: true}
		default:
			return in.err
		}
	}
	if count > 0 {
		if err := w.report(d, last); err != nil {
			return err
		}
		if err := w.events.Tell(w.teller.End(d)); err != nil {
			return err
		}
	}
	if err := w.events.Close(); err != nil {
		return err
	}
	if count == 0 && unread == nil {
		return unreadable(w.o.first(w.inputs), "it ended before anything could be used; expected rows of a meter log or of messages (portside help formats)")
	}
	return unread
}

func (o *watchOptions) first(inputs []*followed) string {
	for _, in := range inputs {
		if in.stats.Path != "" {
			return in.stats.Path
		}
	}
	return "the recording"
}

// read follows one file to its end.
func (w *watching) read(ctx context.Context, f *followed, n int, file operand, options captures.Options, shifts []shift) error {
	var in *captures.Input
	keep := func() {
		if in == nil {
			return
		}
		stats := in.Stats()
		w.mu.Lock()
		f.stats = stats
		w.mu.Unlock()
	}
	raw, err := w.source(ctx, file, keep)
	if err != nil {
		return err
	}
	defer func() { _ = raw.Close() }() // it was only read
	options.Line = func(signals []capturesline.Signal) captures.LineDecoder { return line.NewMessages(signals, nil) }
	in, err = captures.Open(file.path, raw, options)
	tail, _ := raw.(*follower)
	defer func() { f.gone = tail != nil && tail.gone }()
	var bad *captures.UnusableError
	if errors.As(err, &bad) {
		if ctx.Err() != nil {
			return nil // interrupted before there was a header
		}
		return unusable(file.path, bad)
	}
	if err != nil {
		return err
	}
	input := captures.RecordingInput{Input: in}
	f.clock = captures.Clock{Path: file.path}
	if by, ok := of(shifts, n+1, in.Kind().String()); ok {
		input.Shift = &by
		f.clock.Offset, f.clock.Stated = &by, true
	}
	one := captures.NewRecording([]captures.RecordingInput{input})
	w.mu.Lock()
	f.stats, f.open = in.Stats(), true
	w.mu.Unlock()
	for kept := time.Now(); ; {
		record, err := one.Next()
		if err != nil {
			keep()
			if errors.Is(err, io.EOF) {
				return nil
			}
			return err
		}
		w.take(record)
		if time.Since(kept) > lookLive/2 {
			keep()
			kept = time.Now()
		}
	}
}

// source opens a file to be followed, or what is read to its end.
func (w *watching) source(ctx context.Context, file operand, idle func()) (io.ReadCloser, error) {
	info, err := os.Stat(file.path)
	if file.path == stdinName || err != nil || !info.Mode().IsRegular() {
		return file.open()
	}
	return follow(ctx, file.path, idle)
}

func (w *watching) take(r captures.Record) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.engine.Take(r)
	w.count++
	if r.Sample != nil {
		w.last = *r.Sample
	}
}
