package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
)

// found are the findings of a rule.
func found(name string, builds ...build) []Finding {
	f := Facts{AccuracyV: 1, AccuracyA: 1}
	for _, b := range builds {
		b(&f)
	}
	all, _ := Run(&f)
	var out []Finding
	for _, x := range all {
		if x.Rule == name {
			out = append(out, x)
		}
	}
	return out
}

// TestHum: VBUS that swings with the mains is one finding, and its troughs are no collapses;
// a fall to nothing is one still. Common practice.
func TestHum(t *testing.T) {
	hum := func(f *Facts) {
		f.Draw.Hum = &draw.Hum{StartS: 3, EndS: 20, Hz: 100, AmpV: 1.2, AtA: 0.9, Windows: 80}
	}
	bench := []build{meterLog(30, 20, 1), level(1, 30, 19, 0.9), collapse(5, 20, 16.5, 0.9, number(0.005)), collapse(6, 20, 16.5, 0.9, number(0.005))}
	assert.NotEmpty(t, found("vbus-collapse", bench...), "without the hum they are falls")
	with := append(bench, hum)
	assert.Empty(t, found("vbus-collapse", with...))
	swings := found("vbus-out-of-range", with...)
	require.Len(t, swings, 1)
	assert.Equal(t, 100.0, swings[0].Values["hum_hz"])
	assert.NotEmpty(t, found("vbus-collapse", append(with, collapse(9, 20, 6, 0.9, number(0.8)))...))
}

// TestStallsAlike: an attempt that was cut short before anything was due stands between two
// of one kind and parts them no more than a contract would join them.
func TestStallsAlike(t *testing.T) {
	stalls := func(between negotiation.Step) []Finding {
		return found("contract-stalled", messageList(20, 10), attempt(1, 2, negotiation.StepAnswer), attempt(2, 3, between), attempt(3, 4, negotiation.StepAnswer))
	}
	alike := stalls(negotiation.StepLeft)
	require.Len(t, alike, 1)
	assert.Equal(t, 2, alike[0].Values["attempts"])
	assert.Len(t, stalls(negotiation.StepDone), 2)
}
