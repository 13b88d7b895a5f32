package live_test

import (
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/demo"
	"portside/decode"
	"portside/decode/live"
	"portside/decode/rules"
)

// told follows a demo recording and looks after so many records; 0 only at
// the end.
func told(t *testing.T, name string, every int) (events []live.Event, final *decode.Diagnosis) {
	t.Helper()
	r, err := demo.Recording(name)
	require.NoError(t, err)
	e := decode.NewEngine(decode.Options{})
	var teller live.Teller
	for n := 1; ; n++ {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			final = e.Diagnose(r.Stats(), r.Clocks())
			events = append(events, teller.Look(final)...)
			return append(events, teller.End(final)), final
		}
		require.NoError(t, err)
		e.Take(record)
		if every > 0 && n%every == 0 {
			events = append(events, teller.Look(e.Diagnose(r.Stats(), r.Clocks()))...)
		}
	}
}

func kinds(events []live.Event, kind live.Kind) (out []live.Event) {
	for _, e := range events {
		if e.Event == kind {
			out = append(out, e)
		}
	}
	return out
}

// Whatever the size of the pieces, the end is what diagnose says of the
// finished file, and nothing is told twice.
func TestPiecesComeToTheSameEnd(t *testing.T) {
	for _, info := range demo.List() {
		whole, final := told(t, info.Name, 0)
		for _, every := range []int{1009, 97} {
			events, d := told(t, info.Name, every)
			assert.Equal(t, final.Verdict, d.Verdict, info.Name)
			assert.Equal(t, final.Findings, d.Findings, info.Name)
			assert.Equal(t, whole[len(whole)-1], events[len(events)-1], info.Name)
			require.Equal(t, live.Start, events[0].Event, info.Name)
			assert.Len(t, kinds(events, live.Start), 1, info.Name)
			assert.Len(t, kinds(events, live.Contract), len(d.Negotiation.Contracts), info.Name)
			if v := kinds(events, live.Verdict); len(v) > 0 {
				assert.Equal(t, d.Verdict.Location, v[len(v)-1].Verdict, info.Name)
				for i := 1; i < len(v); i++ {
					assert.NotEqual(t, v[i-1].Verdict, v[i].Verdict, info.Name)
				}
			}
		}
	}
}

// The warning that the rail is shorted comes before the charger circuit has
// given up: its tries are 510 ms apart (data sheet SLUSDU3), the eighth is its
// last.
func TestUnplugComesBeforeTheLastTry(t *testing.T) {
	r, err := demo.Recording("hard-short-main-rail")
	require.NoError(t, err)
	e := decode.NewEngine(decode.Options{})
	var teller live.Teller
	for {
		record, err := r.Next()
		require.NoError(t, err, "no warning in the whole recording")
		e.Take(record)
		d := e.Diagnose(r.Stats(), r.Clocks())
		if u := kinds(teller.Look(d), live.Unplug); len(u) > 0 {
			assert.Equal(t, "retry-pulses", u[0].Rule)
			assert.Equal(t, rules.Fault, u[0].Severity)
			assert.Contains(t, u[0].Text, "battery disconnected")
			require.Len(t, d.Draw.Pulses, 1)
			assert.LessOrEqual(t, d.Draw.Pulses[0].Count, 4)
			return
		}
	}
}

// A sound machine is never told to be unplugged.
func TestSoundMachinesStayPluggedIn(t *testing.T) {
	for _, info := range demo.List() {
		if string(info.Location) != string(rules.Healthy) {
			continue
		}
		events, _ := told(t, info.Name, 53)
		assert.Empty(t, kinds(events, live.Unplug), info.Name)
	}
}
