package location

import (
	"cmp"
	"slices"

	"portside/decode/probe"
	"portside/decode/rules"
	"portside/decode/signs"
)

// Change is a reading that would change the verdict, and what it would then be.
type Change struct {
	Reading     string         `json:"reading"`
	Test        string         `json:"test"`
	Reads       string         `json:"reads"`    // what it would have to read
	Location    rules.Location `json:"location"` // named then, or undetermined
	Probability float64        `json:"probability"`
}

const (
	mindsShown = 2    // readings that are worth naming
	mindMoves  = 0.10 // of the probability: less is no change of mind. Common practice
)

// changes are the readings that would change a named location, the likeliest outcome
// first; where none would, the one that takes most from it. What must not be powered
// is not among them.
func (c *opinion) changes() []Change {
	before := c.byLocation(c.p)
	name := named(before)
	if name == rules.Undetermined {
		return []Change{}
	}
	type mind struct {
		Change
		turns  bool
		chance float64
		left   float64 // of the location that is named now
	}
	var all []mind
	cold, shorted := c.now().due()
	for _, q := range secondLooks(measurements(pathOf(c.Picture), c.Readings), c.Readings) {
		if _, given := probe.Find(c.Readings, q.reading); given || q.again || q.powers && (len(cold) > 0 || shorted) {
			continue
		}
		best := mind{left: 1}
		for i, outcome := range q.topic.likelihoods(c.model) {
			o := c.observe(q.topic, signs.Exactly(q.topic.rows[i].outcome), "")
			after := c.byLocation(c.settle(c.weigh(append(slices.Clone(c.facts), o))))
			x := mind{turns: named(after) != name, chance: chance(c.p, outcome), left: after[name]}
			if x.turns == best.turns && x.left >= best.left || best.turns && !x.turns {
				continue
			}
			x.Change = Change{q.reading, q.words, q.topic.rows[i].reads, named(after), after[ranked(after)[0]]}
			best = x
		}
		if best.left < before[name]-mindMoves {
			all = append(all, best)
		}
	}
	slices.SortStableFunc(all, func(a, b mind) int {
		if a.turns != b.turns {
			if a.turns {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(a.left, b.left), cmp.Compare(b.chance, a.chance))
	})
	out := []Change{}
	for _, x := range all[:min(len(all), mindsShown)] {
		out = append(out, x.Change)
	}
	return out
}
