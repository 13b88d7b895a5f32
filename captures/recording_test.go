package captures

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// open opens texts as the inputs of a recording; shifts are in seconds, NaN
// where none is stated.
func openAll(t testing.TB, texts []string, shifts []float64) []RecordingInput {
	t.Helper()
	var out []RecordingInput
	for i, text := range texts {
		in, err := Open(fmt.Sprintf("file%d", i), strings.NewReader(text), Options{})
		require.NoError(t, err)
		ri := RecordingInput{Input: in}
		if !math.IsNaN(shifts[i]) {
			by := time.Duration(shifts[i] * 1e9)
			ri.Shift = &by
		}
		out = append(out, ri)
	}
	return out
}

func TestRecording(t *testing.T) {
	const (
		meter    = "time,voltage,current\n0,0,0\n1,5,1\n2,9,1\n"
		messages = "time_s,sop,bytes,end_s\n10.5,SOP,4100,10.6\n11,SOP,4100,\n"
		second   = "time,voltage,current\n11,1,1\n"
	)
	unknown := math.NaN()
	for _, tt := range []struct {
		rule    string
		files   []string
		shifts  []float64
		times   []float64
		inputs  []int
		offsets []float64 // NaN: unknown
		stated  []bool
	}{
		{"one file has its own clock", []string{meter}, []float64{nan}, []float64{0, 1, 2}, []int{0, 0, 0}, []float64{0}, []bool{false}},
		{"one file is simply moved", []string{meter}, []float64{-0.5}, []float64{-0.5, 0.5, 1.5}, []int{0, 0, 0}, []float64{-0.5}, []bool{true}},
		{"one list of messages is simply moved", []string{messages}, []float64{2}, []float64{12.5, 13}, []int{0, 0}, []float64{2}, []bool{true}},
		{"without a stated shift two files share no clock", []string{meter, messages}, []float64{nan, nan}, []float64{0, 1, 2, 10.5, 11}, []int{0, 0, 0, 1, 1}, []float64{unknown, 0}, []bool{false, false}},
		{"the meter is shifted; equal times follow in the order of the inputs", []string{meter, messages}, []float64{10, nan}, []float64{10, 10.5, 11, 11, 12}, []int{0, 1, 0, 1, 0}, []float64{10, 0}, []bool{true, false}},
		{"the same the other way round", []string{messages, meter}, []float64{nan, 10}, []float64{10, 10.5, 11, 11, 12}, []int{1, 0, 0, 1, 1}, []float64{0, 10}, []bool{false, true}},
		{"shifting the messages moves the meter the other way", []string{meter, messages}, []float64{nan, -10}, []float64{10, 10.5, 11, 11, 12}, []int{0, 1, 0, 1, 0}, []float64{10, 0}, []bool{true, false}},
		{"both are shifted", []string{meter, messages}, []float64{11, 1}, []float64{10, 10.5, 11, 11, 12}, []int{0, 1, 0, 1, 0}, []float64{10, 0}, []bool{true, false}},
		{"two meters and a list, each apart", []string{meter, messages, second}, []float64{10, nan, -1}, []float64{10, 10, 10.5, 11, 11, 12}, []int{0, 2, 1, 0, 1, 0}, []float64{10, 0, -1}, []bool{true, false, true}},
		{"two lists, the first leads", []string{messages, messages}, []float64{nan, nan}, []float64{10.5, 10.5, 11, 11}, []int{0, 1, 0, 1}, []float64{0, unknown}, []bool{false, false}},
		{"a stated zero is stated", []string{messages, meter}, []float64{nan, 0}, []float64{0, 1, 2, 10.5, 11}, []int{1, 1, 1, 0, 0}, []float64{0, 0}, []bool{false, true}},
		{"without messages the first file leads", []string{meter, second}, []float64{nan, -10.5}, []float64{0, 0.5, 1, 2}, []int{0, 1, 0, 0}, []float64{0, -10.5}, []bool{false, true}},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			r := NewRecording(openAll(t, tt.files, tt.shifts))
			var times []float64
			var inputs []int
			for {
				record, err := r.Next()
				if errors.Is(err, io.EOF) {
					break
				}
				require.NoError(t, err)
				times = append(times, record.At().Seconds())
				inputs = append(inputs, record.Input())
				if m := record.Message; m != nil && m.HasEnd {
					assert.Equal(t, 100*ms, m.End-m.At, "the end moves with the message")
				}
			}
			assert.Equal(t, tt.times, times)
			assert.Equal(t, tt.inputs, inputs)
			for i, c := range r.Clocks() {
				assert.Equal(t, fmt.Sprintf("file%d", i), c.Path)
				assert.Equal(t, tt.stated[i], c.Stated, "stated %d", i)
				if math.IsNaN(tt.offsets[i]) {
					assert.Nil(t, c.Offset)
					continue
				}
				require.NotNil(t, c.Offset)
				assert.Equal(t, tt.offsets[i], c.Offset.Seconds())
			}
			for i, s := range r.Stats() {
				assert.Equal(t, strings.Count(tt.files[i], "\n")-1, s.Records)
				own := read(t, tt.files[i], Options{}).stats
				assert.Equal(t, own.Start, s.Start, "the statistics stay on the file's own clock")
			}
			_, err := r.Next()
			assert.Equal(t, io.EOF, err)
		})
	}
	_, err := NewRecording(nil).Next()
	assert.Equal(t, io.EOF, err)
}

