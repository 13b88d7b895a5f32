package draw_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/draw"
)

// TestColdTries: a short of 0.3 ohm holds 3 A at 0.9 V (Ohm's law); 10 uF are at 5 V after 50
// uC, and what stands behind the switches draws nothing before there is a voltage (common
// practice).
func TestColdTries(t *testing.T) {
	type row struct{ volts, amps float64 }
	off, fed := []row{{0, 0}, {0.02, 0}}, []row{{5, 0.01}, {20, 1}}
	short, fills := []row{{0.9, 3}, {0.9, 3}}, []row{{1.5, 0.8}, {4.9, 0.1}, {5, 0.01}}
	tests := []struct {
		name  string
		parts [][]row
		want  int
	}{
		{"a source tries three times", [][]row{off, short, off, short, off, short, off}, 3},
		{"each try in one row of 5 ms", [][]row{off, short[:1], off, short[:1], off}, 2},
		{"after a run", [][]row{off, fills, fed, off, short, off}, 1},
		{"VBUS is crushed and was not off before", [][]row{off, fills, fed, short, off}, 0},
		{"an input fills", [][]row{off, fills, off, fills, off}, 0},
		{"1.2 ohm hold 3.1 A at 3.7 V", [][]row{off, {{0.7, 0.6}, {3.7, 3.1}, {1.5, 1.2}}, off, {{3, 2.5}, {2.9, 2.4}}, off}, 2},
		{"VBUS passes 3.7 V on its way", [][]row{off, {{0.7, 0.6}, {3.7, 0.6}, {5, 0.01}}, off}, 0},
		{"VBUS comes up under a load", [][]row{off, {{0.7, 0.6}, {5, 2}, {5.1, 2}}, off}, 0},
		{"too little for a short", [][]row{off, {{0.9, 0.1}}, off}, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			an := draw.New(draw.Options{})
			i := 0
			for _, part := range tt.parts {
				for _, r := range part {
					an.Add(&captures.Sample{At: time.Duration(i) * 5 * time.Millisecond, Volts: r.volts, Amps: r.amps})
					i++
				}
			}
			for range 2000 { // a long rest goes through in sums
				an.Add(&captures.Sample{At: time.Duration(i) * 5 * time.Millisecond})
				i++
			}
			assert.Equal(t, tt.want, an.Result().Cold.Count)
		})
	}
}
