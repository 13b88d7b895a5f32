package line_test

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	simulated "portside/captures/bench"
	"portside/captures/line"
	decode "portside/decode/line"
	"portside/pd"
)

// The bench writes the line apart from its list of messages; what is heard on
// the one must be what stands in the other, in every family.
func TestTheBenchsLineCarriesItsMessages(t *testing.T) {
	seeds, heard := uint64(1), 0
	if *long {
		seeds = 20
	}
	for _, f := range simulated.Families() {
		for seed := range seeds {
			s := f.Draw(seed)
			s.Parameters.MessagesRecorded, s.Parameters.MeterHz = true, 1
			s.Parameters.DurationS = min(s.Parameters.DurationS, s.Parameters.MessagesFromS+12)
			run, err := simulated.Simulate(s, seed)
			require.NoError(t, err)
			var dump bytes.Buffer
			require.NoError(t, run.WriteLineVCD(&dump))
			got := overhear(t, &dump, s.Parameters.MessagesNoAck)
			require.Len(t, got, len(run.Messages), "%s seed %d", f.Name, seed)
			for i, want := range run.Messages {
				assert.Equal(t, want.Set, got[i].Set, "%s seed %d at %v", f.Name, seed, want.At)
				assert.Equal(t, want.Bytes, got[i].Bytes, "%s seed %d at %v", f.Name, seed, want.At)
				if want.HasCRC {
					assert.Equal(t, want.CRC, got[i].CRC, "%s seed %d at %v", f.Name, seed, want.At)
				}
				// The list is written to the microsecond, an edge is found to a bit.
				assert.InDelta(t, want.At.Seconds(), got[i].At.Seconds(), 4e-6, "%s seed %d", f.Name, seed)
				assert.InDelta(t, want.End.Seconds(), got[i].End.Seconds(), 4e-6, "%s seed %d", f.Name, seed)
			}
			heard += len(got)
		}
	}
	assert.Greater(t, heard, 500)
}

// overhear reads a dump as the program does.
func overhear(t *testing.T, src io.Reader, withoutGoodCRC bool) []captures.Message {
	t.Helper()
	v, err := line.NewVCD(src, line.Options{})
	require.NoError(t, err)
	var out []captures.Message
	keep := func(m captures.Message) {
		if p, err := pd.ParseMessage(m.Set, m.Bytes); withoutGoodCRC && err == nil && !m.Set.IsReset() && p.Type() == pd.GoodCRC {
			return
		}
		out = append(out, m)
	}
	messages := decode.NewMessages(v.Signals(), nil)
	events := make([]line.Event, 4096)
	for {
		n, err := v.Read(events)
		messages.Add(events[:n])
		for m := messages.Next(); m != nil; m = messages.Next() {
			keep(*m)
		}
		if err == io.EOF { //nolint:errorlint // readers give it bare
			break
		}
		require.NoError(t, err)
	}
	messages.Finish()
	for m := messages.Next(); m != nil; m = messages.Next() {
		keep(*m)
	}
	return out
}
