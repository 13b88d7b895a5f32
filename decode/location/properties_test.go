package location

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/probe"
	"portside/decode/rules"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

// randomEvidence is any recording, sensible or not, with any readings.
func randomEvidence(t testing.TB, r *rand.Rand) signs.Evidence {
	var builds []build.Build
	if r.Float64() < 0.7 {
		hz := []float64{0.5, 1, 2, 10, 100}[r.IntN(5)]
		builds = append(builds, build.Meter(hz, 30))
		at := 0.0
		for range 1 + r.IntN(4) {
			to := at + 30*r.Float64()
			builds = append(builds, build.Level(at, to, []float64{0, 0.4, 5, 5.1, 9, 15, 20, 7.3}[r.IntN(8)], []float64{0, 0.01, 0.05, 0.3, 1.5, 3.2, -0.01}[r.IntN(7)]))
			at = to
		}
		if r.Float64() < 0.3 {
			builds = append(builds, build.Pulses(1, 5, []float64{0.03, 0.2, 0.51, 1, 2, 5}[r.IntN(6)], 0.5, 3+r.IntN(20), func(p *draw.Pulses) {
				p.WithVBUS = r.Float64() < 0.3
				if r.Float64() < 0.3 {
					p.PeriodS, p.PeriodU = nil, nil
				}
			}))
		}
		if r.Float64() < 0.2 {
			builds = append(builds, build.Collapses(3*r.Float64(), 2, 4, 6))
		}
		if r.Float64() < 0.2 {
			builds = append(builds, build.Stairs(r.IntN(6), nil))
		}
		if r.Float64() < 0.3 {
			builds = append(builds, build.Exponent(4*r.Float64()-2, 50), build.Series(r.Float64()))
		}
	}
	if r.Float64() < 0.6 {
		builds = append(builds, build.Messages(r.IntN(50), r.IntN(50)))
		switch r.IntN(4) {
		case 0:
			builds = append(builds, build.Attempts(negotiation.Step(r.IntN(9)), 1+r.IntN(5)))
		case 1:
			builds = append(builds, build.Contract(1, []int{5000, 9000, 20000}[r.IntN(3)], 3000))
		case 2:
			builds = append(builds, build.Lost(1, 3, 5, 7))
		}
		builds = append(builds, randomTalk(r)...)
	}
	var readings []string
	for _, f := range probe.Readings() {
		if r.Float64() > 0.15 {
			continue
		}
		readings = append(readings, f.Name+"="+randomValue(f, r))
	}
	return evidence(t, readings, builds...)
}

// randomTalk is what messages may hold beside attempts and contracts.
func randomTalk(r *rand.Rand) []build.Build {
	var builds []build.Build
	for _, one := range []build.Build{
		build.Offered(5000), build.Offered(5000, 20000), build.Offering(65, 45), build.SoftResets(5), build.Damaged(60, 0), build.Damaged(0, 60), build.SourceSays(negotiation.Events{Hot: true}), build.Turning(20000, 5000, 20000, 5000, 20000, 5000), build.Programmable(8500, 9000),
		func(f *rules.Facts) { f.Negotiation.SinkMV, f.Negotiation.AskedAgain = 20000, 30 },
		func(f *rules.Facts) { f.Negotiation.PPSMissed = []negotiation.Moment{{TimeS: 14}, {TimeS: 28}} },
		func(f *rules.Facts) { f.Negotiation.CRCErrors.UnheardSource = 9 },
		func(f *rules.Facts) { f.Aligned = true },
	} {
		if r.Float64() < 0.12 {
			builds = append(builds, one)
		}
	}
	return builds
}

func randomValue(f probe.ReadingForm, r *rand.Rand) string {
	if len(f.Words) > 0 && (f.Unit == "" || r.Float64() < 0.2) {
		return f.Words[r.IntN(len(f.Words))]
	}
	switch f.Unit {
	case "ohm":
		return fmt.Sprintf("%gohm", []float64{0, 0.3, 3, 20, 300, 5100, 50000}[r.IntN(7)])
	case "V":
		return fmt.Sprintf("%gV", []float64{0, 0.04, 0.2, 0.45, 3.3, 5, 20}[r.IntN(7)])
	case "A":
		return fmt.Sprintf("%gA", []float64{0, 0.05, 1.5}[r.IntN(3)])
	case "W":
		return "65W"
	}
	return "left"
}

// powersUnit names the readings that power the unit, apart from the tables.
func powersUnit(name string) bool {
	switch name {
	case "known-good-charger", "other-cable", "other-port", "plug-flipped", "repeat":
		return true
	}
	return strings.HasPrefix(name, "display-") || strings.HasSuffix(name, "-v") && !strings.HasSuffix(name, "-diode-v")
}

