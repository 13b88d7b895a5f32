package location

import (
	"cmp"
	"fmt"
	"slices"

	"portside/decode/rules"
)

// Safety and worth of a test.
const (
	unsafeFrom = 0.30  // a short this likely is read cold before anything is powered
	leastGain  = 0.002 // bit: less is not worth a minute
	mayCome    = 0.005 // an outcome less likely than this is not waited for
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
// is off the table because one of these nodes has read a short, whatever part that
// speaks for.
func (c *opinion) due() (cold []string, shorted bool) {
	for _, g := range gates() {
		shorted = shorted || c.readsShort(g.cold)
		if c.probability(g.short) >= unsafeFrom && !c.readAny(g.cold) {
			cold = append(cold, g.cold...)
		}
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
	closed := !c.insideRead()
	for _, q := range secondLooks(measurements(c.shown(), c.Readings), c.Readings) {
		if _, given := find(c.Readings, q.reading); given || q.again || q.powers && (len(cold) > 0 || shorted) {
			continue
		}
		f := c.foresee(q)
		gain := max(f.gain, c.pairGain(q)/2)
		if gain < leastGain && !f.turns && !slices.Contains(cold, q.reading) {
			continue
		}
		out = append(out, c.test(q, gain, closed))
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

// forecast is what a measurement is expected to bring.
type forecast struct {
	gain  float64 // bit about the location
	turns bool    // an outcome that may come would change the verdict
}

// foresee weighs each outcome that may come as the verdict itself would (Lindley
// 1956): with what the node has read already, and within the same limits.
func (c *opinion) foresee(q measurement) forecast {
	var f forecast
	before, table := named(c.byLocation(c.p)), q.topic.likelihoods(c.model)
	f.gain = gainBits(c.p, table, c.share, func(i int) []float64 {
		o := c.observe(q.topic, exactly(q.topic.rows[i].outcome), "")
		after := c.settle(c.weigh(append(slices.Clone(c.facts), o)))
		f.turns = f.turns || chance(c.p, table[i]) >= mayCome && named(c.byLocation(after)) != before
		return after
	})
	return f
}

// pairGain is what both CC lines tell together: one alone says little, since
// many controllers show Rd only to a source that pulls.
func (c *opinion) pairGain(q measurement) float64 {
	if q.topic.name != ccNode || q.bands == nil {
		return 0
	}
	q.topic = ccPairTopic()
	return c.foresee(q).gain
}

func (c *opinion) test(q measurement, gain float64, closed bool) Test {
	t := Test{Test: q.words, Reading: &q.reading, GainBits: gain, Minutes: q.minutes, Expect: c.expect(q.topic, q.topic.likelihoods(c.model))}
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

// alsoFrom is the chance from which a second outcome is worth naming. Common practice.
const alsoFrom = 0.10

// expect says what the test most likely reads if the fault lies there, and the
// outcome that speaks most for it there, where it is another.
func (c *opinion) expect(t topic, table [][]float64) map[rules.Location]string {
	out := map[rules.Location]string{}
	at := grouped(c.p, c.share)
	for place, l := range locations() {
		best, tells, most, ratio := 0, 0, -1.0, 1.0
		chances := make([]float64, len(table))
		for i, outcome := range table {
			for j := range outcome {
				chances[i] += c.p[j] * c.share[j][place] * outcome[j]
			}
			rest := (chance(c.p, outcome) - chances[i]) / (1 - at[place])
			chances[i] /= at[place]
			if chances[i] > most {
				best, most = i, chances[i]
			}
			if r := chances[i] / rest; r > ratio {
				tells, ratio = i, r
			}
		}
		out[l] = t.rows[best].reads
		if ratio > 1 && tells != best && chances[tells] >= alsoFrom {
			out[l] += fmt.Sprintf("; or, %.0f times in 100, %s", 100*chances[tells], t.rows[tells].reads)
		}
	}
	return out
}
