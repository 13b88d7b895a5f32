package location

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
	"portside/decode/signs/build"
)

func after(t *testing.T, builds []build.Build, readings ...string) Result {
	t.Helper()
	return Locate(evidence(t, readings, builds...))
}

func share(r Result, part string) float64 {
	for _, s := range r.Suspects {
		if s.Part == part {
			return s.Probability
		}
	}
	return 0
}

// A powered node tells where the chain from the plug to the rails breaks. Source:
// common practice; the order of the nodes is that of the current.
func TestPoweredNodesAreAChain(t *testing.T) {
	tests := []struct {
		name     string
		readings []string
		part     string
		least    float64
	}{
		{"nothing passes the switch", []string{"main-rail-ohm=20kohm", "charger-input-v=0.02V"}, "input-switch", 0.85},
		{"the charger circuit makes nothing", []string{"main-rail-ohm=20kohm", "charger-input-v=19.9V", "main-rail-v=0.1V"}, "charger-circuit", 0.65},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := after(t, build.Quiet(), tt.readings...)
			assert.GreaterOrEqual(t, share(r, tt.part), tt.least)
			for _, s := range r.Suspects {
				assert.LessOrEqual(t, s.Probability, share(r, tt.part), s.Part)
			}
		})
	}
}

// What a dead node feeds is dead, and where no VBUS comes nothing is live: reading
// it again tells nothing and is not asked.
func TestADeadNodeSaysNothingOfWhatItFeeds(t *testing.T) {
	dead := []string{"main-rail-ohm=20kohm", "charger-input-v=0.02V"}
	one, two := after(t, build.Quiet(), dead...), after(t, build.Quiet(), append(dead, "main-rail-v=0.01V", "always-on-rail-v=0V")...)
	for l, p := range one.Verdict.Locations {
		assert.InDelta(t, p, two.Verdict.Locations[l], 1e-9, l)
	}
	for _, x := range after(t, build.Nothing(), "vbus-ohm=50kohm").Next {
		assert.NotContains(t, []string{"vbus-v", "main-rail-v", "charger-input-v", "always-on-rail-v", "controller-supply-v"}, *x.Reading)
	}
}

// A machine that took its draw let it through: its rails read present, with a
// faulty charger or cable as without.
func TestARailThatWasFedDoesNotClearTheCable(t *testing.T) {
	one := after(t, build.Drawing(), "other-cable=different")
	two := after(t, build.Drawing(), "other-cable=different", "main-rail-v=12.4V", "always-on-rail-v=3.31V", "controller-supply-v=3.3V")
	assert.Greater(t, share(one, "cable"), 0.2)
	assert.Greater(t, share(two, "cable"), 0.8*share(one, "cable"))
}

// A short in two ranges of the meter is no slip of the probe.
func TestAShortReadTwice(t *testing.T) {
	once, twice := after(t, build.Drawing(), "main-rail-ohm=1.4ohm"), after(t, build.Drawing(), "main-rail-ohm=1.4ohm", "main-rail-diode-v=0.001V")
	assert.Greater(t, twice.Verdict.Locations[rules.BehindPort], once.Verdict.Locations[rules.BehindPort])
}

// CC lines that differ by more than 10 percent point at the port: common practice.
func TestCCLinesAreAskedAsAPair(t *testing.T) {
	gain := map[string]float64{}
	for _, x := range after(t, build.Nothing(), "vbus-ohm=50kohm").Next {
		gain[*x.Reading] = x.GainBits
	}
	require.Contains(t, gain, "cc1-ohm")
	assert.Greater(t, gain["cc1-ohm"], 0.02, "half of what the pair tells")
	r := after(t, build.Nothing(), "vbus-ohm=50kohm", "cc1-ohm=5.1kohm", "cc2-ohm=open")
	assert.Greater(t, share(r, "cc-contact"), 0.6)
}

// A rail that reads dead and feeds what hangs on it was missed by the probe; where
// that is dead too it was not.
func TestADeadRailIsReadTwice(t *testing.T) {
	dead := []string{"main-rail-ohm=20kohm", "charger-input-v=19.9V", "main-rail-v=0.1V"}
	once := share(after(t, build.Quiet(), dead...), "charger-circuit")
	assert.Greater(t, share(after(t, build.Quiet(), append(dead, "always-on-rail-v=0.02V")...), "charger-circuit"), once+0.01)
	assert.Less(t, share(after(t, build.Quiet(), append(dead, "always-on-rail-v=3.3V")...), "charger-circuit"), once-0.1)
}

// What a swap took away comes back with the same set-up, unless it comes and goes.
func TestTheSameSetUpAfterASwap(t *testing.T) {
	at := func(readings ...string) float64 {
		return after(t, build.Quiet(), readings...).Verdict.Locations[rules.BeforePort]
	}
	swapped := at("known-good-charger=different")
	assert.Greater(t, at("known-good-charger=different", "repeat=same"), swapped)
	assert.Less(t, at("known-good-charger=different", "repeat=different"), swapped)
	assert.Less(t, at("repeat=same"), at(), "a charger may be at the point of failing")
}

// A leak of more than 250 ohm takes less than 1 W of a rail of 15 V (Ohm): no more than
// a sleeping board, so it is hardly what keeps a machine from working.
func TestALeakThatTakesLittle(t *testing.T) {
	small, large := after(t, build.Drawing(), "main-rail-ohm=120ohm"), after(t, build.Drawing(), "main-rail-ohm=400ohm")
	assert.Less(t, share(large, "main-rail-leak"), 0.5*share(small, "main-rail-leak"))
	assert.Greater(t, large.Verdict.Locations[rules.Healthy], small.Verdict.Locations[rules.Healthy])
}

// A part that lets 5 V stand and takes VBUS down above it reads sound to a meter that puts a volt or
// two on it: the reading hardly says a thing.
func TestAClampHidesFromAColdReading(t *testing.T) {
	builds, at := []build.Build{build.Meter(100, 40)}, 1.0
	for range 5 {
		builds = append(builds, build.Level(at, at+0.3, 5.1, 0.01), build.Level(at+0.3, at+0.36, 8.5, 5), build.Level(at+0.36, at+1.3, 0.02, 0), build.Collapses(5, at+0.36))
		at += 1.3
	}
	before, read := share(after(t, builds), "vbus-short"), share(after(t, builds, "vbus-ohm=50kohm"), "vbus-short")
	assert.Greater(t, before, 0.5)
	assert.InDelta(t, before, read, 0.1)
	assert.Greater(t, share(after(t, builds, "vbus-ohm=1ohm"), "vbus-short"), 0.8)
	r := after(t, builds)
	assert.Contains(t, r.Suspects[0].Confirm, "other-port")
	assert.Equal(t, "vbus-ohm", *r.Next[0].Reading)
	assert.Contains(t, *r.Next[0].Caution, "before any test that powers the unit", "why it is read though it hardly tells")
	assert.NotContains(t, *after(t, builds, "vbus-ohm=50kohm").Next[0].Caution, "before any test")
}
