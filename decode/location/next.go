package location

import (
	"cmp"
	"slices"

	"portside/decode/rules"
)

// Safety and worth of a test.
const (
	unsafeFrom = 0.30  // a short this likely is read cold before anything is powered
	leastGain  = 0.002 // bit: less is not worth a minute
	surerGain  = 0.002 // bit: once a location is named, what only makes it surer must tell this
)

// Cautions. Local codes and licensed practice come before any of them.
const (
	coldCaution    = "wall charger unplugged and battery disconnected first; wait until the rail is below 0.5 V"
	poweredCaution = "this powers the unit: wear eye protection, unplug at once if anything heats, smokes or smells; a swollen or hot battery stops the work. Local codes and licensed practice come first"
)

// gates are the nodes whose short must be read cold before power.
func gates() []struct {
	short part
	cold  []string
} {
	return []struct {
		short part
		cold  []string
	}{
		{railShort, []string{"main-rail-ohm", "main-rail-diode-v"}},
		{vbusShort, []string{"vbus-ohm"}},
		{inputShort, []string{"charger-input-ohm"}},
		{downstream, []string{"always-on-rail-ohm"}},
	}
}

// due are the cold readings that stand before any power, and whether power
// is off the table because one of them has read a short.
func (c *opinion) due() (cold []string, shorted bool) {
	for _, g := range gates() {
		if c.probability(g.short) < unsafeFrom {
			continue
		}
		if c.readAny(g.cold) {
			shorted = shorted || c.readsShort(g.cold)
			continue
		}
		cold = append(cold, g.cold...)
	}
	return cold, shorted
}

func (c *opinion) readAny(names []string) bool {
	return slices.ContainsFunc(names, func(n string) bool { _, given := figure(c.Readings, n); return given })
}

func (c *opinion) readsShort(names []string) bool {
	for _, q := range measurements(c.shown(), nil) {
		r, given := find(c.Readings, q.reading)
		if outcome, ok := q.outcome(r); given && ok && outcome == short && slices.Contains(names, q.reading) {
			return true
		}
	}
	return false
}

// next lists the measurements by safety, then by information a minute.
func (c *opinion) next() []Test {
	out := []Test{}
	at := c.byLocation(c.p)
	if at[ranked(at)[0]] >= certainFrom {
		return out
	}
	cold, shorted := c.due()
	closed, least := !c.insideRead(), leastGain
	if named(at) != rules.Undetermined {
		least = surerGain
	}
	for _, q := range measurements(c.shown(), c.Readings) {
		if _, given := find(c.Readings, q.reading); given || q.powers && (len(cold) > 0 || shorted) {
			continue
		}
		table := q.topic.likelihoods(c.model)
		gain := gainBits(c.p, c.shared(q, table), c.share)
		if gain < least && !c.turns(q) && !slices.Contains(cold, q.reading) {
			continue
		}
		out = append(out, c.test(q, table, gain, closed))
	}
	slices.SortStableFunc(out, func(a, b Test) int {
		if x, y := slices.Contains(cold, *a.Reading), slices.Contains(cold, *b.Reading); x != y {
			if x {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.GainBits/b.Minutes, a.GainBits/a.Minutes)
	})
	return out
}

// insideRead reports that the case is open already.
func (c *opinion) insideRead() bool {
	for _, q := range measurements(c.shown(), nil) {
		if _, given := find(c.Readings, q.reading); given && q.inside {
			return true
		}
	}
	return false
}

// secondLook is how much a second reading of a node still tells by itself:
// an ohm and a diode reading of one short are nearly one fact. Common
// practice.
const secondLook = 0.2

// shared is the table of a test, thinned where its node has been read.
func (c *opinion) shared(q measurement, table [][]float64) [][]float64 {
	if !slices.ContainsFunc(c.facts, func(o observation) bool { return o.node == q.topic.name }) {
		return table
	}
	out := make([][]float64, len(table))
	for i, outcome := range table {
		mean := chance(c.p, outcome)
		out[i] = make([]float64, len(outcome))
		for j, x := range outcome {
			out[i][j] = secondLook*x + (1-secondLook)*mean
		}
	}
	return out
}

// turns reports whether an outcome that may come would change the verdict.
func (c *opinion) turns(q measurement) bool {
	before := named(c.byLocation(c.p))
	for i, outcome := range q.topic.likelihoods(c.model) {
		if chance(c.p, outcome) < leastGain {
			continue
		}
		o := c.observe(q.topic, exactly(q.topic.rows[i].outcome), "")
		facts := append(slices.Clone(c.facts), o)
		if named(c.byLocation(c.settle(c.weigh(facts)))) != before {
			return true
		}
	}
	return false
}

func (c *opinion) test(q measurement, table [][]float64, gain float64, closed bool) Test {
	t := Test{Test: q.words, Reading: &q.reading, GainBits: gain, Minutes: q.minutes, Expect: c.expect(q.topic, table)}
	if q.inside && closed {
		t.Minutes += OpenMinutes
	}
	caution := poweredCaution
	if !q.powers {
		caution = coldCaution
	}
	t.Caution = &caution
	return t
}

// expect says what the test most likely reads if the fault lies there.
func (c *opinion) expect(t topic, table [][]float64) map[rules.Location]string {
	out := map[rules.Location]string{}
	for place, l := range locations() {
		best, reads := -1.0, ""
		for i, outcome := range table {
			x := 0.0
			for j := range outcome {
				x += c.p[j] * c.share[j][place] * outcome[j]
			}
			if x > best {
				best, reads = x, t.rows[i].reads
			}
		}
		out[l] = reads
	}
	return out
}
