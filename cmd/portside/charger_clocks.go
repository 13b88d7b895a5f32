package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"portside/decode"
	"portside/decode/clocks"
)

// look reads the recording once before it is checked: the clock of a meter can be
// found only from the whole of it. Nothing of it is told twice.
func (o *chargerOptions) look(ctx context.Context, s *streams, files []string) (*decode.Engine, error) {
	quiet := *s
	quiet.err = io.Discard
	flags := o.recordingFlags
	flags.quiet, flags.html = true, reportFile{}
	rec, err := openRecording(&flags, &quiet, files)
	if err != nil {
		return nil, err
	}
	defer rec.close()
	engine := decode.NewEngine(decode.Options{AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps})
	return engine, rec.each(ctx, engine.Take)
}

// align finds how the clock of the meter lies to the messages', where one input is on
// a clock of its own, and sets the recording to it. The Reason of the alignment says why there
// is none.
func (o *chargerOptions) align(ctx context.Context, s *streams, files []string, rec *recording) (clocks.Alignment, error) {
	var loose []int
	for i, c := range rec.clocks() {
		if c.Offset == nil {
			loose = append(loose, i)
		}
	}
	switch {
	case len(loose) == 0:
		return clocks.Alignment{}, nil
	case len(loose) > 1:
		return clocks.Alignment{Reason: fmt.Sprintf("%d files have clocks of their own", len(loose))}, nil
	case slices.Contains(files, stdinName):
		return clocks.Alignment{Reason: "standard input cannot be read a second time"}, nil
	}
	engine, err := o.look(ctx, s, files)
	if err != nil {
		return clocks.Alignment{}, err
	}
	a := engine.Alignment()
	if a.Determined && !a.Certain {
		a = clocks.Alignment{Reason: "the voltage steps that fit leave room for another match"}
	}
	if a.Determined {
		rec.timeline.Retime(loose[0], func(at time.Duration) time.Duration {
			return time.Duration(a.Surely(at.Seconds()).Hi * float64(time.Second))
		})
	}
	return a, nil
}
