package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"

	"portside/captures"
	"portside/cmd/portside/report"
	"portside/cmd/portside/site"
	"portside/cmd/portside/text"
	"portside/decode"
)

// analyse diagnoses the files of the local page as diagnose does those of the
// command line: one that cannot be read is told, and the rest goes on.
func analyse(ctx context.Context, files []site.File, q site.Question, maxUnpacked int64) (*site.Analysis, error) {
	options, err := optionsOf(q)
	if err != nil {
		return nil, err
	}
	flags, err := asked(q.How, maxUnpacked)
	if err != nil {
		return nil, err
	}
	engine := decode.NewEngine(options)
	var shown telling
	rec := &recording{flags: flags, progress: &progress{}, seen: shown.take, talk: &report.Talk{}}
	defer rec.close()
	unread, err := rec.openAll(files)
	if err != nil {
		return nil, err
	}
	if err := rec.each(ctx, engine.Take); err != nil {
		return nil, refused(err)
	}
	if overflowed(rec.stats()) {
		return nil, &site.Refusal{Status: http.StatusRequestEntityTooLarge}
	}
	engine.Line(rec.health())
	w := &weighing{engine: engine, stats: rec.stats(), clocks: rec.clocks()}
	seen := report.Recorded{Diagnosis: w.engine.Diagnose(w.stats, w.clocks), Talk: rec.talk, Frame: shown.view(rec.health())}
	return &site.Analysis{Recorded: seen, Unread: unread, Weigh: w.weigh}, nil
}

// weighing is a recording that was read, ready to be weighed anew.
type weighing struct {
	mu     sync.Mutex
	engine *decode.Engine
	stats  []captures.Stats
	clocks []captures.Clock
}

func (w *weighing) weigh(q site.Question) (*decode.Diagnosis, error) {
	options, err := optionsOf(q)
	if err != nil {
		return nil, err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.engine.SetOptions(options)
	return w.engine.Diagnose(w.stats, w.clocks), nil
}

// openAll opens the files of the page. It says of each why it cannot be read, and is
// refused where none can.
func (r *recording) openAll(files []site.File) (unread []string, err error) {
	options, err := r.flags.readerOptions()
	if err != nil {
		return nil, refused(err)
	}
	shifts, err := parseShifts(r.flags.shift.values)
	if err != nil {
		return nil, refused(err)
	}
	options.Line = r.line
	var inputs []captures.RecordingInput
	var reasons []string
	for i, f := range files {
		in, err := r.open(operandOf(f), options)
		if err == nil {
			unread = append(unread, "")
			inputs = append(inputs, shifted(in, shifts, i+1))
			continue
		}
		var no *site.Refusal
		if err := refused(err); !errors.As(err, &no) || no.Status != http.StatusUnprocessableEntity {
			return nil, err // a limit, or a fault inside
		}
		unread, reasons = append(unread, no.Message), append(reasons, no.Message)
	}
	switch {
	case len(files) == 0:
		return nil, nil
	case len(inputs) == 0 && len(files) == 1:
		return nil, &site.Refusal{Status: http.StatusUnprocessableEntity, Message: reasons[0]}
	case len(inputs) == 0:
		return nil, &site.Refusal{Status: http.StatusUnprocessableEntity, Message: fmt.Sprintf("None of the %d files can be read.", len(files)), Each: reasons}
	}
	r.timeline = captures.NewRecording(inputs)
	r.window()
	return unread, nil
}

func operandOf(f site.File) operand {
	return operand{path: f.Name, size: -1, open: func() (io.ReadCloser, error) {
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		return nonEmpty(f.Name, r)
	}}
}

// optionsOf turns what the page says of the recording into options.
func optionsOf(q site.Question) (decode.Options, error) {
	out := decode.Options{Readings: q.Readings, MeterAt: q.MeterAt}
	at := choice{of: meterPlaces}
	var limits accuracy
	for _, f := range []field{{"The meter sits at", q.MeterAt, &at}, {"The limits of the meter", q.Accuracy, &limits}} {
		if err := f.set(); err != nil {
			return out, err
		}
	}
	out.AccuracyV, out.AccuracyA = limits.volts, limits.amps
	return out, nil
}

// asked turns the fields of the page into flags.
func asked(how site.How, maxUnpacked int64) (*recordingFlags, error) {
	flags := &recordingFlags{columns: how.Columns, signal: how.Signal, unpacked: size{bytes: maxUnpacked}}
	flags.as.of = kinds
	_, by, _ := strings.Cut(how.Shift, "=")
	for _, f := range []field{
		{"From second", how.From, &flags.from}, {"Up to second", how.To, &flags.to},
		{"Samples a second", how.Rate, &flags.rate}, {"Every file is", how.As, &flags.as},
		{"Move the clock by", by, &moment{}}, {"Move the clock of", how.Shift, &flags.shift},
	} {
		if err := f.set(); err != nil {
			return nil, err
		}
	}
	if flags.from.set && flags.to.set && flags.to.at < flags.from.at {
		return nil, unprocessable("The end of the part lies before its start")
	}
	return flags, nil
}

// field is a field of the page that a flag of the command line takes.
type field struct {
	name, value string
	to          interface{ Set(string) error }
}

// set sets the flag. An empty field says nothing.
func (f field) set() error {
	if f.value == "" {
		return nil
	}
	if err := f.to.Set(f.value); err != nil {
		return unprocessable(f.name + " " + f.value + ": " + err.Error())
	}
	return nil
}

func unprocessable(message string) error {
	return &site.Refusal{Status: http.StatusUnprocessableEntity, Message: text.Safe(message) + "."}
}

// refused makes the page's refusal of an error that lies in what was given.
func refused(err error) error {
	var f *failure
	switch {
	case err != nil && overLimit(err.Error()):
		return &site.Refusal{Status: http.StatusRequestEntityTooLarge}
	case errors.As(err, &f):
		return unprocessable(f.place() + f.message)
	default:
		return err
	}
}

// overflowed reports an archive that unpacks to more than it may. A reader
// takes that as the end of its file and says so among the problems. Where those
// are more than it keeps, the reason is not known, and the worse one is assumed.
func overflowed(stats []captures.Stats) bool {
	return slices.ContainsFunc(stats, func(s captures.Stats) bool {
		return s.Broken && (len(s.Problems) >= captures.MaxProblems ||
			slices.ContainsFunc(s.Problems, func(p captures.Problem) bool { return overLimit(p.Text) }))
	})
}

// overLimit looks for the reason in words, which is all that a reader leaves of
// it.
func overLimit(words string) bool { return strings.Contains(words, captures.ErrUnpackLimit.Error()) }
