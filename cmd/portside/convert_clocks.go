package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"portside/captures"
	"portside/decode/clocks"
	"portside/decode/draw"
	"portside/decode/negotiation"
)

// sightings is what each input of a recording saw, on its own clock.
type sightings struct {
	draws    []*draw.Analyser
	messages []*negotiation.Tracker
}

// openBeforehand opens a recording that is read a second time afterwards: how two clocks
// lie to one another shows only in the whole of it. Nothing of it is told twice.
func openBeforehand(flags recordingFlags, s *streams, files []string) (*recording, error) {
	quiet := *s
	quiet.err = io.Discard
	flags.quiet, flags.html = true, reportFile{}
	return openRecording(&flags, &quiet, files)
}

// sight reads the whole of the recording once before it, or a part of it, is converted.
func sight(ctx context.Context, whole recordingFlags, s *streams, files []string) (*sightings, error) {
	whole.from, whole.to = moment{}, moment{}
	rec, err := openBeforehand(whole, s, files)
	if err != nil {
		return nil, err
	}
	defer rec.close()
	n := len(rec.timeline.Inputs())
	seen := &sightings{draws: make([]*draw.Analyser, n), messages: make([]*negotiation.Tracker, n)}
	return seen, rec.each(ctx, seen.take)
}

func (s *sightings) take(r captures.Record) {
	if r.Sample != nil {
		if s.draws[r.Sample.Input] == nil {
			s.draws[r.Sample.Input] = draw.New(draw.Options{})
		}
		s.draws[r.Sample.Input].Add(r.Sample)
		return
	}
	if s.messages[r.Message.Input] == nil {
		s.messages[r.Message.Input] = negotiation.New(negotiation.Options{})
	}
	s.messages[r.Message.Input].Add(r.Message)
}

// align is how the clock of an input lies to the reference's.
func (s *sightings) align(input, reference int) clocks.Alignment {
	switch {
	case s.draws[input] == nil:
		return clocks.Alignment{Reason: "it holds no meter log, and only a meter's clock can be found from the data"}
	case s.messages[reference] != nil:
		return clocks.Of(s.draws[input].Result(), s.messages[reference].Result())
	case s.draws[reference] != nil:
		return clocks.OfMeters(s.draws[input].Result(), s.draws[reference].Result())
	}
	return clocks.Alignment{Reason: "the file whose clock the recording has holds nothing"}
}

// align finds the clocks of the inputs that have one of their own, and sets the
// recording to them. The result has an entry for each such input.
func (o *convertFlags) align(ctx context.Context, s *streams, files []string, rec *recording) (map[int]clocks.Alignment, error) {
	found := map[int]clocks.Alignment{}
	reference := slices.IndexFunc(rec.clocks(), func(c captures.Clock) bool { return c.Reference })
	for i, c := range rec.clocks() {
		if c.Offset == nil {
			found[i] = clocks.Alignment{Reason: "standard input cannot be read a second time"}
		}
	}
	if len(found) == 0 || slices.Contains(files, stdinName) {
		return found, nil
	}
	seen, err := sight(ctx, o.recordingFlags, s, files)
	if err != nil {
		return nil, err
	}
	for i := range found {
		a := seen.align(i, reference)
		found[i] = a
		if a.Determined {
			rec.timeline.Retime(i, onClock(a))
		}
	}
	return found, nil
}

// onClock moves times by an alignment and keeps their digits.
func onClock(a clocks.Alignment) func(time.Duration) time.Duration {
	offset := time.Duration(math.Round(a.OffsetS*1e6)) * time.Microsecond
	return func(at time.Duration) time.Duration {
		drift := a.RatePPM * 1e-6 * (at.Seconds() - a.MiddleS)
		return at + offset + time.Duration(math.Round(drift*1e9))
	}
}

// tellClock says in words what became of the clock of an input.
func tellClock(path string, a clocks.Alignment) string {
	if !a.Determined {
		return fmt.Sprintf("%s: its clock is taken as it stands: %s; say how much to add with --shift", path, a.Reason)
	}
	rate := ""
	if a.RateU > 0 {
		rate = fmt.Sprintf(", running %+.0f +- %.0f ppm", a.RatePPM, a.RateU)
	}
	return fmt.Sprintf("%s: %+.3f s added (uncertainty %.2g s%s), from %s that both saw", path, a.OffsetS, a.Uncertainty, rate, counted(len(a.Matched), "event"))
}
