package captures

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// kept is a record with memory of its own, for comparison.
type kept struct {
	At, End  time.Duration
	Marker   Marker
	Set      pd.OrderedSet
	Bytes    string
	CRC      [4]byte
	HasCRC   bool
	CRCWrong bool
	Status   Status
	By       Recorder
	V, A     uint64 // bits: a gap is equal to itself
	CC       [2]uint64
}

func keep(r Record) kept {
	if s := r.Sample; s != nil {
		return kept{At: s.At, V: bitsOf(s.Volts), A: bitsOf(s.Amps), CC: [2]uint64{bitsOf(s.CC[0]), bitsOf(s.CC[1])}}
	}
	m := r.Message
	k := kept{At: m.At, Marker: m.Marker, Set: m.Set, Bytes: string(m.Bytes), CRC: m.CRC, HasCRC: m.HasCRC, CRCWrong: m.CRCWrong, Status: m.Status, By: m.By}
	if m.HasEnd {
		k.End = m.End
	}
	return k
}

// bitsOf makes all gaps alike.
func bitsOf(v float64) uint64 {
	if math.IsNaN(v) {
		v = math.NaN()
	}
	return math.Float64bits(v)
}

// timeline reads a whole file.
func timeline(t testing.TB, file []byte) (records []kept, in *Input) {
	t.Helper()
	in, err := Open("file", bytes.NewReader(file), Options{})
	require.NoError(t, err)
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			return records, in
		}
		require.NoError(t, err)
		records = append(records, keep(r))
	}
}

// rewritten sends a file through a writer.
func rewritten(t testing.TB, file []byte, begin func(io.Writer, *Input) (Writer, error)) ([]byte, Written) {
	t.Helper()
	in, err := Open("file", bytes.NewReader(file), Options{})
	require.NoError(t, err)
	var out bytes.Buffer
	w, err := begin(&out, in)
	require.NoError(t, err)
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		require.NoError(t, w.Write(r, in))
	}
	require.NoError(t, w.Close())
	return out.Bytes(), w.Written()
}

func asMessages(dst io.Writer, in *Input) (Writer, error) {
	return NewMessageWriter(dst, in.MessageExtras())
}

func asMeter(dst io.Writer, in *Input) (Writer, error) { return NewMeterWriter(dst, in.HasCCLevels()) }

const fullList = `time_s,end_s,sop,bytes,crc,status,by
-0.000001,,Attach,,,,observer
1.5,1.500600,SOP,a1112c910108,e8a6f73f,,observer
1.500900001,,SOP',4100,,unacknowledged,source
1.6,,SOP'',c1 01,00000000,discarded,sink
2838240000.000000000,,Hard_Reset,,,,
`

func TestMessageListKeepsAll(t *testing.T) {
	out, written := rewritten(t, []byte(fullList), asMessages)
	want, _ := timeline(t, []byte(fullList))
	got, in := timeline(t, out)
	require.Len(t, want, 5)
	assert.Equal(t, want, got)
	assert.Empty(t, in.Stats().Problems)
	assert.Equal(t, Written{Messages: 5}, written)
	assert.Contains(t, string(out), "\n-0.000001,,Attach,")
	assert.Contains(t, string(out), "\n1.500000,1.500600,SOP,a1112c910108,e8a6f73f,,observer\n")
	assert.Contains(t, string(out), "\n1.500900001,,SOP',4100,,unacknowledged,source\n")
}

func TestMessageListHasOnlyTheColumnsOfItsInput(t *testing.T) {
	out, _ := rewritten(t, []byte("time_s,sop,bytes\n1,SOP,4100\n"), asMessages)
	assert.Equal(t, "time_s,sop,bytes,crc\n1.000000,SOP,4100,\n", string(out))
}

func TestMeterLogKeepsAll(t *testing.T) {
	const log = "time (ms),voltage (mV),current (mA),cc1 (V)\n0,5003.3,,0.41\n0.001,,120.7,\n3600000,20000,-3e-5,1.7\n"
	out, written := rewritten(t, []byte(log), asMeter)
	want, _ := timeline(t, []byte(log))
	got, _ := timeline(t, out)
	assert.Equal(t, want, got)
	assert.Equal(t, Written{Samples: 3}, written)
	first, _, _ := strings.Cut(string(out), "\n")
	assert.Equal(t, "time_s,voltage_V,current_A,cc1_V,cc2_V", first)
}

// Any reading and any time come back to the last bit.
func TestMeterLogIsExact(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	w, err := NewMeterWriter(&b, false)
	require.NoError(t, err)
	var want []kept
	at := -3 * time.Second
	for range 2000 {
		at += time.Duration(random.Int64N(1e9))
		s := Sample{At: at, Volts: random.NormFloat64() * 10, Amps: math.Exp(random.NormFloat64() * 10 / 4), CC: [2]float64{math.NaN(), math.NaN()}}
		if math.Abs(s.Amps) > maxReading {
			s.Amps = math.NaN()
		}
		require.NoError(t, w.Write(Record{Sample: &s}, nil))
		want = append(want, keep(Record{Sample: &s}))
	}
	require.NoError(t, w.Close())
	got, in := timeline(t, b.Bytes())
	assert.Empty(t, in.Stats().Problems)
	assert.Equal(t, want, got)
}

func TestOneTableHoldsOneKind(t *testing.T) {
	w, err := NewMeterWriter(io.Discard, false)
	require.NoError(t, err)
	assert.ErrorIs(t, w.Write(Record{Message: &Message{}}, nil), ErrBothKinds)
	w, err = NewMessageWriter(io.Discard, MessageExtras{})
	require.NoError(t, err)
	assert.ErrorIs(t, w.Write(Record{Sample: &Sample{}}, nil), ErrBothKinds)
}

func TestWritingTheSmallestTime(t *testing.T) {
	w := newRowWriter(io.Discard)
	w.time(math.MinInt64)
	assert.Equal(t, "-9223372036.854775808,", string(w.row))
}
