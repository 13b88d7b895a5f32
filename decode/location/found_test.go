package location

import (
	"bytes"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

// The table that the program carries is whole, within its limit, and of outcomes that there are.
func TestFoundTable(t *testing.T) {
	found, err := ReadFound(strings.NewReader(foundTable))
	require.NoError(t, err)
	assert.Greater(t, len(found), 100)
	known := map[string]bool{}
	for _, x := range allTopics() {
		for _, r := range x.rows {
			known[x.name+": "+r.outcome] = true
		}
	}
	for _, f := range signs.Figures() {
		for i := range f.Knots {
			known[f.Name+": "+f.At(i)] = true
		}
	}
	for name := range found {
		assert.True(t, known[name], name)
		assert.NotContains(t, slices.Concat(atOdds(), usual()), name)
	}
	for _, name := range slices.Concat(atOdds(), usual()) {
		assert.True(t, known[name], name)
	}
	var again bytes.Buffer
	require.NoError(t, found.Write(&again))
	assert.Equal(t, foundTable, again.String())
}

func TestReadFound(t *testing.T) {
	for line, says := range map[string]string{
		"draw: none\t1\t2\t3":                 "line 2: expected 6 fields, found 4",
		"draw: none\t1\t2\t3\tx\t9":           `line 2: expected up to 6 decibans either way, found "x"`,
		"draw: none\t1\t2\t3\t6.1\t9":         `line 2: expected up to 6 decibans either way, found "6.1"`,
		"draw: none\t1\tNaN\t3\t4\t9":         `line 2: expected up to 6 decibans either way, found "NaN"`,
		"draw: none\t1\t2\t3\t4\t-1":          `line 2: expected a count of cases, found "-1"`,
		"draw: none\t1\t2\t3\t4\t5\nnonesuch": "line 3: expected 6 fields, found 1",
	} {
		_, err := ReadFound(strings.NewReader(foundHead + "\n" + line + "\n"))
		assert.EqualError(t, err, says)
	}
	_, err := ReadFound(strings.NewReader("sign\tweight\n"))
	assert.ErrorContains(t, err, "line 1: expected")
	found, err := ReadFound(strings.NewReader(foundHead + "\ndraw: none\t1.5\t-2\t0\t6\t9\n"))
	require.NoError(t, err)
	assert.Equal(t, Found{"draw: none": {Before: 1.5, At: -2, Healthy: 6, Cases: 9}}, found)
}

func FuzzReadFound(f *testing.F) {
	f.Add(foundTable)
	f.Add(foundHead + "\ndraw: none\t1.5\t-2\t0\t6\t9\n")
	f.Fuzz(func(t *testing.T, text string) {
		found, err := ReadFound(strings.NewReader(text))
		if err != nil {
			return
		}
		var b bytes.Buffer
		require.NoError(t, found.Write(&b))
		again, err := ReadFound(&b)
		require.NoError(t, err)
		assert.Equal(t, slices.Sorted(maps.Keys(found)), slices.Sorted(maps.Keys(again)))
	})
}

// Ten decibans before the tables are sharpened are ten times (Good 1950); a share of an outcome
// counts for its share, and what was read at the bench for nothing.
func TestToldByWhatWasFound(t *testing.T) {
	m := newModel()
	m.found = Found{"draw: none": {Before: 5, At: -5}, "draw: standby": {Healthy: 5}}
	ones := slices.Repeat([]float64{1}, len(m.classes))
	o := observation{cap: 20, like: ones, seen: true, shows: []portion{{"draw: none", 1}}}
	told := m.told(o)
	assert.InDelta(t, math.Sqrt(10), told[m.index(source)], 1e-9)
	assert.InDelta(t, 1/math.Sqrt(10), told[m.index(controller)], 1e-9)
	assert.InDelta(t, 1, told[m.index(railShort)], 1e-9)
	assert.InDelta(t, 1, told[m.index(unknownPart)], 1e-9)
	o.shows = []portion{{"draw: none", 0.5}, {"draw: standby", 0.5}}
	told = m.told(o)
	assert.InDelta(t, math.Pow(10, 0.25), told[m.index(source)], 1e-9)
	assert.InDelta(t, math.Pow(10, 0.25), told[m.index(healthyPart)], 1e-9)
	o.seen = false
	assert.Equal(t, ones, m.told(o))
}

// lessonsOf are recordings of a draw of 0.2 A at 20 V that is resistive or none, by their answers.
func lessonsOf(t *testing.T, at map[rules.Location][]signs.Evidence) *Lessons {
	t.Helper()
	l := NewLessons()
	for _, place := range locations() {
		for _, e := range at[place] {
			l.Add(e, place)
		}
	}
	return l
}

// The slope is that of the cost, by differences: what is lost in likelihood, and the price of
// accusing a sound machine or overlooking a fault.
func TestSlopeOfLessons(t *testing.T) {
	quiet, works := evidence(t, nil, build.Quiet()...), evidence(t, nil, build.Drawing()...)
	l := lessonsOf(t, map[rules.Location][]signs.Evidence{
		rules.BeforePort: {works}, rules.AtPort: {quiet}, rules.BehindPort: {quiet, works}, rules.Healthy: {works, quiet},
	})
	cost := func(nepers []float64) float64 {
		total := 0.0
		for _, x := range l.all {
			at := grouped(posterior(l.model.prior, l.model.unexercised(l.shown(x, nepers))), l.model.share)
			total -= math.Log(at[x.truth])
			for j, p := range at {
				switch sound := slices.Index(locations(), rules.Healthy); {
				case x.truth == sound && j != sound:
					total += accusePrice * math.Pow(p, 4)
				case x.truth != sound && j == sound:
					total += overlookPrice * math.Pow(p, 4)
				}
			}
		}
		return total
	}
	at := make([]float64, len(locations())*len(l.names))
	for i := range at {
		at[i] = 0.1 * float64(i%5-2)
	}
	slope := l.slope(at)
	const h = 1e-5
	for i := range at {
		up, down := slices.Clone(at), slices.Clone(at)
		up[i], down[i] = up[i]+h, down[i]-h
		assert.InDelta(t, (cost(up)-cost(down))/(2*h), slope[i], 1e-6, "%s %d", l.names[i/4], i%4)
	}
}

// What stands on one side alone comes to speak for it, within the limit, and for nothing where it
// stands on each as often as the tables say.
func TestFoundOfLessons(t *testing.T) {
	quiet, works := evidence(t, nil, build.Quiet()...), evidence(t, nil, build.Drawing()...)
	many := func(e signs.Evidence, n int) []signs.Evidence { return slices.Repeat([]signs.Evidence{e}, n) }
	found := lessonsOf(t, map[rules.Location][]signs.Evidence{rules.AtPort: many(quiet, 40), rules.Healthy: many(works, 40)}).Found()
	working := found["draw: "+signs.DrawLeap]
	assert.Greater(t, working.Healthy, 0.1)
	assert.Less(t, working.Behind, 0.0)
	assert.LessOrEqual(t, working.Healthy, float64(foundMost))
	assert.InDelta(t, 40, float64(working.Cases), 1)
	for _, name := range slices.Concat(atOdds(), usual()) {
		assert.NotContains(t, found, name)
	}
	assert.Empty(t, lessonsOf(t, nil).Found())
	l := NewLessons()
	l.Add(quiet, "")
	assert.Empty(t, l.all, "without an answer there is no lesson")
}

// Of what may have been any of several outcomes nothing was found.
func TestShows(t *testing.T) {
	m, x := newModel(), startTopic()
	for _, c := range []struct {
		seen signs.Seen
		want []portion
	}{
		{signs.Exactly(signs.StartRough), []portion{{"start: rough", 1}}},
		{signs.Seen{signs.StartSmooth: 1, signs.StartRough: 1}, []portion{{"start: smooth", 0.5}, {"start: rough", 0.5}}},
		{signs.Seen{signs.StartSmooth: 3, signs.StartRough: 1}, []portion{{"start: smooth", 0.75}}},
		{signs.Seen{signs.StartSmooth: 1, signs.StartRough: 1, signs.StartLate: 1}, nil},
	} {
		assert.Equal(t, c.want, m.observe(x, c.seen, "").shows)
	}
}