// Rows of one time keep the order of their file, whatever the others hold.
func TestEqualTimesKeepTheOrderOfTheirFile(t *testing.T) {
	log := "time,voltage,current\n" + strings.Repeat("1,5,0\n", 50)
	list := "time_s,sop,bytes\n" + strings.Repeat("1,SOP,4100\n", 50)
	r := NewRecording(openAll(t, []string{log, list, log}, []float64{0, nan, 0}))
	var inputs []int
	last := make([]int, 3)
	for {
		record, err := r.Next()
		if err != nil {
			break
		}
		line := 0
		if record.Sample != nil {
			line = record.Sample.Line
		} else {
			line = record.Message.Line
		}
		i := record.Input()
		assert.Greater(t, line, last[i])
		last[i] = line
		inputs = append(inputs, i)
	}
	assert.Len(t, inputs, 150)
	assert.True(t, slices.IsSorted(inputs), "equal times follow in the order of the inputs")
}

func TestHugeShiftIsRefused(t *testing.T) {
	log := "time,voltage,current\n0,5,0\n"
	list := "time_s,sop,bytes\n0,SOP,4100\n"
	for _, by := range []time.Duration{MaxTime + 1, -MaxTime - 1, math.MaxInt64, math.MinInt64} {
		inputs := openAll(t, []string{log, list}, []float64{nan, nan})
		inputs[1].Shift = &by
		_, err := NewRecording(inputs).Next()
		assert.ErrorIs(t, err, ErrShift, by)
	}
}

// The largest times and shifts neither overflow nor lose their order.
func TestTimesAndShiftsNeverOverflow(t *testing.T) {
	most := fmt.Sprint(int64(MaxTime))
	log := "time (ns),voltage,current\n-" + most + ",5,0\n" + most + ",5,0\n"
	list := "time_s,sop,bytes\n0,SOP,4100\n"
	for _, shifts := range [][2]time.Duration{{MaxTime, -MaxTime}, {-MaxTime, MaxTime}, {MaxTime, MaxTime}} {
		inputs := openAll(t, []string{log, list}, []float64{nan, nan})
		inputs[0].Shift, inputs[1].Shift = &shifts[0], &shifts[1]
		r := NewRecording(inputs)
		var got []time.Duration
		for {
			record, err := r.Next()
			if err != nil {
				break
			}
			if record.Sample != nil {
				got = append(got, record.At())
			}
		}
		offset := new(big.Int).Sub(big.NewInt(int64(shifts[0])), big.NewInt(int64(shifts[1])))
		require.Len(t, got, 2)
		for i, own := range []time.Duration{-MaxTime, MaxTime} {
			want := new(big.Int).Add(offset, big.NewInt(int64(own)))
			assert.Equal(t, want.String(), big.NewInt(int64(got[i])).String())
		}
	}
}

// A clock found from the data is put in by a function, and the merge goes by it.
func TestRetime(t *testing.T) {
	r := NewRecording(openAll(t, []string{"time_s,sop,bytes\n10.5,SOP,4100\n", "time,voltage,current\n1,5,0\n2,5,0\n"}, []float64{nan, nan}))
	r.Retime(1, func(at time.Duration) time.Duration { return 2*at + 8*time.Second })
	var times []float64
	for {
		record, err := r.Next()
		if err != nil {
			break
		}
		times = append(times, record.At().Seconds())
	}
	assert.Equal(t, []float64{10, 10.5, 12}, times)
	assert.Nil(t, r.Clocks()[1].Offset, "it is not stated")
}
