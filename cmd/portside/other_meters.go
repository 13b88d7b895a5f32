package main

import (
	"context"
	"fmt"
	"math"
	"slices"

	"portside/captures"
	"portside/decode"
	"portside/decode/clocks"
	"portside/decode/draw"
)

// otherMeters are the meter logs that saw the same time as the first one, with their
// clocks. Two meters are no finer one: their rows do not mix.
type otherMeters struct {
	first int // the input whose draw is judged
	found map[int]clocks.Alignment
}

// otherClockS is how far the clocks of two meter logs lie apart at least that are no
// pieces of one log.
const otherClockS = 1.0

// findOtherMeters looks through a recording with two meter logs or more. Logs that follow
// one another on one clock are pieces of one, and are not among them.
func findOtherMeters(ctx context.Context, flags recordingFlags, s *streams, files []string, rec *recording) (*otherMeters, error) {
	out := &otherMeters{first: -1}
	meters := metersOf(rec)
	if len(meters) < 2 || slices.Contains(files, stdinName) {
		return out, nil
	}
	seen, err := sight(ctx, flags, s, files)
	if err != nil {
		return nil, err
	}
	reference := slices.IndexFunc(rec.clocks(), func(c captures.Clock) bool { return c.Reference })
	out.first, out.found = meters[0], map[int]clocks.Alignment{}
	var kept []*draw.Result
	var firstClock clocks.Alignment
	for n, i := range meters {
		if seen.draws[i] == nil {
			continue
		}
		r := seen.draws[i].Result()
		a := clocks.Alignment{Determined: true, Certain: true}
		if i != reference {
			a = seen.align(i, reference)
		}
		if n == 0 {
			firstClock = a
		} else if slices.ContainsFunc(kept, func(k *draw.Result) bool { return overlap(k, r) }) || onOtherClock(firstClock, a, meters[0] == reference) {
			out.found[i] = a
			continue
		}
		kept = append(kept, r)
	}
	return out, nil
}

// metersOf are the inputs that are meter logs on a clock that nobody stated.
func metersOf(rec *recording) []int {
	var out []int
	if rec.timeline == nil {
		return nil
	}
	for i, in := range rec.timeline.Inputs() {
		if in.Kind() == captures.KindMeter && !rec.clocks()[i].Stated {
			out = append(out, i)
		}
	}
	return out
}

// overlap reports two logs that cover the same time by more than a row.
func overlap(a, b *draw.Result) bool {
	x, y := a.Sampling, b.Sampling
	return min(x.EndS, y.EndS)-max(x.StartS, y.StartS) > max(x.IntervalS, y.IntervalS)
}

// onOtherClock reports a log whose clock is not the first one's: by two steps or more,
// which the pieces of one log share with the messages and not with one another. Held
// against the first log itself, a start that was repeated looks alike unless the match is
// certain.
func onOtherClock(first, a clocks.Alignment, byFirst bool) bool {
	if byFirst && !a.Certain {
		return false
	}
	return first.Determined && a.Determined && len(a.Matched) > 1 && math.Abs(a.OffsetS-first.OffsetS) > otherClockS
}

// without passes on what is not of the other meters.
func (m *otherMeters) without(take func(captures.Record)) func(captures.Record) {
	if len(m.found) == 0 {
		return take
	}
	return func(r captures.Record) {
		if r.Sample != nil {
			if _, other := m.found[r.Sample.Input]; other {
				return
			}
		}
		take(r)
	}
}

// tell states the clocks of the other meters, and that the draw is not theirs.
func (m *otherMeters) tell(d *decode.Diagnosis, rec *recording) {
	lies := rec.clocks()
	for i := range d.Clocks {
		a, other := m.found[i]
		if !other {
			continue
		}
		d.Clocks[i] = decode.InputClockOf(lies[i], a)
		d.NotSeen = append(d.NotSeen, fmt.Sprintf("the draw by %s: it saw the same time as %s, and the rows of two meters do not mix; read it by itself, or compare the two",
			lies[i].Path, lies[m.first].Path))
	}
	if a, b, ok := sameTalk(rec.stats()); ok {
		d.NotSeen = append(d.NotSeen, fmt.Sprintf("which messages of %s and %s are the same: both lists cover the same time, and what both saw counts twice", a, b))
	}
}

// sameTalk names two lists of messages that cover the same time.
func sameTalk(stats []captures.Stats) (first, second string, ok bool) {
	for i, a := range stats {
		for _, b := range stats[i+1:] {
			if talks(a) && talks(b) && min(a.End, b.End) > max(a.Start, b.Start) {
				return a.Path, b.Path, true
			}
		}
	}
	return "", "", false
}

func talks(s captures.Stats) bool { return s.Kind == captures.KindMessages && s.Records > 0 }
