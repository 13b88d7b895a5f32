package location

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/probe"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

func thought(e signs.Evidence) *opinion {
	m, p := newModel(), signs.Look(e)
	c := &opinion{model: m, Picture: p, facts: m.observations(p)}
	c.p = c.settle(m.weigh(c.facts))
	return c
}

// What a plan foresees of a reading is what the verdict makes of it once it is
// given. Voltages and a repeat are left out: a later reading
// tells what they hung on.
func TestAPlanForeseesTheVerdict(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 44))
	seen := map[string]bool{}
	for range 60 {
		e := randomEvidence(t, r)
		e.Readings = slices.DeleteFunc(e.Readings, func(x probe.Reading) bool { return strings.HasSuffix(x.Name, "-v") || x.Name == "repeat" })
		now := thought(e).now()
		require.InDeltaSlice(t, thought(e).p, now.p, 1e-9)
		for _, q := range now.offers() {
			if q.topic.name == ccNode && (q.bands == nil || readOf(e, "cc1-") && readOf(e, "cc2-")) {
				continue // the two lines count as a pair besides
			}
			for i := range q.topic.rows {
				reading := q.example(i)
				if outcome, tells := q.outcome(reading); !tells || outcome != q.topic.rows[i].outcome {
					continue // a range that a second look does not take
				}
				given := e
				given.Readings = append(slices.Clone(e.Readings), reading)
				after, want := now.after(q, i), thought(given)
				require.InDeltaSlice(t, want.p, after.p, 1e-9, "%v, then %s %s", e.Readings, q.reading, q.topic.rows[i].outcome)
				assert.Equal(t, names(want.now().offers()), names(after.offers()), "%v, then %s %s", e.Readings, q.reading, q.topic.rows[i].outcome)
				assert.Equal(t, want.now().opened, after.opened)
				seen[q.reading] = true
			}
		}
	}
	assert.Len(t, seen, len(Asks()))
}

func readOf(e signs.Evidence, prefix string) bool {
	return slices.ContainsFunc(e.Readings, func(x probe.Reading) bool { return strings.HasPrefix(x.Name, prefix) })
}

func names(list []measurement) []string {
	var out []string
	for _, q := range list {
		out = append(out, q.reading)
	}
	return out
}

// Once a location is certain nothing is left to learn.
func TestDoubt(t *testing.T) {
	assert.InDelta(t, 1, doubt([]float64{0.5, 0.5}), 1e-12)
	assert.InDelta(t, 0.3274, doubt([]float64{0.94, 0.06}), 5e-5) // by hand: .94 x .0893 + .06 x 4.0589
	assert.Zero(t, doubt([]float64{0.95, 0.05}))
}

// A course of two counts the second only where it tells more a minute, and what
// opens the case is credited with what that gives access to.
func TestTwoSteps(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 50))
	opens := 0
	for range 40 {
		for _, f := range thought(randomEvidence(t, r)).now().forecasts() {
			both := f.twoSteps()
			require.GreaterOrEqual(t, both.rate(), f.rate())
			require.GreaterOrEqual(t, both.takes, f.takes)
			if f.inside && f.takes > OpenMinutes && both.rate() > 2*f.rate() {
				opens++
			}
		}
	}
	assert.Positive(t, opens)
}

// What needs no open case is tried first where all of it together may settle the
// matter: a machine that works is not opened for its last few percent.
func TestWhatNeedsNoOpenCaseComesFirst(t *testing.T) {
	levels := draw.Figures{UsualA: 1.5, MostA: 2.2, Dip: build.Ref(1.0), SpreadA: build.Ref(0.57), At5A: build.Ref(0.02), Starts: 1, SinceS: build.Ref(299.0)}
	working := []build.Build{build.Meter(100, 300), build.Level(0, 1, 5, 0.02), build.Level(1, 100, 20, 1.5), build.Level(100, 200, 20, 0.8), build.Level(200, 300, 20, 2.2), build.Figures(levels), build.Messages(20, 20), build.Contract(1, 20000, 3000)}
	now := thought(evidence(t, nil, working...)).now()
	require.Positive(t, now.doubt())
	tried, all := now.outside()
	require.Greater(t, len(tried), 1)
	assert.Greater(t, all.bits, 0.0)
	assert.Less(t, all.takes, OpenMinutes)
	inside := map[string]bool{}
	for _, a := range Asks() {
		inside[a.Reading] = a.Inside
	}
	for _, x := range Locate(now.Evidence).Next[:len(tried)] {
		assert.False(t, inside[*x.Reading], *x.Reading)
	}
}
