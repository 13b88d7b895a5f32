package live_test

import (
	"encoding/json"
	"flag"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/captures/bench"
	"portside/decode"
	"portside/decode/live"
)

var long = flag.Bool("long", false, "follow every family of the bench in every size of piece")

// recordsOf are a run's records in the order in which they came, on one clock.
func recordsOf(run *bench.Run) []captures.Record {
	var out []captures.Record
	for m, s := 0, 0; m < len(run.Messages) || s < len(run.Rows); {
		if s == len(run.Rows) || m < len(run.Messages) && run.Messages[m].At <= run.Rows[s].At {
			out = append(out, captures.Record{Message: &run.Messages[m]})
			m++
			continue
		}
		out = append(out, captures.Record{Sample: &run.Rows[s]})
		s++
	}
	return out
}

// inputsOf are what a reader says of a run's files once so many records came.
func inputsOf(run *bench.Run, n int) ([]captures.Stats, []captures.Clock) {
	stats := []captures.Stats{
		{Path: "messages.csv", Kind: captures.KindMessages, Records: n, Messages: true},
		{Path: "meter.csv", Kind: captures.KindMeter, Records: n, Samples: true},
	}
	clocks := []captures.Clock{{Path: "messages.csv", Reference: true, Offset: new(time.Duration)}, {Path: "meter.csv"}}
	if !run.Scenario.Parameters.MessagesRecorded {
		return stats[1:], []captures.Clock{{Path: "meter.csv", Reference: true, Offset: new(time.Duration)}}
	}
	return stats, clocks
}

// follow diagnoses a run as it grows, after every so many records, and at its
// end; every 0 only then.
func follow(run *bench.Run, every int) (events []live.Event, last *decode.Diagnosis) {
	e := decode.NewEngine(decode.Options{})
	var teller live.Teller
	all := recordsOf(run)
	for n, r := range all {
		e.Take(r)
		if every > 0 && (n+1)%every == 0 {
			events = append(events, teller.Look(e.Diagnose(inputsOf(run, n+1)))...)
		}
	}
	last = e.Diagnose(inputsOf(run, len(all)))
	return append(append(events, teller.Look(last)...), teller.End(last)), last
}

// document is a diagnosis as diagnose --json prints it.
func document(t *testing.T, d *decode.Diagnosis) string {
	t.Helper()
	b, err := json.Marshal(d)
	require.NoError(t, err)
	return string(b)
}

// Whatever the family and the size of the pieces, what the engine says at the
// end is the whole diagnosis of the finished file, field for field.
func TestEveryFamilyComesToTheSameEnd(t *testing.T) {
	sizes, step := []int{2503}, 5
	if *long {
		sizes, step = []int{13, 97, 1009, 10007}, 1
	}
	all := bench.Families()
	for i := 0; i < len(all); i += step {
		s := all[i].Draw(21)
		if !*long {
			s.Parameters.DurationS = min(s.Parameters.DurationS, 20)
			s.Parameters.MeterHz = min(s.Parameters.MeterHz, 1000)
		}
		run, err := bench.Simulate(s, 21)
		require.NoError(t, err, all[i].Name)
		_, whole := follow(run, 0)
		for _, every := range sizes {
			if n := len(run.Rows) + len(run.Messages); n/every > 2000 {
				every = n / 2000 // looks of a long log, not its length, are what costs
			}
			events, d := follow(run, every)
			assert.Equal(t, document(t, whole), document(t, d), "%s in pieces of %d", all[i].Name, every)
			assert.Equal(t, whole.Verdict.Location, events[len(events)-1].Verdict)
		}
	}
}
