package location

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
	"portside/decode/signs/build"
)

// What a source makes that does not regulate is no riddle: nothing else moves VBUS, or holds it
// below 5 V, while 20 mA flow (each Rp promises 0.5 A and more: USB Type-C R2.0 table 4-25).
func TestSourcesThatDoNotRegulate(t *testing.T) {
	for name, signal := range map[string]func(float64) (float64, float64){
		"3 V": build.SteadyAt(3, 0.02),
		"2.6 V from 1 s on": func(t float64) (float64, float64) {
			if t < 1 {
				return 0, 0
			}
			return 2.6, 0.001
		},
		"18 V and 2 V up and down of it": func(t float64) (float64, float64) { return 18 + 2*math.Sin(2*math.Pi*5*t), 0.02 },
	} {
		for _, hz := range []float64{4, 100} {
			if hz < 10 && name[0] == '1' {
				continue // a row that long is a mean of it
			}
			got := Locate(evidence(t, nil, build.Logged(hz, signal))).Verdict
			assert.Equal(t, rules.BeforePort, got.Location, "%s at %g Hz: %v", name, hz, got.Locations)
		}
	}
}

// What no source, cable and machine makes ends with the unknown, whatever the rules
// find in it; a cold reading still finds the fault.
func TestStrangeRecordings(t *testing.T) {
	for _, c := range []struct {
		name   string
		signal func(t float64) (volts, amps float64)
		source string
	}{
		{"400 V", build.SteadyAt(400, 2), "48 V is the highest contract: USB PD R3.2 V1.1 table 10.12"},
		{"the leads turned round", build.SteadyAt(-20, 1.5), "VBUS is above ground"},
		{"voltage and current in each other's column", build.SteadyAt(1.5, 20), "5 A is the most a cable carries: USB Type-C R2.0 section 4.4.1"},
		{"3 V from the first row on, and nothing flows", build.SteadyAt(3, 0), "what is left in capacitors, or between vSafe0V and the lowest contract: USB PD R3.2 V1.1 table 7.24"},
		{"3 V and 0.2 A", build.SteadyAt(3, 0.2), "between vSafe0V and the lowest contract: USB PD R3.2 V1.1 table 7.24; no source limits at 0.2 A: common practice"},
		{"2 A without VBUS", build.SteadyAt(0, 2), "current has a voltage behind it"},
		{"a sine", func(t float64) (float64, float64) { return 10 + 10*math.Sin(1.1*t), 1.5 + 1.5*math.Sin(0.7*t) }, "VBUS settles within tSrcSettle, 0.275 s: USB PD R3.2 V1.1 table 7.23"},
		{"a sawtooth up to 50 V", func(t float64) (float64, float64) { return 50 * math.Mod(t/7, 1), 3 * math.Mod(t/7, 1) }, "as above"},
		{"mains", func(t float64) (float64, float64) { return 325 * math.Sin(314.159*t), math.Sin(314.159 * t) }, "as above"},
		{"noise", func() func(float64) (float64, float64) {
			random := rand.New(rand.NewPCG(1, 2))
			return func(float64) (float64, float64) { return 25 * random.Float64(), 5 * random.Float64() }
		}(), "as above"},
		{"a walk", build.Walk(1, 1), "as above"},
	} {
		for _, hz := range []float64{10, 100} {
			facts := build.Logged(hz, c.signal)
			if hz == 100 && c.name == "mains" {
				continue // two of its rows a period are always at zero
			}
			got := Locate(evidence(t, nil, facts))
			assert.Equal(t, rules.Undetermined, got.Verdict.Location, "%s at %g Hz", c.name, hz)
			assert.Equal(t, unknownPart, got.Suspects[0].Part, "%s at %g Hz", c.name, hz)
			assert.Contains(t, got.Suspects[0].Why, "no modelled fault explains", c.name)
			assert.Contains(t, got.Verdict.Summary, "not in this model", c.name)
			require.NotEmpty(t, got.NotSeen, c.name)
			read := Locate(evidence(t, []string{"main-rail-ohm=0.4ohm", "main-rail-diode-v=0V"}, facts))
			assert.Equal(t, rules.BehindPort, read.Verdict.Location, "%s at %g Hz", c.name, hz)
			at := slices.IndexFunc(read.Suspects, func(s Suspect) bool { return s.Part == unknownPart })
			assert.NotContains(t, read.Suspects[at].Why, "which no modelled fault explains", "%s: a short does", c.name)
		}
	}
}