// Over many evidence sets: probabilities stay inside 0 and 1 and add
// up, the verdict follows its own bounds, nothing given is asked again, the
// order is safety and then information a minute, and no powering test stands
// before the cold reading it needs.
func TestProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 7))
	for n := range 3000 {
		e := randomEvidence(t, r)
		got := Locate(e)
		say := fmt.Sprintf("case %d: %v", n, e.Readings)
		checkProbabilities(t, got, say)
		checkVerdict(t, e, got, say)
		checkNext(t, e, got, say)
		checkSteps(t, e, got, say)
		if t.Failed() {
			return
		}
	}
}

func checkProbabilities(t *testing.T, got Result, say string) {
	total := 0.0
	for _, x := range got.Verdict.Locations {
		require.True(t, x > 0 && x < 1, say)
		total += x
	}
	require.Len(t, got.Verdict.Locations, 4, say)
	require.InDelta(t, 1, total, 1e-9, say)
	parts := 0.0
	for i, s := range got.Suspects {
		require.True(t, s.Probability > 0 && s.Probability < 1, say)
		require.NotEmpty(t, s.Why, say)
		if i > 0 {
			require.LessOrEqual(t, s.Probability, got.Suspects[i-1].Probability, say)
		}
		parts += s.Probability
	}
	require.Len(t, got.Suspects, len(classes())-1, say)
	require.InDelta(t, 1, parts+got.Verdict.Locations[rules.Healthy], 1e-9, say)
}

func checkVerdict(t *testing.T, e signs.Evidence, got Result, say string) {
	v := got.Verdict
	require.Len(t, v.Excluded, 4-len(v.Open), say)
	require.Equal(t, v.Locations[v.Open[0]], v.Probability, say)
	if v.Probability >= 0.6 {
		require.Equal(t, v.Open[0], v.Location, say)
	} else {
		require.Equal(t, rules.Undetermined, v.Location, say)
		require.Empty(t, got.Locate, say)
	}
	for _, x := range v.Excluded {
		require.Less(t, v.Locations[x.Location], 0.05, say)
		require.NotEmpty(t, x.Why, say)
	}
	if v.Location == rules.Healthy {
		require.False(t, slices.ContainsFunc(e.Findings, func(f rules.Finding) bool { return f.Severity == rules.Fault }), say)
	}
}

func checkNext(t *testing.T, e signs.Evidence, got Result, say string) {
	unread := map[string]bool{}
	for _, s := range got.Suspects {
		if s.Probability >= 0.3 {
			switch s.Part {
			case "main-rail-short":
				unread["main-rail"] = !has(e, "main-rail-ohm") && !has(e, "main-rail-diode-v")
			case "vbus-short":
				unread["vbus"] = !has(e, "vbus-ohm")
			case "charger-input-short":
				unread["charger-input"] = !has(e, "charger-input-ohm")
			case "downstream-rail":
				unread["always-on-rail"] = !has(e, "always-on-rail-ohm")
			}
		}
	}
	last := 1e9
	for i, x := range got.Next {
		require.NotNil(t, x.Reading, say)
		require.False(t, has(e, *x.Reading), "%s asks again for %s", say, *x.Reading)
		require.GreaterOrEqual(t, x.GainBits, 0.0, say)
		require.Greater(t, x.Minutes, 0.0, say)
		require.Len(t, x.Expect, 4, say)
		require.NotNil(t, x.Caution, say)
		if powersUnit(*x.Reading) {
			for node, open := range unread {
				require.False(t, open, "%s: %s powers the unit before %s is read cold", say, *x.Reading, node)
			}
		}
		first := i > 0 && dueFirst(*got.Next[i-1].Reading, unread) && !dueFirst(*x.Reading, unread)
		if rate := x.GainBits / x.Minutes; !first {
			require.LessOrEqual(t, rate, last+1e-12, say)
		}
		last = x.GainBits / x.Minutes
	}
	if got.Verdict.Probability >= 0.95 {
		require.Empty(t, got.Next, say)
	}
}

func dueFirst(reading string, unread map[string]bool) bool {
	for node, open := range unread {
		if open && (reading == node+"-ohm" || node == "main-rail" && reading == "main-rail-diode-v") {
			return true
		}
	}
	return false
}

func has(e signs.Evidence, name string) bool { _, given := probe.Find(e.Readings, name); return given }

