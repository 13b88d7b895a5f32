package compare_test

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/demo"
	"portside/decode"
	"portside/decode/compare"
	"portside/decode/draw"
	"portside/decode/location"
	"portside/decode/negotiation"
	"portside/decode/probe"
	"portside/decode/rules"
)

// recorded diagnoses a recording that comes with the program.
func recorded(t *testing.T, name string, readings ...string) compare.Recording {
	t.Helper()
	parsed, err := probe.ParseReadings(readings)
	require.NoError(t, err)
	r, err := demo.Recording(name)
	require.NoError(t, err)
	e := decode.NewEngine(decode.Options{Readings: parsed})
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			return compare.Recording{Diagnosis: e.Diagnose(r.Stats(), r.Clocks()), Readings: parsed}
		}
		require.NoError(t, err)
		e.Take(record)
	}
}

func TestVerdicts(t *testing.T) {
	tests := []struct {
		name          string
		before, after compare.Recording
		want          compare.Verdict
		says          string
	}{
		{"a short that is gone", recorded(t, "hard-short-main-rail"), recorded(t, "sound-charging"), compare.Repaired, "reaches 1.94 A and stays; before, it drew 8 short pulses"},
		{"a staircase that is gone", recorded(t, "staircase-collapse"), recorded(t, "sound-charging"), compare.Repaired, "before, the draw climbed and collapsed 6 times"},
		{"a port that speaks again", recorded(t, "dead-port-controller"), recorded(t, "sound-charging"), compare.Repaired, "before, no contract above 5 V was made"},
		{"the same short again", recorded(t, "hard-short-main-rail"), recorded(t, "hard-short-main-rail"), compare.Unchanged, "on both sides it drew 8 short pulses"},
		{"another fault, which leaves the first one open", recorded(t, "hard-short-main-rail"), recorded(t, "weak-charger"), compare.Unchanged, "likely another fault: before the port now, behind the port before"},
		{"two sound machines", recorded(t, "sound-charging"), recorded(t, "sound-boot"), compare.Unchanged, "the draw at 20 V"},
		{"sound before, dead after", recorded(t, "sound-charging"), recorded(t, "dead-port-controller"), compare.Worse, "no contract above 5 V was made"},
		{
			"a short still read after the repair", recorded(t, "hard-short-main-rail"), recorded(t, "sound-charging", "vbus-ohm=0.4ohm"),
			compare.Improved, "vbus-ohm=0.4ohm still reads as a short",
		},
		{"no messages on one side: VBUS shows the contract", recorded(t, "hard-short-main-rail"), meterOnly(t, "sound-charging"), compare.Repaired, "at 19.7 V reaches"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := compare.Compare(tt.before, tt.after)
			assert.Equal(t, tt.want, c.Verdict, c.Summary)
			assert.Contains(t, c.Summary, tt.says)
			raw, err := json.Marshal(c)
			require.NoError(t, err)
			assert.NotContains(t, string(raw), `"changes":null`)
			for _, x := range c.Changes {
				assert.NotEmpty(t, x.Meaning, x.What)
			}
		})
	}
}

// meterOnly is a recording without its messages.
func meterOnly(t *testing.T, name string) compare.Recording {
	t.Helper()
	r := recorded(t, name)
	d := *r.Diagnosis
	d.Negotiation = negotiation.New(negotiation.Options{}).Result()
	d.Clock = decode.Clock{}
	r.Diagnosis = &d
	return r
}

// built is a diagnosis with one contract, for the conditions of a comparison.
func built(where rules.Location, healthy float64, kind string, volts, endS float64) compare.Recording {
	start, last, mv, offset := 1.0, 1.0, int(1000*volts), 0.0
	n := negotiation.New(negotiation.Options{}).Result()
	n.Messages, n.FirstS, n.LastS = 8, &start, &last
	n.Contracts = []negotiation.Contract{{StartS: &start, Kind: kind, VoltageMV: &mv}}
	d := draw.New(draw.Options{}).Result()
	d.Sampling = draw.Sampling{N: 100, EndS: endS, IntervalS: 0.1}
	return compare.Recording{Diagnosis: &decode.Diagnosis{
		Verdict:     location.Verdict{Location: where, Locations: map[rules.Location]float64{rules.Healthy: healthy}},
		Negotiation: n, Draw: d, Clock: decode.Clock{OffsetS: &offset},
	}}
}

