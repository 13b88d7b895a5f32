package location

import (
	"cmp"
	"math"
	"slices"

	"portside/decode/probe"
)

// stage is what holds in the middle of a plan, with the readings so far taken as
// foreseen.
type stage struct {
	*opinion
	sheet    *sheet
	shown    shown
	readings []probe.Reading
	nodes    []observation // joined
	raw      []float64     // by class, before it is settled
	p        []float64     // by class
	opened   bool          // the case is
}

// now is the stage that the opinion itself is at.
func (c *opinion) now() *stage {
	s := &stage{opinion: c, sheet: newSheet(c.model, pathOf(c.Picture)), shown: pathOf(c.Picture), readings: c.Readings, nodes: joined(c.facts), raw: c.weigh(c.facts), opened: c.insideRead()}
	s.p = c.settle(slices.Clone(s.raw))
	return s
}

// after is the stage once a measurement has come to an outcome.
func (s *stage) after(q measurement, outcome int) *stage {
	n := *s
	n.opened = s.opened || q.inside
	n.readings = append(slices.Clip(s.readings), q.example(outcome))
	o := s.observation(q, outcome)
	n.raw = s.weighed(o)
	n.p = s.settle(slices.Clone(n.raw))
	if i := s.node(o.node); i >= 0 {
		n.nodes = slices.Clone(s.nodes)
		n.nodes[i] = n.nodes[i].with(o)
	} else {
		n.nodes = append(slices.Clip(s.nodes), o)
	}
	switch q.reading {
	case "charger-input-v":
		n.shown.input = state(n.readings, q.reading)
	case "main-rail-v":
		n.shown.rail = state(n.readings, q.reading)
	}
	return &n
}

func (s *stage) observation(q measurement, outcome int) observation {
	return observation{node: q.topic.name, cap: q.topic.cap, like: q.likelihoods(s.model)[outcome]}
}

func (s *stage) node(name string) int {
	return slices.IndexFunc(s.nodes, func(x observation) bool { return x.node == name })
}

// weighed is the posterior with one observation more, as the verdict itself would
// weigh it: with what the node has read already and within the same limits.
func (s *stage) weighed(o observation) []float64 {
	i := s.node(o.node)
	if i < 0 {
		return posterior(s.raw, s.weight(o))
	}
	change := s.weight(s.nodes[i].with(o))
	for j, was := range s.weight(s.nodes[i]) {
		change[j] /= was
	}
	return posterior(s.raw, change)
}

// example is a reading that comes to an outcome.
func (m measurement) example(outcome int) probe.Reading {
	r := probe.Reading{Name: m.reading, Value: math.NaN(), Word: m.topic.rows[outcome].outcome}
	from := 0.0
	for _, b := range m.bands {
		if b.outcome == r.Word {
			return probe.Reading{Name: m.reading, Value: (from + min(b.below, 9*from)) / 2}
		}
		from = b.below
	}
	if m.topic.name == ccNode {
		return probe.Reading{Name: m.reading, Value: from}
	}
	return r
}

// doubt is what is left to learn about the location, in bits: nothing once one is
// certain, since then nothing more is asked.
func doubt(at []float64) float64 {
	if slices.Max(at) >= certainFrom {
		return 0
	}
	return entropyBits(at)
}

// side is the place of the location that is named, or -1.
func side(at []float64) int {
	if most := slices.Max(at); most >= namedFrom {
		return slices.Index(at, most)
	}
	return -1
}

func (s *stage) doubt() float64 { return doubt(grouped(s.p, s.share)) }

// offers are the measurements that may be taken: what is given is not asked again,
// and nothing is powered before the cold readings that stand before it.
func (s *stage) offers() []measurement {
	cold, shorted := s.due()
	return slices.DeleteFunc(secondLooks(s.sheet.measurements(s.shown, s.readings), s.readings), func(q measurement) bool {
		_, given := probe.Find(s.readings, q.reading)
		return given || q.again || q.powers && (len(cold) > 0 || shorted)
	})
}

func (s *stage) minutes(q measurement) float64 {
	if q.inside && !s.opened {
		return q.minutes + OpenMinutes
	}
	return q.minutes
}

// course is what a measurement, or it and what follows it, is expected to tell and
// to take.
type course struct {
	bits  float64
	takes float64 // minutes
}

