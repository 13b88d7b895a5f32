package text

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/location"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// golden compares with a file under testdata, or rewrites it.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.Empty(t, os.Getenv("CI"), "goldens are rewritten by hand, never by CI")
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got))
}

func ref[T any](v T) *T { return &v }

// short20V is a made-up diagnosis: a contract of 20 V, then retry pulses. The
// figures are for the layout only.
func short20V() *decode.Diagnosis {
	d := &decode.Diagnosis{
		Schema: decode.Schema,
		Inputs: []decode.Input{
			{Path: "meter.csv", Kind: "meter", Records: 598, Skipped: 2, StartS: ref(0.0), EndS: ref(12.0), Notes: []string{"time is column 1 (Time[s]), voltage column 2, current column 3"},
				Problems: []decode.Problem{{Line: ref(17), Text: `the current is not a number: found "--.--"`}, {Line: ref(18), Text: "earlier than the row before it"}}},
			{Path: "messages.csv", Kind: "messages", Records: 12, StartS: ref(1.1), EndS: ref(1.4), Problems: []decode.Problem{}, Notes: []string{}},
		},
		Verdict: location.Verdict{
			Location: rules.BehindPort, Probability: 0.87,
			Locations: map[rules.Location]float64{rules.BeforePort: 0.03, rules.AtPort: 0.10, rules.BehindPort: 0.87, rules.Healthy: 0.0004},
			Open:      []rules.Location{rules.BehindPort, rules.AtPort},
			Excluded: []location.Excluded{{Location: rules.BeforePort, Why: "the source keeps 20.1 V through every pulse"},
				{Location: rules.Healthy, Why: "no draw lasts"}},
			Summary: "behind the port: the contract stands at 20 V and the charger circuit starts, trips and tries again into a short of the main rail",
		},
		Findings: []rules.Finding{
			{Rule: "current-spike", Severity: rules.Note, StartS: ref(1.32), EndS: ref(1.33), PointsTo: []rules.Location{rules.BehindPort, rules.Healthy}, Text: "the current leaps from 10 mA to 0.31 A at 1.32 s for 10.0 ms", FromMeter: true},
			{Rule: "retry-pulses", Severity: rules.Fault, StartS: ref(2.1), EndS: ref(5.2), PointsTo: []rules.Location{rules.BehindPort}, Text: "7 pulses of up to 0.52 A from 2.10 s to 5.20 s", FromMeter: true, Source: "charger data sheet SLUSDU3"},
			{Rule: "no-draw-at-contract", Severity: rules.Warning, StartS: ref(5.2), EndS: ref(12.0), PointsTo: []rules.Location{rules.AtPort, rules.BehindPort}, Text: "20.10 V stand for 6.80 s and 4 mA is drawn, which a meter cannot tell from nothing", FromMeter: true},
		},
		Negotiation: &negotiation.Result{
			AttachS: ref(1.0), Messages: 12,
			Phases: []negotiation.Phase{{Phase: "source-capabilities", StartS: ref(1.0), EndS: ref(1.12), LimitS: ref(0.25), Limit: "tFirstSourceCap"}, {Phase: "power-ready", StartS: ref(1.13), EndS: ref(1.28), Late: true}},
			Offers: []negotiation.Offer{{Position: 1, Kind: "fixed", VoltageMV: ref(5000), CurrentMA: ref(3000)}, {Position: 2, Kind: "fixed", VoltageMV: ref(20000), CurrentMA: ref(3250)},
				{Position: 3, Kind: "pps", VoltageMV: ref(21000), MinVoltageMV: ref(3300), CurrentMA: ref(3000)}},
			Contracts: []negotiation.Contract{{StartS: ref(1.28), Kind: "fixed", Position: 2, VoltageMV: ref(20000), CurrentMA: ref(3250)}},
		},
		Draw:   &draw.Result{Sampling: draw.Sampling{N: 598}},
		Clock:  decode.Clock{OffsetS: ref(0.0), UncertaintyS: ref(0.0), Method: "stated"},
		Clocks: []decode.InputClock{{Path: "meter.csv", OffsetS: ref(0.0), UncertaintyS: ref(0.0), Method: "stated"}, {Path: "messages.csv", OffsetS: ref(0.0), UncertaintyS: ref(0.0), Method: "reference"}},
		Suspects: []location.Suspect{
			{Part: "main-rail-short", Location: ref(rules.BehindPort), Probability: 0.71, Why: "the charger circuit retries every 510 ms", Confirm: "main rail below 5 ohm"},
			{Part: "charger-circuit", Location: ref(rules.BehindPort), Probability: 0.16, Why: "the same pulses", Confirm: "main rail sound, charger input sound"},
			{Part: "unknown", Probability: 0.02},
		},
		Next: []location.Test{
			{Test: "main rail to ground, in ohms", Reading: ref("main-rail-ohm"), GainBits: 0.61, Minutes: 3, Caution: ref("wall charger unplugged, battery out"),
				Expect: map[rules.Location]string{rules.AtPort: "above 50 ohm, as on a sound board", rules.BehindPort: "below 5 ohm", rules.BeforePort: "above 50 ohm"}},
			{Test: "the same port with a charger known to be good", Reading: ref("known-good-charger"), GainBits: 0.04, Minutes: 2, Expect: map[rules.Location]string{}},
		},
		Locate: []location.Step{
			{Step: "look at the main rail under magnification", Minutes: 5, Expect: "a cracked or discoloured capacitor"},
			{Step: "inject into the main rail", Reading: ref("main-rail-ohm"), Minutes: 10, Expect: "one part gets warm", Limits: map[string]float64{"start_v": 0.5, "current_a": 1}, Caution: ref("never above the rail's own voltage")},
		},
		Measured: draw.Measured{RetryPeriodS: &draw.Quantity{Value: 0.5103, Uncertainty: ref(0.004), AtS: ref(2.1)}},
		NotSeen:  []string{"what the CC line looked like: only messages were recorded"},
	}
	d.Draw.Plateaus = []draw.Plateau{{StartS: 0, EndS: 1, VoltageV: ref(0.01), CurrentA: ref(0.0)}, {StartS: 5.2, EndS: 12, VoltageV: ref(20.1), CurrentA: ref(0.004)}}
	d.Draw.Pulses = []draw.Pulses{{StartS: 2.1, EndS: 5.2, Count: 7, PeriodS: ref(0.5103), OnS: ref(0.0101), PeakA: 0.52}}
	d.Draw.Gaps = []draw.Gap{{StartS: 8, EndS: 9}}
	d.Draw.Trace = trace()
	return d
}

