package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"portside/captures"
	capturesline "portside/captures/line"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode/line"
)

// recording is the files of one command line, open and ready to be read.
type recording struct {
	flags    *recordingFlags
	timeline *captures.Recording // nil without files
	closers  []io.Closer
	progress *progress
	unread   bool // an input could not be read, and was told
	digests  []*digested
	taken    int // records between --from and --to
	lines    []*line.Messages
	seen     func(*line.Frame) // called for each frame of a line; may be nil
	talk     *report.Talk      // of the messages, for a report; nil where none is asked for
}

// openRecording opens every operand. One that cannot be read is told and the
// rest goes on; it is an error only where nothing is left.
func openRecording(o *recordingFlags, s *streams, args []string) (*recording, error) {
	return openRecordingSeen(o, s, args, nil)
}

// openRecordingSeen also shows each frame of a line recording as it is read.
func openRecordingSeen(o *recordingFlags, s *streams, args []string, seen func(*line.Frame)) (*recording, error) {
	if o.from.set && o.to.set && o.to.at < o.from.at {
		return nil, usage("--to %s lies before --from %s", o.to.at, o.from.at)
	}
	shifts, err := parseShifts(o.shift.values)
	if err != nil {
		return nil, err
	}
	options, err := o.readerOptions()
	if err != nil {
		return nil, err
	}
	files, err := resolve(args, s)
	if err != nil {
		return nil, err
	}
	r := &recording{flags: o, progress: newProgress(s, o.quiet || o.json), seen: seen}
	if o.html.path != "" {
		r.talk = &report.Talk{}
	}
	options.Line = r.line
	if len(args) == 0 {
		return r, nil
	}
	for _, x := range shifts {
		if x.by.Abs() > captures.MaxTime {
			return nil, usage("--shift: expected at most %.0f seconds either way", captures.MaxTime.Seconds())
		}
		if x.n > len(files) {
			return nil, usage("--shift %d=...: there %s", x.n, areFiles(len(files)))
		}
	}
	var inputs []captures.RecordingInput
	for i, f := range files {
		in, err := r.open(f, options)
		if err != nil {
			if err := r.tell(err, s); err != nil {
				return nil, err
			}
			r.digests = append(r.digests, notRead(f.path, err))
			continue
		}
		inputs = append(inputs, shifted(in, shifts, i+1))
	}
	if len(inputs) == 0 {
		return nil, &failure{status: exitInput, told: true}
	}
	r.timeline = captures.NewRecording(inputs)
	r.window()
	return r, nil
}

func areFiles(n int) string {
	if n == 1 {
		return "is 1 file"
	}
	return fmt.Sprintf("are %d files", n)
}

// readerOptions are the flags as the readers take them.
func (o *recordingFlags) readerOptions() (captures.Options, error) {
	out := captures.Options{RateHz: o.rate.hz, MaxUnpacked: o.unpacked.bytes, Signal: o.signal}
	switch o.as.value {
	case "meter":
		out.As = captures.KindMeter
	case "messages":
		out.As = captures.KindMessages
	case "pcapng":
		out.As = captures.KindPackets
	case "line":
		out.As = captures.KindLine
	}
	if o.columns == "" {
		return out, nil
	}
	var err error
	if out.Columns, err = captures.ParseColumns(o.columns); err != nil {
		return out, usage("--%s", err)
	}
	return out, nil
}

// open opens one operand.
func (r *recording) open(f operand, options captures.Options) (in *captures.Input, err error) {
	raw, err := f.open()
	if err != nil {
		return nil, err
	}
	r.closers = append(r.closers, raw)
	r.progress.expect(f.size)
	source := r.progress.watch(raw)
	if r.flags.html.path != "" {
		d := newDigested(f.path, source)
		defer func() {
			if err == nil {
				r.digests = append(r.digests, d)
			}
		}()
		source = d
	}
	in, err = captures.Open(f.path, source, options)
	var bad *captures.UnusableError
	if errors.As(err, &bad) {
		return nil, unusable(f.path, bad)
	}
	return in, err
}

// line makes the decoder of a line recording.
func (r *recording) line(signals []capturesline.Signal) captures.LineDecoder {
	m := line.NewMessages(signals, r.seen)
	r.lines = append(r.lines, m)
	return m
}

// window has the decoders of lines keep to --from and --to, which are on the clock of the
// recording.
func (r *recording) window() {
	if !r.flags.from.set && !r.flags.to.set {
		return
	}
	from, to := time.Duration(-captures.MaxTime), time.Duration(captures.MaxTime)
	if r.flags.from.set {
		from = r.flags.from.at
	}
	if r.flags.to.set {
		to = r.flags.to.at
	}
	clocks, n := r.clocks(), 0 // lines so far
	for i, in := range r.stats() {
		if in.Kind != captures.KindLine || !in.Messages {
			continue
		}
		var offset time.Duration
		if known := clocks[i].Offset; known != nil {
			offset = *known
		}
		r.lines[n].Within(from-offset, to-offset)
		n++
	}
}

