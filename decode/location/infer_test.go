package location

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
	"portside/decode/signs"
)

// The worked example has invented numbers and was computed apart from this
// code: prior .20 front, .25 port, .45 behind, .10 benign, and "never leaves
// 5 V, pulses" with likelihoods .10, .30, .60, .05. source: common practice
// in form (Heckerman, Breese & Rommelse 1995), figures computed by hand.
func TestWorkedPosterior(t *testing.T) {
	prior := []float64{0.20, 0.25, 0.45, 0.10}
	assert.InDelta(t, 1.8150, entropyBits(prior), 5e-5)
	assert.InDelta(t, 0.37, chance(prior, []float64{0.10, 0.30, 0.60, 0.05}), 1e-12)
	p := posterior(prior, []float64{0.10, 0.30, 0.60, 0.05})
	for i, want := range []float64{0.0541, 0.2027, 0.7297, 0.0135} {
		assert.InDelta(t, want, p[i], 5e-5)
	}
	assert.InDelta(t, 1.1099, entropyBits(p), 5e-5)
}

func alone(n int) [][]float64 {
	share := make([][]float64, n)
	for i := range share {
		share[i] = make([]float64, n)
		share[i][i] = 1
	}
	return share
}

func yesNo(yes ...float64) [][]float64 {
	no := make([]float64, len(yes))
	for i, x := range yes {
		no[i] = 1 - x
	}
	return [][]float64{yes, no}
}

func TestWorkedGain(t *testing.T) {
	p := posterior([]float64{0.20, 0.25, 0.45, 0.10}, []float64{0.10, 0.30, 0.60, 0.05})
	tests := []struct {
		name         string
		minutes      float64
		yes          []float64
		chance, gain float64
		perMinute    float64
		ifYes, ifNo  []float64
	}{
		{"known-good charger and cable, same", 2, []float64{.05, .95, .97, .90}, .9153, .1969, .0985, []float64{.003, .210, .773, .013}, []float64{.606, .120, .258, .016}},
		{"other port, same", 1, []float64{.95, .25, .95, .95}, .8081, .3126, .3126, []float64{.064, .063, .858, .016}, []float64{.014, .792, .190, .004}},
		{"main rail below 20 ohm", 15, []float64{.01, .05, .85, .01}, .6311, .4413, .0294, []float64{.001, .016, .983, .000}, []float64{.145, .522, .297, .036}},
		{"changes after 10 minutes", 10, []float64{.02, .03, .02, .70}, .0312, .0383, .0038, []float64{.035, .195, .468, .303}, []float64{.055, .203, .738, .004}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table := yesNo(tt.yes...)
			assert.InDelta(t, tt.chance, chance(p, table[0]), 5e-5)
			gain := lindley(p, table, alone(4))
			assert.InDelta(t, tt.gain, gain, 5e-5)
			assert.InDelta(t, tt.perMinute, gain/tt.minutes, 5e-5)
			yes, no := posterior(p, table[0]), posterior(p, table[1])
			for i := range p {
				assert.InDelta(t, tt.ifYes[i], yes[i], 6e-4)
				assert.InDelta(t, tt.ifNo[i], no[i], 6e-4)
			}
		})
	}
	// Prior .5, sensitivity .9, specificity .8.
	half := []float64{0.5, 0.5}
	assert.InDelta(t, 0.3973, lindley(half, yesNo(0.9, 0.2), alone(2)), 5e-5)
	assert.InDelta(t, 0.8182, posterior(half, []float64{0.9, 0.2})[0], 5e-5)
	assert.InDelta(t, 0.1111, posterior(half, []float64{0.1, 0.8})[0], 5e-5)
}

// source: Good 1950; a ratio of 2, 10, 100 is 3.01, 10, 20 deciban.
func TestOddsAndDecibans(t *testing.T) {
	assert.InDelta(t, 0.7742, posterior([]float64{0.3, 0.7}, []float64{8, 1})[0], 5e-5)
	for ratio, want := range map[float64]float64{2: 3.01, 10: 10, 100: 20} {
		assert.InDelta(t, want, decibans(ratio), 5e-3)
	}
}

// Probability over cost gives the least expected cost (Kadane & Simon 1977):
// 51.75 in this example, the least of all 24 orders.
func TestOrderByProbabilityOverCost(t *testing.T) {
	type try struct {
		name    string
		p, cost float64
	}
	tries := []try{{"controller", .10, 90}, {"capacitor", .45, 45}, {"cable", .20, 2}, {"flex", .25, 20}}
	slices.SortFunc(tries, func(a, b try) int {
		if perCost(a.p, a.cost) > perCost(b.p, b.cost) {
			return -1
		}
		return 1
	})
	var order []string
	cost, left := 0.0, 1.0
	for _, x := range tries {
		order = append(order, x.name)
		cost += left * x.cost
		left -= x.p
	}
	assert.Equal(t, []string{"cable", "flex", "capacitor", "controller"}, order)
	assert.InDelta(t, 51.75, cost, 1e-9)
}

func TestCap(t *testing.T) {
	assert.Equal(t, []float64{1, 0.05, 0.5}, capped([]float64{1, 0, 0.5}, 20))
}

