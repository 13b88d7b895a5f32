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
	"portside/decode/draw"
)

// otherMeters are the meter logs that saw the same time as the first one, with their
// clocks. Two meters are no finer one: their rows do not mix.
type otherMeters struct {
	first  int // the input whose draw is judged
	found  map[int]clocks.Alignment
	pieces map[int]clocks.Alignment // that nothing ties to the first, and that are read as if they went on from it
}

// sighted is a meter log with its clock.
type sighted struct {
	log    *draw.Result
	clock  clocks.Alignment
	stated bool
}

const (
	// otherClockS is how far the clocks of two meter logs lie apart at least that are no
	// pieces of one log.
	otherClockS = 1.0
	// goesOnS is how soon a logger goes on that begins a new file: common practice.
	goesOnS = 5.0
)

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
	out.first, out.found, out.pieces = meters[0], map[int]clocks.Alignment{}, map[int]clocks.Alignment{}
	var kept []sighted
	for _, i := range meters {
		if seen.draws[i] == nil {
			continue
		}
		m := sighted{seen.draws[i].Result(), clocks.Alignment{Determined: true, Certain: true}, rec.clocks()[i].Stated}
		if i != reference && !m.stated {
			m.clock = seen.align(i, reference)
		}
		switch {
		case len(kept) > 0 && m.sawTheSame(kept, meters[0] == reference):
			out.found[i] = m.clock
			continue
		case len(kept) > 0 && !m.stated && !m.goesOn(kept):
			out.pieces[i] = m.clock
		}
		kept = append(kept, m)
	}
	return out, nil
}

// metersOf are the inputs that are meter logs.
func metersOf(rec *recording) []int {
	var out []int
	if rec.timeline == nil {
		return nil
	}
	for i, in := range rec.timeline.Inputs() {
		if in.Kind() == captures.KindMeter {
			out = append(out, i)
		}
	}
	return out
}

// sawTheSame reports a log of a time that one of those before it covers: on its own clock,
// as pieces of one log are, or on the clock that was stated or found.
func (m sighted) sawTheSame(kept []sighted, byFirst bool) bool {
	for _, k := range kept {
		if m.stated || k.stated {
			if overlap(k.log.Retimed(k.clock.At), m.log.Retimed(m.clock.At)) {
				return true
			}
			continue
		}
		if overlap(k.log, m.log) {
			return true
		}
	}
	return !m.stated && !kept[0].stated && onOtherClock(kept[0].clock, m.clock, byFirst)
}

// goesOn reports a log that begins where one of those before it ends.
func (m sighted) goesOn(kept []sighted) bool {
	return slices.ContainsFunc(kept, func(k sighted) bool {
		after := m.log.Sampling.StartS - k.log.Sampling.EndS
		before := k.log.Sampling.StartS - m.log.Sampling.EndS
		return max(after, before) <= goesOnS
	})
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

// clocks are those of the recording, where the other meters' are no matter of the draw.
func (m *otherMeters) clocks(rec *recording) []captures.Clock {
	out := slices.Clone(rec.clocks())
	for i := range m.found {
		if out[i].Offset == nil {
			out[i].Offset = new(time.Duration)
		}
	}
	return out
}

// refuse is the error of a command that judges the draw of one meter.
func (m *otherMeters) refuse(command string, rec *recording) error {
	for i, in := range rec.clocks() {
		if _, other := m.found[i]; other {
			return usage("%s takes one meter log of a time: %s and %s saw the same, and their rows do not mix; give one of them", command, rec.clocks()[m.first].Path, in.Path)
		}
	}
	return nil
}

// tell states the clocks of the other meters, that the draw is not theirs, and what is not
// known of the clocks of the rest.
func (m *otherMeters) tell(d *decode.Diagnosis, rec *recording) {
	lies := rec.clocks()
	for i := range d.Clocks {
		a, other := m.found[i]
		if other {
			d.Clocks[i] = decode.InputClockOf(lies[i], a)
			d.NotSeen = append(d.NotSeen, fmt.Sprintf("the draw by %s: it saw the same time as %s, and the rows of two meters do not mix; read it by itself, or compare the two",
				lies[i].Path, lies[m.first].Path))
		}
		if a, loose := m.pieces[i]; loose {
			d.Clocks[i].Method = "taken as a piece of " + lies[m.first].Path
			d.NotSeen = append(d.NotSeen, fmt.Sprintf("whether %s is a later or earlier piece of %s or has a clock of its own: %s; its rows are read as a piece; state the offset with --shift %d=SECONDS if you know it",
				lies[i].Path, lies[m.first].Path, why(a), i+1))
		}
	}
	tellLists(d, rec)
}

// why says what keeps a clock from being told from another's.
func why(a clocks.Alignment) string {
	if !a.Determined {
		return a.Reason
	}
	return "the steps that fit may be those of another start"
}

// tellLists says what is not known of two lists of messages or more.
func tellLists(d *decode.Diagnosis, rec *recording) {
	if rec.timeline == nil {
		return
	}
	for i, in := range rec.timeline.Inputs() {
		lies := rec.clocks()[i]
		if in.Kind() == captures.KindMeter || lies.Offset != nil || rec.stats()[i].Samples || !rec.stats()[i].Messages {
			continue
		}
		d.Clocks[i].Method = "not determined: only a meter's clock can be found from the data"
		d.NotSeen = append(d.NotSeen, fmt.Sprintf("how the clock of %s lies to the others: only a meter's can be found from the data; its messages are read at its own times, so that their order among those of another file means nothing; state the offset with --shift %d=SECONDS if you know it",
			lies.Path, i+1))
	}
	if a, b, ok := sameTalk(rec.stats(), rec.clocks()); ok {
		d.NotSeen = append(d.NotSeen, fmt.Sprintf("which messages of %s and %s are the same: both lists cover the same time, and what both saw counts twice", a, b))
	}
}

// sameTalk names two lists of messages that cover the same time.
func sameTalk(stats []captures.Stats, lies []captures.Clock) (first, second string, ok bool) {
	at := func(i int, t time.Duration) time.Duration {
		if i < len(lies) && lies[i].Offset != nil {
			t += *lies[i].Offset
		}
		return t
	}
	for i, a := range stats {
		for k, b := range stats {
			if k > i && talks(a) && talks(b) && min(at(i, a.End), at(k, b.End)) > max(at(i, a.Start), at(k, b.Start)) {
				return a.Path, b.Path, true
			}
		}
	}
	return "", "", false
}

func talks(s captures.Stats) bool { return s.Kind == captures.KindMessages && s.Records > 0 }
