package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/signs/build"
)

// What was seen folds with the chance to have seen it: a meter of one sample
// a second sees one of seven pulses of 10 ms in 6.8 % of the cases, two
// samples a second per pulse 2 %, and 100 a second all of them. source: 1 -
// (1 - w/T)^n, computed apart.
func TestSamplingOfAHiccup(t *testing.T) {
	tests := []struct{ hz, sees float64 }{{1, 0.068}, {2, 0.132}, {10, 0.522}, {50, 0.9922}, {100, 1}}
	for _, tt := range tests {
		_, _, none := briefs()[DrawCharger].hits(build.Sampling(tt.hz, 60))
		assert.InDelta(t, tt.sees, 1-none, 1e-3, "%g Hz", tt.hz)
	}
}
