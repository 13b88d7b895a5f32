package line_test

import (
	"bytes"
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"portside/captures/line"
)

// drain reads all events and holds what every reader promises.
func drain(t *testing.T, r line.Reader) {
	t.Helper()
	signals := r.Signals()
	require.LessOrEqual(t, len(signals), line.MaxSignals)
	var room [5]line.Event
	var last line.Event
	begun, over := false, false
	for {
		n, err := r.Read(room[:])
		for _, e := range room[:n] {
			require.False(t, over, "nothing comes after the end")
			require.True(t, !begun || e.At >= last.At, "time does not go backwards")
			last, begun = e, true
			if over = e.Signal == line.NoSignal; !over {
				require.Less(t, int(e.Signal), len(signals))
				require.True(t, e.Level == line.Voltage || signals[e.Signal].Kind == line.CC)
			}
		}
		if errors.Is(err, io.EOF) {
			require.True(t, over, "the end tells its time")
			break
		}
		require.NoError(t, err)
		require.Positive(t, n)
	}
	require.LessOrEqual(t, len(r.Stats().Problems), line.MaxProblems)
}

func FuzzVCD(f *testing.F) {
	f.Add([]byte("$timescale 1us $end $scope module a $end $var wire 1 ! cc $end $upscope $end $enddefinitions $end\n#0\n$dumpvars 1! $end\n#5\n0!\n#9\n"), "")
	f.Add([]byte("$timescale 10 ps $end $var wire 8 a\" probes [7:0] $end $var real 64 r vbus $end #1 b0x1z a\" r5.1 r #0 #2 $dumpoff xa $end"), "probes[3]")
	f.Add([]byte("$timescale 1ns $end $var reg 1 % \\odd.cc $end $comment $end $enddefinitions $end #1 1% 1 # #99999999999999999999 z% $"), "odd.cc")
	f.Fuzz(func(t *testing.T, text []byte, signal string) {
		v, err := line.NewVCD(bytes.NewReader(text), line.Options{Signal: signal})
		if err != nil {
			var unusable *line.UnusableError
			require.ErrorAs(t, err, &unusable)
			require.NotEmpty(t, err.Error())
			return
		}
		drain(t, v)
	})
}

func FuzzCSV(f *testing.F) {
	f.Add([]byte("0,1\n1e-6,0\n\n# x\n2e-6,\n"), "time_s,cc", byte(','))
	f.Add([]byte("0;0,41;0,02;5,1;1e-3\n\"1\";1;2;3;4\n"), "time_us;cc1;cc2;vbus;ibus", byte(';'))
	f.Add([]byte("23:59:59.999999,1\n00:00:00,0\n23:59:59.9,1\n"), "time_s,cc", byte(','))
	f.Add([]byte("2024-02-29 10:00:00,5;0,41\n2024-02-29T10:00:00Z;1\n"), "time_s;cc", byte(';'))
	f.Add([]byte("-1\t1\n-2\t1\n99999999999999999999\t0\n"), "time_s\tcc_v", byte('\t'))
	f.Fuzz(func(t *testing.T, text []byte, header string, delimiter byte) {
		c, err := line.NewCSV(bytes.NewReader(text), layoutOf(header, delimiter), line.Options{RateHz: 1e6})
		if err != nil {
			return
		}
		drain(t, c)
	})
}