func checkSteps(t *testing.T, e signs.Evidence, got Result, say string) {
	ohm, known := probe.Figure(e.Readings, "main-rail-ohm")
	for _, s := range got.Locate {
		require.NotEmpty(t, s.Step, say)
		require.NotEmpty(t, s.Expect, say)
		require.NotNil(t, s.Limits, say)
		require.Greater(t, s.Minutes, 0.0, say)
		if s.Reading != nil {
			_, err := probe.ParseReading(*s.Reading + "=" + example(*s.Reading))
			require.NoError(t, err, say)
		}
		ceiling, injects := s.Limits["ceiling_v"]
		if !injects {
			continue
		}
		require.True(t, known && ohm < 50, say)
		require.NotNil(t, s.Caution, say)
		require.LessOrEqual(t, ceiling, 3.0, say)
		require.LessOrEqual(t, s.Limits["start_v"], ceiling, say)
		require.LessOrEqual(t, s.Limits["start_a"], s.Limits["limit_a"], say)
	}
}

// The same evidence gives the same result, and looking changes nothing.
func TestLocateIsPure(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for range 100 {
		e := randomEvidence(t, r)
		require.Equal(t, Locate(e), Locate(e))
	}
}

// A truthful reading of a node moves toward it: a short there raises its
// part, a sound reading lowers it, whatever was known before.
func TestATruthfulReadingMovesTowardItsNode(t *testing.T) {
	nodes := []struct {
		part             part
		reading          string
		shorted, isSound string
	}{
		{railShort, "main-rail-ohm", "0.4ohm", "30kohm"}, {railShort, "main-rail-diode-v", "0.003V", "0.45V"},
		{vbusShort, "vbus-ohm", "0.4ohm", "open"}, {inputShort, "charger-input-ohm", "0.4ohm", "20kohm"},
		{supply, "controller-supply-ohm", "0.4ohm", "2kohm"}, {downstream, "always-on-rail-ohm", "1ohm", "900ohm"},
		{source, "known-good-charger", "different", "same"}, {cable, "other-cable", "different", "same"},
		{ccContact, "plug-flipped", "different", "same"}, {controller, "other-port", "different", "same"},
	}
	r := rand.New(rand.NewPCG(8, 8))
	m := newModel()
	at := func(e signs.Evidence, p part) float64 {
		posterior := m.weigh(m.observations(signs.Look(e)))
		if p == controller { // another port that works speaks for all that belongs to this one
			return grouped(posterior, m.share)[slices.Index(locations(), rules.AtPort)]
		}
		return posterior[m.index(p)]
	}
	for range 300 {
		e := randomEvidence(t, r)
		for _, node := range nodes {
			e.Readings = slices.DeleteFunc(e.Readings, func(x probe.Reading) bool {
				return strings.HasPrefix(x.Name, strings.TrimSuffix(strings.TrimSuffix(node.reading, "-ohm"), "-diode-v"))
			})
			was := at(e, node.part)
			more, less := e, e
			more.Readings = append(slices.Clone(e.Readings), parsed(t, node.reading+"="+node.shorted))
			less.Readings = append(slices.Clone(e.Readings), parsed(t, node.reading+"="+node.isSound))
			require.Greater(t, at(more, node.part), was, node.reading)
			require.Less(t, at(less, node.part), was, node.reading)
		}
	}
}

func parsed(t *testing.T, s string) probe.Reading {
	t.Helper()
	r, err := probe.ParseReading(s)
	require.NoError(t, err)
	return r
}

// The unit a figure is written in changes nothing.
func TestUnitsDoNotMatter(t *testing.T) {
	for _, pair := range [][2]string{
		{"main-rail-ohm=0.8ohm", "main-rail-ohm=800mohm"}, {"vbus-ohm=4.7kohm", "vbus-ohm=4700ohm"}, {"main-rail-diode-v=0.45V", "main-rail-diode-v=450mV"},
	} {
		a, b := Locate(evidence(t, pair[:1])), Locate(evidence(t, pair[1:]))
		assert.Equal(t, a.Verdict.Locations, b.Verdict.Locations)
	}
}

// A meter that sees more can only help: the expected gain of a test is never
// negative and never more than there is to know.
func TestGainIsBounded(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 9))
	for range 200 {
		got := Locate(randomEvidence(t, r))
		var p []float64
		for _, l := range locations() {
			p = append(p, got.Verdict.Locations[l])
		}
		for _, x := range got.Next {
			require.LessOrEqual(t, x.GainBits, entropyBits(p)+1e-9)
		}
	}
}