func TestConditions(t *testing.T) {
	sick := func(kind string, volts, endS float64) compare.Recording {
		return built(rules.BehindPort, 0.01, kind, volts, endS)
	}
	sound := func(kind string, volts, endS float64) compare.Recording {
		return built(rules.Healthy, 0.9, kind, volts, endS)
	}
	tests := []struct {
		name          string
		before, after compare.Recording
		want          compare.Verdict
		says          string
	}{
		{"same kind, long enough", sick("fixed", 20, 5), sound("fixed", 20, 5), compare.Repaired, ""},
		{"another fixed voltage is the same kind", sick("fixed", 9, 5), sound("fixed", 20, 5), compare.Repaired, ""},
		{"after ends 0.9 s after its contract", sick("fixed", 20, 5), sound("fixed", 20, 1.9), compare.NotComparable, "from after ends less than 1 s"},
		{"before ends 0.9 s after its contract", sick("fixed", 20, 1.9), sound("fixed", 20, 5), compare.NotComparable, "from before ends less than 1 s"},
		{"fixed against PPS", sick("fixed", 20, 5), sound("pps", 20, 5), compare.NotComparable, "adjustable"},
		{"PPS against AVS is one kind", sick("pps", 15, 5), sound("spr-avs", 15, 5), compare.Repaired, ""},
		{"fixed against EPR", sick("fixed", 20, 5), sound("fixed", 28, 5), compare.NotComparable, "extended power range"},
		{"EPR AVS against EPR fixed", sick("epr-avs", 28, 5), sound("fixed", 28, 5), compare.Repaired, ""},
		{"not settled before", built(rules.Undetermined, 0.2, "fixed", 20, 5), sound("fixed", 20, 5), compare.Improved, "not shown to be repaired"},
		{"not settled after", sick("fixed", 20, 5), built(rules.Undetermined, 0.4, "fixed", 20, 5), compare.Improved, "leaves a fault open; record again"},
		{"faulty before, on a side unknown", built(rules.Undetermined, 0.04, "fixed", 20, 5), sound("fixed", 20, 5), compare.Repaired, ""},
		{"perhaps nothing wrong before", built(rules.Undetermined, 0.06, "fixed", 20, 5), sound("fixed", 20, 5), compare.Improved, "leaves open that nothing was wrong"},
		{"less wrong, and still wrong", sick("fixed", 20, 5), built(rules.BehindPort, 0.3, "fixed", 20, 5), compare.Improved, "reads faulty behind the port"},
		{"another fault", sick("fixed", 20, 5), built(rules.BeforePort, 0.01, "fixed", 20, 5), compare.Unchanged, "it is another fault: before the port now, behind the port before"},
		{"less sound than before", sound("fixed", 20, 5), built(rules.Undetermined, 0.4, "fixed", 20, 5), compare.Worse, ""},
		{"no real difference", built(rules.Undetermined, 0.4, "fixed", 20, 5), built(rules.Undetermined, 0.5, "fixed", 20, 5), compare.Unchanged, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := compare.Compare(tt.before, tt.after)
			assert.Equal(t, tt.want, c.Verdict, c.Summary)
			assert.Contains(t, c.Summary, tt.says)
		})
	}
}

// The uncertainty of a difference is the root of the sum of squares: 1 % of
// 20 V is a limit of 0.2 V and a standard uncertainty of 0.115 V (JCGM
// 100:2008, 4.3.7); two of these make 0.163 V.
func TestUncertaintyOfADifference(t *testing.T) {
	c := compare.Compare(recorded(t, "hard-short-main-rail"), recorded(t, "hard-short-main-rail"))
	for _, x := range c.Changes {
		if x.What == "VBUS at the contract" {
			require.NotNil(t, x.Uncertainty)
			assert.InDelta(t, 0.1636, *x.Uncertainty, 0.0005)
			return
		}
	}
	t.Fatal("no VBUS at the contract")
}

func TestReadingsStandInTheChanges(t *testing.T) {
	c := compare.Compare(
		recorded(t, "hard-short-main-rail", "main-rail-ohm=0.4ohm", "repeat=same"),
		recorded(t, "sound-charging", "main-rail-ohm=open"))
	found := 0
	for _, x := range c.Changes {
		switch x.What {
		case "main-rail-ohm":
			found++
			assert.Equal(t, "ohm", x.Unit)
			assert.InDelta(t, 0.4, x.Before, 1e-12)
			assert.Contains(t, []any{"open", math.Inf(1)}, x.After)
		case "repeat":
			found++
			assert.Equal(t, "same", x.Before)
			assert.Nil(t, x.After)
		}
	}
	assert.Equal(t, 2, found)
	_, err := json.Marshal(c)
	assert.NoError(t, err)
}

// A warning keeps a repair from being shown where it points to a side that was open
// before; a small charger does not where it offered nothing before.
func TestWarningsAfterARepair(t *testing.T) {
	tests := []struct {
		name    string
		was     rules.Location
		finding rules.Finding
		silent  bool // no contract before
		want    compare.Verdict
	}{
		{"a lossy cable after a short behind the port", rules.BehindPort, rules.Finding{Rule: "series-resistance-high", PointsTo: []rules.Location{rules.BeforePort, rules.AtPort}}, false, compare.Repaired},
		{"a lossy cable after a bad cable", rules.BeforePort, rules.Finding{Rule: "series-resistance-high", PointsTo: []rules.Location{rules.BeforePort, rules.AtPort}}, false, compare.Improved},
		{"a small charger that offered more before", rules.BeforePort, rules.Finding{Rule: "capability-mismatch", PointsTo: []rules.Location{rules.BeforePort}}, false, compare.Improved},
		{"a small charger where none was heard before", rules.BeforePort, rules.Finding{Rule: "capability-mismatch", PointsTo: []rules.Location{rules.BeforePort}}, true, compare.Repaired},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			before, after := built(tt.was, 0.01, "fixed", 20, 5), built(rules.Healthy, 0.9, "fixed", 20, 5)
			if tt.silent {
				before.Diagnosis.Negotiation.Contracts = nil
			}
			tt.finding.Severity = rules.Warning
			after.Diagnosis.Findings = []rules.Finding{tt.finding}
			c := compare.Compare(before, after)
			assert.Equal(t, tt.want, c.Verdict, c.Summary)
		})
	}
}

func TestAShortThatIsGoneIsSaid(t *testing.T) {
	c := compare.Compare(recorded(t, "hard-short-main-rail", "main-rail-ohm=0.4ohm"), recorded(t, "sound-charging", "main-rail-ohm=3.2kohm"))
	assert.Equal(t, compare.Repaired, c.Verdict)
	assert.Contains(t, c.Summary, "main-rail-ohm reads 3.2kohm now, 0.4ohm before")
}
