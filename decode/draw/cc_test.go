package draw_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/draw"
)

// Levels at the sink: vRd-USB 0.25 to 0.61 V, vRd-1.5 0.70 to 1.16 V, vRd-3.0 1.31
// to 2.04 V, an open pin below 0.15 V (USB Type-C R2.0 tables 4-35 and 4-36).
func TestCCPins(t *testing.T) {
	tests := []struct {
		name  string
		volts float64
		pins  [2]float64
		want  draw.CC
	}{
		{"3 A on one pin", 20, [2]float64{1.68, 0.02}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"default on the other", 5, [2]float64{0.01, 0.41}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"VBUS on a pin", 20, [2]float64{19.6, 0.4}, draw.CC{On: draw.CCStates{N: 5, High: 5}}},
		{"VBUS on both", 5, [2]float64{4.9, 4.9}, draw.CC{On: draw.CCStates{N: 5, High: 5}}},
		{"VCONN on the other, vVCONNValid: table 4-5", 20, [2]float64{4.9, 0.4}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"a source's pull-up on the other", 20, [2]float64{0.92, 3.3}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"a bridge", 5, [2]float64{0.9, 0.9}, draw.CC{On: draw.CCStates{N: 5, Both: 5}}},
		{"between the levels", 5, [2]float64{1.24, 0}, draw.CC{On: draw.CCStates{N: 5, Between: 5}}},
		{"both at 0 V", 5, [2]float64{0, 0.01}, draw.CC{On: draw.CCStates{N: 5, Low: 5}}},
		{"no Rd", 0.1, [2]float64{3.3, 3.3}, draw.CC{Off: draw.CCStates{N: 5, High: 5}}},
		{"VBUS on its way says nothing", 2.5, [2]float64{0.4, 0}, draw.CC{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			an := draw.New(draw.Options{})
			for i := range 5 {
				an.Add(&captures.Sample{At: time.Duration(i) * time.Second, Volts: tt.volts, CC: tt.pins})
			}
			assert.Equal(t, tt.want, an.Result().CC)
		})
	}
}