// health is that of the line with the most frames, on the clock of the recording;
// nil without a line recording.
func (r *recording) health() *line.Result {
	var best *line.Result
	clocks, n := r.clocks(), 0 // lines so far
	for i, in := range r.stats() {
		if in.Kind != captures.KindLine || !in.Messages {
			continue
		}
		h := r.lines[n].Result()
		n++
		if best != nil && h.Frames <= best.Frames {
			continue
		}
		if best = h; clocks[i].Offset != nil {
			best = h.Moved(*clocks[i].Offset)
		}
	}
	return best
}

// unusable words what a reader says of a file it cannot use.
func unusable(path string, e *captures.UnusableError) *failure {
	out := unreadable(path, "expected %s, found %s", e.Expected, e.Found)
	if e.Hint != "" {
		out.message += "; " + e.Hint
	} else {
		out.message += "; see portside help formats"
	}
	out.line, out.offset = e.Line, e.Offset
	return out
}

// tell prints the error of one input and remembers it; an error of another
// kind goes back to the caller.
func (r *recording) tell(err error, s *streams) error {
	var f *failure
	if !errors.As(err, &f) || f.status != exitInput {
		return err
	}
	f.tell(s.err, r.flags.json)
	r.unread = true
	return nil
}

// looksEvery is how many records pass between two looks at an interrupt.
const looksEvery = 1024

// each gives every record between --from and --to, in the order of time.
func (r *recording) each(ctx context.Context, take func(captures.Record)) error {
	if r.timeline == nil {
		return nil
	}
	defer r.progress.done()
	for n := 0; ; n++ {
		if n%looksEvery == 0 && ctx.Err() != nil {
			return context.Canceled
		}
		rec, err := r.timeline.Next()
		if errors.Is(err, io.EOF) {
			return r.usable()
		}
		if err != nil {
			return err
		}
		if r.flags.from.set && rec.At() < r.flags.from.at || r.flags.to.set && rec.At() > r.flags.to.at {
			continue
		}
		r.taken++
		if r.talk != nil && rec.Message != nil {
			r.talk.Add(rec.Message)
		}
		take(rec)
	}
}

// usable looks whether the files held anything. A list of messages without a
// row is evidence beside a meter log, and nothing alone.
func (r *recording) usable() error {
	stats := r.timeline.Stats()
	records := 0
	for _, s := range stats {
		records += s.Records
	}
	switch first := stats[0]; {
	case records > 0 && r.taken == 0 && (r.flags.from.set || r.flags.to.set):
		from, to := stats[0].Start, stats[0].End
		return unreadable(first.Path, "nothing of the recording lies between --from and --to; it goes from %s to %s s", seconds(from), seconds(to))
	case records > 0:
		return nil
	case first.Kind == captures.KindMessages:
		return unreadable(first.Path, "expected messages, found a header and no usable row%s; give it beside a meter log, or see portside help formats", firstProblem(first))
	case first.Kind == captures.KindLine:
		return unreadable(first.Path, "expected changes or voltages of the CC line, found none that could be used%s; see portside help formats", firstProblem(first))
	case first.Kind == captures.KindPackets:
		return unreadable(first.Path, "expected packets of link type 147 (messages) or 148 (meter samples), found none that could be used%s; see portside help formats", firstProblem(first))
	default:
		return unreadable(first.Path, "expected rows of time, voltage and current, found none that could be used%s; see portside help formats", firstProblem(first))
	}
}

func firstProblem(s captures.Stats) string {
	if len(s.Problems) == 0 {
		return ""
	}
	p := s.Problems[0]
	if p.Line == 0 {
		return " (" + p.Text + ")"
	}
	return fmt.Sprintf(" (line %d: %s)", p.Line, p.Text)
}

func seconds(d time.Duration) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.6f", d.Seconds()), "0"), ".")
}

// without is the error of a command that found none of what it lists.
func (r *recording) without(what string) error {
	var paths []string
	for _, s := range r.stats() {
		paths = append(paths, fmt.Sprintf("%s: %s", s.Path, s.Kind))
	}
	return unreadable(r.stats()[0].Path, "expected %s, found none (%s); see portside help formats", what, strings.Join(paths, ", "))
}

func (r *recording) stats() []captures.Stats {
	if r.timeline == nil {
		return nil
	}
	return r.timeline.Stats()
}

func (r *recording) clocks() []captures.Clock {
	if r.timeline == nil {
		return nil
	}
	return r.timeline.Clocks()
}

// tellSkipped warns of damaged rows.
func (r *recording) tellSkipped(s *streams) {
	if r.flags.quiet || r.flags.json {
		return
	}
	for _, st := range r.stats() {
		if st.Skipped > 0 {
			_, _ = fmt.Fprintf(s.err, "portside: %s: %s skipped%s\n", text.Safe(st.Path), rows(st.Skipped), text.Safe(firstProblem(st)))
		}
	}
}

func rows(n int) string {
	if n == 1 {
		return "1 row"
	}
	return fmt.Sprintf("%d rows", n)
}

func (r *recording) close() {
	r.progress.done()
	for _, c := range r.closers {
		_ = c.Close() // it was only read
	}
}
