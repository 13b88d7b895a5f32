package location

import (
	"cmp"
	"fmt"
	"slices"

	"portside/decode/probe"
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
	firstCaution   = coldCaution + "; this comes before any test that powers the unit, since a short here would be fed"
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

// next lists the measurements by safety, then by information a minute.
func (c *opinion) next() []Test {
	out := []Test{}
	now := c.now()
	if now.doubt() == 0 {
		return out
	}
	cold, _ := now.due()
	list := now.forecasts()
	for i, bits := range now.worth(list) {
		f := list[i]
		if bits < leastGain && !f.turns && !slices.Contains(cold, f.reading) {
			continue
		}
		t := c.test(f, bits)
		if slices.Contains(cold, f.reading) {
			t.Caution = new(firstCaution)
		}
		out = append(out, t)
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

// worth is what each measurement tells, in bits. Where it begins a course of several
// that tells more a minute than any one alone, it is its share of what they tell
// together, by minutes.
func (s *stage) worth(list []forecast) []float64 {
	alone, out := 0.0, make([]float64, len(list))
	for i, f := range list {
		out[i], alone = f.bits, max(alone, f.rate())
	}
	names, together := s.outside()
	for i, f := range list {
		rate := f.twoSteps().rate()
		if slices.Contains(names, f.reading) {
			rate = max(rate, together.rate())
		}
		if rate > alone {
			out[i] = rate * f.takes
		}
	}
	return out
}

// insideRead reports that the case is open already.
func (c *opinion) insideRead() bool {
	for _, q := range measurements(pathOf(c.Picture), nil) {
		if _, given := probe.Find(c.Readings, q.reading); given && q.inside {
			return true
		}
	}
	return false
}

func (c *opinion) test(f forecast, bits float64) Test {
	t := Test{Test: f.words, Reading: &f.reading, GainBits: bits, Minutes: f.takes, Expect: c.expect(f.topic, f.topic.likelihoods(c.model))}
	caution := poweredCaution
	if !f.powers {
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
