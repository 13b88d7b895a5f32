package main

import (
	"context"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"

	"portside/captures"
	"portside/cmd/portside/site"
	"portside/cmd/portside/text"
	"portside/decode"
)

// analyse diagnoses the files of the local page as diagnose does those of the
// command line. One file that cannot be read refuses all of them: the page has
// no place beside the verdict where a missing one would be noticed.
func analyse(ctx context.Context, files []site.File, q site.Question, maxUnpacked int64) (*decode.Diagnosis, error) {
	flags, options, err := asked(q, maxUnpacked)
	if err != nil {
		return nil, err
	}
	engine := decode.NewEngine(decode.Options{Readings: q.Readings, MeterAt: q.MeterAt})
	rec := &recording{flags: flags, progress: &progress{}}
	options.Line = rec.line
	defer rec.close()
	var inputs []captures.RecordingInput
	for _, f := range files {
		in, err := rec.open(operand{path: f.Name, size: -1, open: func() (io.ReadCloser, error) {
			r, err := f.Open()
			if err != nil {
				return nil, err
			}
			return nonEmpty(f.Name, r)
		}}, options)
		if err != nil {
			return nil, refused(err)
		}
		inputs = append(inputs, captures.RecordingInput{Input: in})
	}
	if len(inputs) > 0 {
		rec.timeline = captures.NewRecording(inputs)
	}
	if err := rec.each(ctx, engine.Take); err != nil {
		return nil, refused(err)
	}
	if overflowed(rec.stats()) {
		return nil, &site.Refusal{Status: http.StatusRequestEntityTooLarge}
	}
	engine.Line(rec.health())
	return engine.Diagnose(rec.stats(), rec.clocks()), nil
}

// asked turns the fields of the page into flags.
func asked(q site.Question, maxUnpacked int64) (*recordingFlags, captures.Options, error) {
	flags := &recordingFlags{columns: q.Columns, signal: q.Signal, unpacked: size{bytes: maxUnpacked}}
	for _, f := range []struct {
		name, value string
		to          *moment
	}{{"from", q.From, &flags.from}, {"to", q.To, &flags.to}} {
		if f.value == "" {
			continue
		}
		if err := f.to.Set(f.value); err != nil {
			return nil, captures.Options{}, unprocessable(f.name + " " + f.value + ": " + err.Error())
		}
	}
	switch {
	case flags.from.set && flags.to.set && flags.to.at < flags.from.at:
		return nil, captures.Options{}, unprocessable("The end of the part lies before its start")
	case q.MeterAt != "" && q.MeterAt != "source" && q.MeterAt != "device":
		return nil, captures.Options{}, unprocessable("The meter sits at source or device, not at " + q.MeterAt)
	}
	options, err := flags.readerOptions()
	return flags, options, refused(err)
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
