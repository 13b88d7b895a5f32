package location

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/probe"
	"portside/decode/signs"
)

func allTopics() []topic {
	out := []topic{
		powerUpTopic("", false), powerUpTopic("device", true), endingTopic(""), endingTopic("source"), startTopic(), earlyTopic(), highDrawTopic(false, ""), highDrawTopic(true, ""), lowDrawTopic(), offDrawTopic(),
		seriesTopic("source"), seriesTopic("device"), seriesTopic(""), windowTopic(), agreedTopic(""), heldTopic(""), heldTopic("device"), lossTopic(), loadTopic(), lineTopic(), inrushTopic(), ccTopic(), supplyTopic(""), ccWaitTopic("source", 1), ccWaitTopic("device", 0.001), holdTopic(), faultTopic(), ccPairTopic(), asksTopic(), backTo5Topic(), ohmicTopic(), backTopic(), alertTopic(), lessTopic(), wantsTopic(), goneTopic(), hearingTopic(), lifeTopic(), stirTopic(), rhythmTopic(), closesTopic(), goesTopic(), liftTopic(""), littleTopic(""), windowTopic(), offerTopic(true),
	}
	for _, s := range []shown{{}, {absent: true}, {contract: true, vbus: true}, {contract: true, passes: true, vbus: true, atDevice: true}, {contract: true, fed: true, passes: true}} {
		for _, q := range measurements(s, nil) {
			out = append(out, q.topic)
		}
	}
	return out
}

// Every row of every table says why and whence, covers every class with a
// chance between 0 and 1, names no class twice or unknown, and the rows of a
// table are all the answers there are.
func TestEveryRowHasASourceAndCoversEveryClass(t *testing.T) {
	m := newModel()
	for _, x := range allTopics() {
		require.GreaterOrEqual(t, len(x.rows), 2, x.name)
		require.GreaterOrEqual(t, x.cap, 2.0, x.name)
		outcomes := map[string]bool{}
		for _, r := range x.rows {
			name := x.name + "/" + r.outcome
			assert.NotEmpty(t, r.source, name)
			assert.NotEmpty(t, r.reason, name)
			assert.NotEmpty(t, r.reads, name)
			assert.False(t, outcomes[r.outcome], name)
			outcomes[r.outcome] = true
			for p, percent := range r.by {
				assert.GreaterOrEqual(t, m.index(p), 0, "%s names %s", name, p)
				assert.NotEqual(t, unknownPart, p, name)
				assert.True(t, percent > 0 && percent < 100, "%s %s %g", name, p, percent)
			}
		}
		table := x.likelihoods(m)
		for j, c := range m.classes {
			total := 0.0
			for i := range table {
				assert.True(t, table[i][j] > 0 && table[i][j] < 1, "%s/%s %s", x.name, x.rows[i].outcome, c.part)
				total += table[i][j]
			}
			assert.InDelta(t, 1, total, 1e-9)
			if c.part == unknownPart { // never rarer than its flat share
				for i := range table {
					assert.GreaterOrEqual(t, table[i][j], blankShare*min(1/float64(len(x.rows)), slices.Max(table[i])))
				}
			}
		}
	}
}

// The percents of a class are meant to add up to 100 before they are made to:
// a table far from that was written by mistake.
func TestPercentsAddUp(t *testing.T) {
	m := newModel()
	for _, x := range allTopics() {
		for _, c := range m.classes {
			if c.part == unknownPart {
				continue
			}
			total := 0.0
			for _, r := range x.rows {
				percent, named := r.by[c.part]
				if !named {
					percent = r.others
				}
				total += percent
			}
			assert.InDelta(t, 100, total, 30, "%s %s", x.name, c.part)
		}
	}
}

func TestEveryMeasurementIsAReading(t *testing.T) {
	for _, q := range measurements(shown{contract: true}, nil) {
		_, err := probe.ParseReading(q.reading + "=" + example(q.reading))
		assert.NoError(t, err, q.reading)
		assert.Greater(t, q.minutes, 0.0)
		for _, b := range q.bands {
			assert.GreaterOrEqual(t, q.topic.index(b.outcome), 0, "%s %s", q.reading, b.outcome)
		}
	}
}

func example(name string) string {
	for _, f := range probe.Readings() {
		if f.Name != name {
			continue
		}
		switch f.Unit {
		case "ohm":
			return "10ohm"
		case "V":
			return "0.4V"
		case "":
			return f.Words[0]
		}
	}
	return ""
}

// A cable lies behind a meter at the charger's end, and before one at the machine's: it takes all that
// flows behind a meter only from there.
func TestCableBehindTheMeter(t *testing.T) {
	at := func(meter string) float64 {
		all := endingTopic(meter)
		return all.rows[all.index(signs.EndAll)].by[cable]
	}
	assert.Greater(t, at("source"), at(""))
	assert.Greater(t, at(""), at("device"))
}
