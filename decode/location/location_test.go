package location

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
)

func TestParseReading(t *testing.T) {
	good := map[string]float64{
		"main-rail-ohm=0.8ohm": 0.8, "main-rail-ohm=800mohm": 0.8, "vbus-ohm=4.7kohm": 4700, "vbus-ohm=1.2Mohm": 1.2e6,
		"cc1-ohm=open": math.Inf(1), "cc1-ohm=short": 0, "display-a=20mA": 0.02, "main-rail-diode-v=0.45V": 0.45, "charger-label-w=65W": 65,
	}
	for text, want := range good {
		r, err := ParseReading(text)
		require.NoError(t, err, text)
		if math.IsInf(want, 1) {
			assert.True(t, math.IsInf(r.Value, 1), text)
			continue
		}
		assert.InDelta(t, want, r.Value, 1e-12, text)
	}
	for _, text := range []string{
		"main-rail-ohm=0.8", "main-rail-ohm=0.8V", "main-rail-ohm=NaNohm", "main-rail-ohm=-1ohm", "main-rail-ohm=0x10ohm",
		"nothing=1ohm", "known-good-charger=maybe", "display-pattern=", "main-rail-ohm", "display-v=open5V",
	} {
		_, err := ParseReading(text)
		var bad *ReadingError
		assert.ErrorAs(t, err, &bad, text)
	}
}

// A worked example with invented likelihoods: prior .20 .25 .45 .10 and
// likelihoods .10 .30 .60 .05 give .0541 .2027 .7297 .0135 by Bayes' rule; the
// best test then tells .4413 bit (computed apart from this code).
func TestWorkedPosteriorAndGain(t *testing.T) {
	p := []float64{0.20 * 0.10, 0.25 * 0.30, 0.45 * 0.60, 0.10 * 0.05}
	normalise(p)
	for i, want := range []float64{0.0541, 0.2027, 0.7297, 0.0135} {
		assert.InDelta(t, want, p[i], 5e-5)
	}
	assert.InDelta(t, 1.1099, entropyBits(p), 5e-5)
	yes := []float64{0.01, 0.05, 0.85, 0.01}
	no := []float64{0.99, 0.95, 0.15, 0.99}
	assert.InDelta(t, 0.4413, expectedGainBits(p, [][]float64{yes, no}, []int{0, 1, 2, 3}, 4), 5e-5)
	assert.InDelta(t, 0.3973, expectedGainBits([]float64{0.5, 0.5}, [][]float64{{0.9, 0.2}, {0.1, 0.8}}, []int{0, 1}, 2), 5e-5)
}

func given(t *testing.T, texts ...string) []Reading {
	t.Helper()
	var out []Reading
	for _, text := range texts {
		r, err := ParseReading(text)
		require.NoError(t, err)
		out = append(out, r)
	}
	return out
}

// Cold bands are common practice: below 5 ohm on the main rail a short, below
// 10 ohm on VBUS a failed suppressor or capacitor.
func TestReadingsAloneMoveTheVerdict(t *testing.T) {
	tests := []struct {
		readings []string
		want     rules.Location
	}{
		{[]string{"main-rail-ohm=0.3ohm"}, rules.BehindPort},
		{[]string{"vbus-ohm=0.5ohm"}, rules.AtPort},
		{[]string{"known-good-charger=different", "other-cable=same"}, rules.BeforePort},
		{[]string{"display-v=5.1V", "display-a=0.02A", "display-pattern=steady"}, rules.Undetermined},
	}
	for _, tt := range tests {
		got := Locate(Evidence{Readings: given(t, tt.readings...)})
		assert.Equal(t, tt.want, got.Verdict.Location, tt.readings)
	}
}

func TestInjectionOnlyAfterAColdResistance(t *testing.T) {
	for _, s := range Locate(Evidence{Readings: given(t, "main-rail-diode-v=0.001V")}).Locate {
		assert.NotContains(t, s.Step, "inject")
	}
	found := false
	for _, s := range Locate(Evidence{Readings: given(t, "main-rail-ohm=0.3ohm")}).Locate {
		if s.Limits["ceiling_v"] > 0 {
			found = true
			assert.NotNil(t, s.Caution)
			assert.LessOrEqual(t, s.Limits["start_v"], s.Limits["ceiling_v"])
		}
	}
	assert.True(t, found)
}

// Over random readings: probabilities stay inside 0 and 1 and add up, and no
// test powers a node whose short is likely and unread.
func TestHygieneAndSafety(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		var readings []Reading
		for _, d := range Readings() {
			if random.Float64() < 0.8 || d.outcomes == nil {
				continue
			}
			r := Reading{Name: d.Name, Value: math.Pow(10, random.Float64()*6-2), Text: "x"}
			if d.words != nil {
				r.Word = d.words[random.IntN(len(d.words))]
			}
			readings = append(readings, r)
		}
		got := Locate(Evidence{Readings: readings})
		sum, healthy := 0.0, 1.0
		for _, s := range got.Suspects {
			require.Greater(t, s.Probability, 0.0)
			healthy -= s.Probability
		}
		require.Greater(t, healthy, 0.0)
		for _, p := range got.Verdict.Locations {
			require.True(t, p > 0 && p < 1)
			sum += p
		}
		require.InDelta(t, 1, sum, 1e-9)
		all, short := classes(), map[string]string{"main-rail-short": "main-rail-", "vbus-short": "vbus-"}
		p := weigh(all, measured(readings))
		for i, c := range all {
			node, watched := short[c.part]
			if !watched || p[i] < 0.3 || has(readings, node+"ohm") || has(readings, node+"diode-v") {
				continue
			}
			for _, test := range got.Next {
				d := Readings()[index(*test.Reading)]
				require.False(t, d.powers, "%s powers a node that is likely shorted and unread", d.Name)
			}
		}
	}
}

func has(readings []Reading, name string) bool { _, ok := find(readings, name); return ok }

func index(name string) int {
	for i, n := range names() {
		if n == name {
			return i
		}
	}
	return -1
}

func FuzzParseReading(f *testing.F) {
	f.Add("main-rail-ohm=0.8ohm")
	f.Add("display-pattern=steady")
	f.Fuzz(func(t *testing.T, text string) {
		if r, err := ParseReading(text); err == nil && (math.IsNaN(r.Value) || r.Value < 0) {
			t.Fatalf("%q gave %v", text, r.Value)
		}
	})
}