// Facts of one node are capped as one: ten readings of a short carry no more
// than the cap of one.
func TestOneNodeCountsOnce(t *testing.T) {
	m := newModel()
	one := m.observe(mainRailOhms().topic, signs.Exactly(short), "")
	many := slices.Repeat([]observation{one}, 10)
	p, q := m.weigh([]observation{one}), m.weigh(many)
	i, h := m.index(railShort), m.index(healthyPart)
	assert.LessOrEqual(t, q[i]/q[h], nodeCap*m.prior[i]/m.prior[h]*1.0001)
	assert.LessOrEqual(t, p[i]/p[h], nodeCap*m.prior[i]/m.prior[h]*1.0001)
	assert.False(t, math.IsNaN(q[i]))
}

func TestPriorsAndShares(t *testing.T) {
	m := newModel()
	total, seenParts := 0.0, map[string]bool{}
	for i, c := range m.classes {
		require.Greater(t, m.prior[i], 0.0)
		require.NotEmpty(t, c.reason)
		require.NotEmpty(t, c.confirm)
		require.False(t, seenParts[c.part])
		seenParts[c.part] = true
		total += c.prior
		row := 0.0
		for _, s := range m.share[i] {
			row += s
		}
		assert.InDelta(t, 1, row, 1e-12, c.part)
	}
	assert.InDelta(t, 1, total, 1e-9)
	// The unknown is spread as the rest is: 0.125 + 0.07 + 0.015 of 0.975 before
	// the port.
	assert.InDelta(t, 0.21/0.975, m.share[m.index(unknownPart)][0], 1e-9)
	// A shorted ceramic capacitor on the main rail comes in most often: common practice.
	for i, c := range m.classes {
		if c.location == "behind-port" && c.part != railShort {
			assert.Less(t, m.prior[i], m.prior[m.index(railShort)])
		}
	}
}

// lindley is the gain where nothing is capped and the outcomes are independent.
func lindley(p []float64, table, share [][]float64) float64 {
	left := func(i int) float64 { return entropyBits(grouped(posterior(p, table[i]), share)) }
	return gainBits(entropyBits(grouped(p, share)), p, table, left)
}

// Meter and messages together are right more often than their tables say, where these say more
// than even; the order of the locations stays, and certainty comes from the tables alone.
func TestConfident(t *testing.T) {
	both, alone := newModel(), newModel()
	both.both = true
	for _, said := range []float64{0.3, 0.5, 0.55, 0.6, 0.7, 0.8, 0.85, 0.89, 0.9, 0.97} {
		p := make([]float64, len(both.classes))
		p[both.index(railShort)], p[both.index(controller)], p[both.index(healthyPart)] = said, (1-said)*0.7, (1-said)*0.3
		assert.Equal(t, p, alone.confident(p), "%g", said)
		q := both.confident(p)
		before, after := grouped(p, both.share), grouped(q, both.share)
		sum := 0.0
		for i := range before {
			sum += after[i]
			for j := range before {
				if before[i] > before[j] {
					assert.Greater(t, after[i], after[j], "%g", said)
				}
			}
		}
		assert.InDelta(t, 1, sum, 1e-9)
		top := slices.Max(after)
		switch {
		case said <= 0.55 || said >= 0.895:
			assert.InDelta(t, slices.Max(before), top, 1e-9, "%g", said)
		default:
			assert.Greater(t, top, said)
			assert.Less(t, top, 0.9)
		}
	}
}

// A machine that may well be sound is not opened, a charger is tried all the same, and what is held back goes to the others in their
// shares.
func TestSpared(t *testing.T) {
	m := newModel()
	for _, c := range []struct{ behind, sound, want float64 }{
		{0.7, 0.25, 0.595}, {0.7, 0.22, 0.595}, {0.7, 0.2, 0.667857}, {0.7, 0.15, 0.7}, {0.84, 0.1, 0.84}, {0.5, 0.4, 0.5}, {0.2, 0.75, 0.2},
	} {
		p := make([]float64, len(m.classes))
		p[m.index(railShort)], p[m.index(controller)], p[m.index(healthyPart)] = c.behind, 1-c.behind-c.sound, c.sound
		at := grouped(m.reserved(p), m.share)
		assert.InDelta(t, c.want, at[slices.Index(locations(), rules.BehindPort)], 1e-6, "%g beside %g", c.behind, c.sound)
		p[m.index(railShort)], p[m.index(source)] = 0, c.behind
		assert.InDelta(t, c.behind, grouped(m.reserved(p), m.share)[slices.Index(locations(), rules.BeforePort)], 1e-9, "a charger")
		assert.InDelta(t, (1-c.behind-c.sound)/c.sound, at[slices.Index(locations(), rules.AtPort)]/at[slices.Index(locations(), rules.Healthy)], 1e-9)
	}
}

// What is nearly certain is held back below 0.9, in the same order; what is certain stays, and so
// does what is far from it.
func TestReserved(t *testing.T) {
	m := newModel()
	for said, want := range map[float64]float64{0.3: 0.3, 0.6: 0.6, 0.89: 0.89, 0.9: 0.895, 0.93: 0.895, 0.95: 0.895, 0.97: 0.97, 0.99: 0.99} {
		p := make([]float64, len(m.classes))
		p[m.index(railShort)], p[m.index(controller)], p[m.index(healthyPart)] = said, (1-said)*0.7, (1-said)*0.3
		at := grouped(m.reserved(p), m.share)
		behind, port, sound := at[slices.Index(locations(), rules.BehindPort)], at[slices.Index(locations(), rules.AtPort)], at[slices.Index(locations(), rules.Healthy)]
		assert.InDelta(t, want, behind, 1e-9, "%g", said)
		assert.InDelta(t, 7.0/3, port/sound, 1e-9, "%g", said)
		assert.InDelta(t, 1, behind+port+sound, 1e-9, "%g", said)
	}
}
