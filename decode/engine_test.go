package decode

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/probe"
	"portside/decode/rules"
)

// steady feeds a meter log that stands at one voltage and current.
func steady(e *Engine, seconds int, volts, amps float64) {
	for i := range seconds * 10 {
		e.Sample(&captures.Sample{
			At: time.Duration(i) * 100 * time.Millisecond, Volts: volts, Amps: amps,
			CC: [2]float64{math.NaN(), math.NaN()}, Line: i + 2,
		})
	}
}

func TestDiagnosisHasEveryFieldAndNoNullArray(t *testing.T) {
	e := NewEngine(Options{})
	steady(e, 20, 5.1, 0.01)
	d := e.Diagnose([]captures.Stats{{Path: "log.csv", Kind: captures.KindMeter, Samples: true, Records: 200, End: 20 * time.Second}}, nil)
	raw, err := json.Marshal(d)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(raw, &doc))
	for _, key := range []string{"inputs", "findings", "clocks", "suspects", "next", "locate", "not_seen"} {
		assert.IsType(t, []any{}, doc[key], key)
	}
	for key, lists := range map[string][]string{
		"negotiation": {"phases", "offers", "contracts"},
		"draw":        {"plateaus", "spikes", "staircases", "pulses", "tapers", "profile"},
		"verdict":     {"open", "excluded"},
	} {
		for _, list := range lists {
			assert.IsType(t, []any{}, doc[key].(map[string]any)[list], key+"."+list)
		}
	}
	for _, key := range []string{"series_resistance_ohm", "load_exponent", "leak_resistance_ohm", "retry_period_s", "taper_tau_s", "inrush_charge_c"} {
		assert.Contains(t, doc["measured"], key)
	}
	assert.Equal(t, Schema, doc["schema"])
	assert.Nil(t, doc["line"])
}

func TestLocationsAddUpToOne(t *testing.T) {
	e := NewEngine(Options{})
	steady(e, 20, 5.1, 0.01)
	v := e.Diagnose(nil, nil).Verdict
	sum := 0.0
	for _, l := range []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy} {
		require.Contains(t, v.Locations, l)
		sum += v.Locations[l]
	}
	assert.InDelta(t, 1, sum, 1e-9)
}

// A quiet 5 V on a meter alone can be a dead controller, a latched charger or
// a weak source: common practice. No one of them may be named.
func TestQuiet5VAloneIsUndetermined(t *testing.T) {
	e := NewEngine(Options{})
	steady(e, 30, 5.1, 0.005)
	d := e.Diagnose(nil, nil)
	assert.Equal(t, rules.Undetermined, d.Verdict.Location)
	assert.Contains(t, d.Verdict.Open, rules.AtPort)
	assert.Contains(t, d.Verdict.Open, rules.BehindPort)
	assert.NotEmpty(t, d.Next)
}

// Going on after a diagnosis gives what one run gives.
func TestDiagnoseInTheMiddleChangesNothing(t *testing.T) {
	whole, parts := NewEngine(Options{}), NewEngine(Options{})
	for i := range 600 {
		s := &captures.Sample{At: time.Duration(i) * 50 * time.Millisecond, Volts: 20, Amps: 0.1 + 0.002*float64(i%7), CC: [2]float64{math.NaN(), math.NaN()}}
		if i > 300 {
			s.Amps += 1.5
		}
		whole.Sample(s)
		parts.Sample(s)
		if i%97 == 0 {
			parts.Diagnose(nil, nil)
		}
	}
	want, err := json.Marshal(whole.Diagnose(nil, nil))
	require.NoError(t, err)
	got, err := json.Marshal(parts.Diagnose(nil, nil))
	require.NoError(t, err)
	assert.JSONEq(t, string(want), string(got))
}

func TestReadingsAlone(t *testing.T) {
	reading, err := probe.ParseReading("main-rail-ohm=0.3ohm")
	require.NoError(t, err)
	d := NewEngine(Options{Readings: []probe.Reading{reading}}).Diagnose(nil, nil)
	// A main rail of 0.3 ohm is a hard short: common practice (below 5 ohm).
	assert.Equal(t, rules.BehindPort, d.Verdict.Location)
	assert.NotEmpty(t, d.Locate)
}

// Clocks that nobody aligned leave the offset unknown, and each finding says
// whose time it tells.
func TestUnalignedClocksNameTheInput(t *testing.T) {
	e := NewEngine(Options{})
	steady(e, 20, 5.1, 0.01)
	zero := time.Duration(0)
	d := e.Diagnose(
		[]captures.Stats{{Path: "meter.csv", Kind: captures.KindMeter, Samples: true, Records: 200}, {Path: "list.csv", Kind: captures.KindMessages, Messages: true}},
		[]captures.Clock{{Path: "meter.csv"}, {Path: "list.csv", Offset: &zero, Reference: true}},
	)
	assert.Nil(t, d.Clock.OffsetS)
	require.NotEmpty(t, d.Findings)
	for _, f := range d.Findings {
		assert.NotNil(t, f.Input, f.Rule)
	}
}

// What is said of a recording afterwards counts as what was said before it.
func TestOptionsAfterwards(t *testing.T) {
	readings, err := probe.ParseReadings([]string{"main-rail-ohm=0.4ohm", "known-good-charger=same"})
	require.NoError(t, err)
	stats := []captures.Stats{{Path: "log.csv", Kind: captures.KindMeter, Samples: true, Records: 200, End: 20 * time.Second}}
	fine := 0.1
	for name, o := range map[string]Options{
		"readings": {Readings: readings},
		"meter":    {MeterAt: "device", AccuracyV: &fine, AccuracyA: &fine},
		"nothing":  {},
	} {
		t.Run(name, func(t *testing.T) {
			before, after := NewEngine(o), NewEngine(Options{Readings: readings[:1], MeterAt: "source"})
			steady(before, 20, 5.1, 0.01)
			steady(after, 20, 5.1, 0.01)
			first := after.Diagnose(stats, nil)
			after.SetOptions(o)
			want, err := json.Marshal(before.Diagnose(stats, nil))
			require.NoError(t, err)
			got, err := json.Marshal(after.Diagnose(stats, nil))
			require.NoError(t, err)
			assert.JSONEq(t, string(want), string(got))
			if name == "readings" {
				assert.NotEqual(t, first.Verdict.Locations, after.Diagnose(stats, nil).Verdict.Locations)
			}
		})
	}
}