func (c course) rate() float64 { return c.bits / c.takes }

// forecast is one measurement with the outcomes that may come.
type forecast struct {
	measurement
	course
	from     *stage
	turns    bool // an outcome that may come would change the verdict
	outcomes []branch
}

type branch struct {
	outcome int
	chance  float64
	doubt   float64
}

// likeliest is the outcome that comes most often.
func (f forecast) likeliest() branch {
	return slices.MaxFunc(f.outcomes, func(a, b branch) int { return cmp.Compare(a.chance, b.chance) })
}

// foresee weighs each outcome that may come.
func (s *stage) foresee(q measurement) forecast {
	f := forecast{measurement: q, from: s}
	now, table := grouped(s.p, s.share), q.likelihoods(s.model)
	f.takes = s.minutes(q)
	f.bits = gainBits(doubt(now), s.p, table, func(i int) float64 {
		at := grouped(s.settle(s.weighed(s.observation(q, i))), s.share)
		b := branch{i, chance(s.p, table[i]), doubt(at)}
		f.turns = f.turns || b.chance >= mayCome && side(at) != side(now)
		f.outcomes = append(f.outcomes, b)
		return b.doubt
	})
	return f
}

// forecasts of all that may be measured.
func (s *stage) forecasts() []forecast {
	var out []forecast
	for _, q := range s.offers() {
		out = append(out, s.foresee(q))
	}
	return out
}

// foreseeFrom is the chance from which an outcome is followed: rarer ones cost
// time and change no order. Found by trial.
const foreseeFrom = 0.10

// twoSteps is a measurement with the best one after each of its outcomes: the
// second only where it makes more bits a minute of the two. So a case is opened
// for all that it gives access to, and one CC line is read for the pair.
func (f forecast) twoSteps() course {
	type follower struct {
		chance float64
		next   []forecast
	}
	var then []follower
	for _, b := range f.outcomes {
		if b.chance >= foreseeFrom && b.doubt > 0 {
			then = append(then, follower{b.chance, f.from.after(f.measurement, b.outcome).forecasts()})
		}
	}
	best := f.course
	for {
		both := f.course
		for _, t := range then {
			var more course
			for _, n := range t.next {
				if x := n.bits - best.rate()*n.takes; x > more.bits-best.rate()*more.takes {
					more = n.course
				}
			}
			both.bits, both.takes = both.bits+t.chance*more.bits, both.takes+t.chance*more.takes
		}
		if both.rate() <= best.rate()*(1+1e-9) {
			return best
		}
		best = both
	}
}

// outside is what the measurements that need no open case tell together, as long
// as each reads what it most likely does; names is nil where they leave doubt.
func (s *stage) outside() (names []string, all course) {
	reach := 1.0
	all.bits = s.doubt()
	for s.doubt() > 0 {
		list := slices.DeleteFunc(s.forecasts(), func(f forecast) bool { return f.inside })
		if len(list) == 0 {
			return nil, all
		}
		f := slices.MaxFunc(list, func(a, b forecast) int { return cmp.Compare(a.rate(), b.rate()) })
		next := f.likeliest()
		for _, b := range f.outcomes {
			if b.outcome != next.outcome {
				all.bits -= reach * b.chance * b.doubt
			}
		}
		names, all.takes = append(names, f.reading), all.takes+reach*f.takes
		reach, s = reach*next.chance, s.after(f.measurement, next.outcome)
	}
	return names, all
}

// due are the cold readings that stand before any power, and whether power
// is off the table because one of these nodes has read a short, whatever part that
// speaks for.
func (s *stage) due() (cold []string, shorted bool) {
	for _, g := range gates() {
		shorted = shorted || s.readsShort(g.cold)
		if s.p[s.index(g.short)] >= unsafeFrom && !s.readAny(g.cold) {
			cold = append(cold, g.cold...)
		}
	}
	return cold, shorted
}

func (s *stage) readAny(names []string) bool {
	return slices.ContainsFunc(names, func(n string) bool { _, given := probe.Figure(s.readings, n); return given })
}

func (s *stage) readsShort(names []string) bool {
	for _, q := range s.sheet.cold {
		r, given := probe.Find(s.readings, q.reading)
		if outcome, ok := q.outcome(r); given && ok && outcome == short && slices.Contains(names, q.reading) {
			return true
		}
	}
	return false
}
