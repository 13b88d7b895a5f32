package decode_test

import (
	"encoding/json"
	"errors"
	"io"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/demo"
	"portside/decode"
	"portside/decode/rules"
)

func diagnose(t *testing.T, name string) *decode.Diagnosis {
	t.Helper()
	r, err := demo.Recording(name)
	require.NoError(t, err)
	e := decode.NewEngine(decode.Options{})
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			return e.Diagnose(r.Stats(), r.Clocks())
		}
		require.NoError(t, err)
		e.Take(record)
	}
}

// Each recording that comes with the program was simulated with a known
// fault. Its verdict names that location or leaves it open.
func TestDemoRecordings(t *testing.T) {
	for _, info := range demo.List() {
		t.Run(info.Name, func(t *testing.T) {
			d := diagnose(t, info.Name)
			if d.Verdict.Location != rules.Undetermined {
				assert.EqualValues(t, info.Location, d.Verdict.Location)
			}
			assert.True(t, slices.Contains(d.Verdict.Open, rules.Location(info.Location)), "open: %v", d.Verdict.Open)
			if d.Verdict.Location == rules.Healthy {
				for _, f := range d.Findings {
					assert.NotEqual(t, rules.Fault, f.Severity, f.Rule)
				}
			}
			raw, err := json.Marshal(d)
			require.NoError(t, err)
			assert.NotContains(t, string(raw), ":null]")
		})
	}
}

// The clocks of the two recorders are found to the uncertainty that is stated,
// wherever both saw VBUS move.
func TestDemoClocks(t *testing.T) {
	determined := 0
	for _, info := range demo.List() {
		clock := diagnose(t, info.Name).Clock
		if clock.OffsetS == nil || clock.Method == "reference" {
			continue
		}
		determined++
		raw, err := demo.Truth(info.Name)
		require.NoError(t, err)
		var truth struct {
			Parameters struct {
				ClockOffsetS float64 `json:"clock_offset_s"`
			} `json:"parameters"`
		}
		require.NoError(t, json.Unmarshal(raw, &truth))
		assert.InDelta(t, truth.Parameters.ClockOffsetS, *clock.OffsetS, 2**clock.UncertaintyS, info.Name)
		assert.Less(t, *clock.UncertaintyS, 0.15, info.Name)
		assert.NotEmpty(t, clock.Matched, info.Name)
	}
	assert.Greater(t, determined, 10)
}