// A likely short is read cold first, and a short that was read is not fed.
func TestSafetyFirst(t *testing.T) {
	hiccup := []build.Build{build.Meter(100, 30), build.Level(0, 30, 5.1, 0.005), build.Pulses(1.2, 4.8, 0.51, 0.5, 8, nil)}
	got := Locate(evidence(t, nil, hiccup...))
	require.NotEmpty(t, got.Next)
	assert.Contains(t, []string{"main-rail-ohm", "main-rail-diode-v"}, *got.Next[0].Reading)
	sound := Locate(evidence(t, []string{"main-rail-ohm=30kohm"}, hiccup...))
	assert.True(t, slices.ContainsFunc(sound.Next, func(x Test) bool { return powersUnit(*x.Reading) }))
	// Opening the case counts once.
	minutes := func(r Result, name string) float64 {
		for _, x := range r.Next {
			if *x.Reading == name {
				return x.Minutes
			}
		}
		return 0
	}
	assert.Equal(t, 15.0, minutes(Locate(signs.Evidence{}), "main-rail-ohm"))
	assert.Equal(t, 3.0, minutes(Locate(evidence(t, []string{"always-on-rail-ohm=900ohm"})), "main-rail-ohm"))
	assert.Equal(t, 2.0, minutes(Locate(signs.Evidence{}), "vbus-ohm"))
	assert.Equal(t, 1.0, minutes(Locate(signs.Evidence{}), "other-port"))
	// None means that there is no such thing here: it is not asked again.
	assert.Zero(t, minutes(Locate(evidence(t, []string{"other-port=none"})), "other-port"))
}

// Injection: start, limit and ceiling in volts and amperes. Trade guides give
// 1 V and 0.5 A to 2 A, never over 3 V; common practice up to 5 A for
// milliohms; P = I^2 R.
func TestInjection(t *testing.T) {
	tests := []struct {
		ohm                              float64
		startV, limitA, ceilingV, leastW float64
	}{
		{0.045, 0.5, 5, 1, 1}, {0.8, 0.5, 1.36, 1.09, 1.3}, {2, 1, 0.86, 1.73, 1.3}, {20, 1, 0.5, 3, 0.4},
	}
	for _, tt := range tests {
		x := injection(tt.ohm)
		assert.InDelta(t, tt.startV, x["start_v"], 1e-9, "%g ohm", tt.ohm)
		assert.InDelta(t, tt.limitA, x["limit_a"], 0.011, "%g ohm", tt.ohm)
		assert.InDelta(t, tt.ceilingV, x["ceiling_v"], 0.011, "%g ohm", tt.ohm)
		assert.GreaterOrEqual(t, x["power_w"], tt.leastW, "%g ohm", tt.ohm)
		assert.LessOrEqual(t, x["power_w"], 1.5, "%g ohm", tt.ohm)
		assert.InDelta(t, 0.5, x["start_a"], 1e-9)
	}
	injects := func(readings ...string) bool {
		return slices.ContainsFunc(Locate(evidence(t, readings)).Locate, func(s Step) bool { _, ok := s.Limits["ceiling_v"]; return ok })
	}
	assert.True(t, injects("main-rail-ohm=0.3ohm"))
	assert.False(t, injects("main-rail-diode-v=0.001V"), "no resistance is known")
	assert.False(t, injects("main-rail-ohm=short"), "a word is no figure to compute from")
	steps := Locate(evidence(t, []string{"main-rail-ohm=0.3ohm"})).Locate
	really := slices.IndexFunc(steps, func(s Step) bool { return strings.Contains(s.Step, "really this rail") })
	inject := slices.IndexFunc(steps, func(s Step) bool { _, ok := s.Limits["ceiling_v"]; return ok })
	require.True(t, really >= 0 && inject > really, "first: is it really this rail")
	assert.Equal(t, "make it safe", steps[0].Step[:12])
}

// A node that has read short is powered by nothing that is asked for, whatever part
// that speaks for.
func TestAReadShortIsNotPowered(t *testing.T) {
	for _, reading := range []string{"main-rail-ohm=0.4ohm", "vbus-ohm=2ohm", "charger-input-ohm=1ohm", "always-on-rail-ohm=2ohm"} {
		for _, trial := range []string{"other-port=different", "known-good-charger=same", "plug-flipped=same"} {
			got := Locate(evidence(t, []string{trial, reading}, build.Meter(10, 30), build.Level(0, 30, 5.1, 0.004)))
			assert.False(t, slices.ContainsFunc(got.Next, func(x Test) bool { return powersUnit(*x.Reading) }), "%s after %s", trial, reading)
		}
	}
}
