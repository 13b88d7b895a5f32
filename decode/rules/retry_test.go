package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
)

// Periods and on-times of the documents name their own part first; one that none of
// them states names none for sure.
func TestRetryFamilies(t *testing.T) {
	of := func(period, on float64) draw.Pulses {
		u := 0.002 * period
		p := draw.Pulses{PeriodS: &period, PeriodU: &u}
		if on > 0 {
			p.OnS = &on
		}
		return p
	}
	tests := []struct {
		name       string
		period, on float64
		want       string
		source     string
	}{
		{"10 ms each 510 ms", 0.510, 0.010, "as a charger circuit in hiccup", "data sheet SLUSDU3"},
		{"2 ms each 265 ms", 0.265, 0.002, "as a 5 V regulator or a load switch", "data sheet SLVSEG3E"},
		{"each 985 ms", 0.985, 0, "as a source that trips", "data sheet SLVSDJ5D"},
		{"30 ms each 2 s", 2.0, 0.030, "a charger circuit that tests for a poor source", "data sheet SLUSDL3A"},
		{"each 32 ms", 0.032, 0, "as a 5 V boost converter", "data sheet SLUSBP6D"},
		{"each 560 ms: between two", 0.560, 0, "or an electronic fuse", "data sheets SLUSDU3, SLVSGF4B"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.Contains(t, retryWords(of(tt.period, tt.on)), tt.want, tt.source)
		})
	}
	assert.Empty(t, retryWords(of(0.06, 0)), "no document has 60 ms")
	standing := of(0.985, 0)
	standing.VoltageV, standing.MinV = 20, 19.6
	assert.NotContains(t, retryWords(standing), "a source that trips", "VBUS goes off for tSrcRecover: USB PD R3.2 V1.1 table 7.23")
	standing.MinV = 0.3
	assert.Contains(t, retryWords(standing), "a source that trips")
	assert.Empty(t, retryWords(draw.Pulses{}))
	for _, period := range []float64{0.02, 0.11, 0.3, 0.5, 0.8, 1.2, 2, 3} {
		sum := 0.0
		for _, s := range retryShares(of(period, 0.01)) {
			sum += s.share
		}
		assert.LessOrEqual(t, sum, 1.0)
	}
}

// 10 ms of 0.5 A (data sheet SLUSDU3) are 10 mA in the mean of half a second and 0.5 A in rows
// of a millisecond; what stays far below that is no try.
func TestLeastPulse(t *testing.T) {
	assert.InDelta(t, 0.005, leastPulse(0.5), 1e-12)
	assert.InDelta(t, 0.025, leastPulse(0.1), 1e-12)
	assert.InDelta(t, 0.05, leastPulse(0.001), 1e-12)
}
