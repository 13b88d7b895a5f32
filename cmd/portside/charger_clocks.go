package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"portside/captures"
	"portside/decode"
	"portside/decode/clocks"
)

// look reads the recording once before it is checked.
func (o *chargerOptions) look(ctx context.Context, s *streams, files []string) (*decode.Engine, error) {
	rec, err := openBeforehand(o.recordingFlags, s, files)
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
	own := loose(rec.clocks())
	switch {
	case len(own) == 0:
		return clocks.Alignment{}, nil
	case len(own) > 1:
		return clocks.Alignment{Reason: fmt.Sprintf("%d files have clocks of their own", len(own))}, nil
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
		rec.timeline.Retime(own[0], func(at time.Duration) time.Duration {
			return time.Duration(a.Surely(at.Seconds()).Hi * float64(time.Second))
		})
	}
	return a, nil
}

// loose are the inputs on clocks of their own.
func loose(given []captures.Clock) []int {
	var out []int
	for i, c := range given {
		if c.Offset == nil {
			out = append(out, i)
		}
	}
	return out
}

// boundClocks puts the middle and half width of what is possible in place of an estimate
// and its standard uncertainty: what the checks were judged by.
func boundClocks(list []decode.InputClock, given []captures.Clock, a clocks.Alignment) []decode.InputClock {
	if !a.Determined {
		return list
	}
	for _, i := range loose(given) {
		at := a.Surely(a.MiddleS)
		offset, half := microseconds((at.Lo+at.Hi)/2-a.MiddleS), microseconds((at.Hi-at.Lo)/2)
		list[i].OffsetS, list[i].UncertaintyS = &offset, &half
	}
	return list
}

func microseconds(s float64) float64 { return math.Round(s*1e6) / 1e6 }

// clockWords says how the clocks were laid beside each other; "" where they were not.
func clockWords(a clocks.Alignment) string {
	if !a.Determined {
		return ""
	}
	at := a.Surely(a.MiddleS)
	return fmt.Sprintf("meter and messages were laid beside each other by %s, to +/- %.3g ms; times are those of the messages",
		countOf(len(a.Matched), "voltage step that both saw", "voltage steps that both saw"), (at.Hi-at.Lo)/2*1e3)
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