func trace() []draw.Bin {
	var bins []draw.Bin
	for i := range 600 {
		s := float64(i) * 0.02
		if s >= 8 && s < 9 {
			continue
		}
		b := draw.Bin{StartS: s, EndS: s, MinV: 5.1, MaxV: 5.12, MinA: 0.01, MaxA: 0.012, N: 1}
		if s < 1 {
			b.MinV, b.MaxV = 0.01, 0.02
		}
		if s > 1.28 {
			b.MinV, b.MaxV = 20.05, 20.1
		}
		if s > 2.1 && s < 5.2 && math.Mod(s-2.1, 0.51) < 0.02 {
			b.MaxA = 0.52
		}
		bins = append(bins, b)
	}
	return bins
}

func print80(t *testing.T, d *decode.Diagnosis, look Look) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, Diagnosis(&out, d, Options{Look: look, Command: "portside diagnose meter.csv messages.csv"}))
	return out.String()
}

func TestDiagnosisPage(t *testing.T) {
	golden(t, "pipe.txt", []byte(print80(t, short20V(), Look{})))
	golden(t, "screen.txt", []byte(print80(t, short20V(), Look{Unicode: true, Width: 80})))
}

func TestPipeIsPlain(t *testing.T) {
	for i, line := range strings.Split(print80(t, short20V(), Look{}), "\n") {
		assert.LessOrEqual(t, columns(line), 80, "line %d: %s", i+1, line)
		for _, r := range line {
			assert.True(t, r >= ' ' && r < 0x7f, "line %d holds %q", i+1, r)
		}
	}
}

// Every word of the plain page stands on the terminal's page too.
func TestSameFactsInEveryLook(t *testing.T) {
	letters := func(s string) string {
		return strings.Join(strings.FieldsFunc(s, func(r rune) bool {
			return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.')
		}), " ")
	}
	plain := print80(t, short20V(), Look{})
	screen := print80(t, short20V(), Look{Unicode: true})
	assert.Equal(t, letters(plain), letters(screen))
}
