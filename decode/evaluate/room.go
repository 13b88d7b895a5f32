package evaluate

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/probe"
)

// The search for a quicker way keeps the best few sets of readings of each size.
const (
	roomWidth = 8
	roomSteps = 8
)

// attempt is a set of readings with what the verdict makes of them.
type attempt struct {
	given   []probe.Reading
	minutes float64
	seen    *decode.Diagnosis
}

// Quickest searches for the fewest minutes in which readings that the verdict lets
// take, in the order of whoever knows beforehand what each will read, make the truth
// certain; infinite where it finds none within the limit.
func Quickest(c Case, inputs string, limit float64) (float64, error) {
	unit, err := take(c, inputs)
	if err != nil {
		return 0, err
	}
	best := math.Inf(1)
	tries := []attempt{{seen: unit.diagnose(nil)}}
	for range roomSteps {
		var next []attempt
		tried := map[string]bool{}
		for _, a := range tries {
			for _, t := range a.seen.Next {
				b, ok, err := a.with(c, t)
				if err != nil {
					return 0, err
				}
				if !ok || b.minutes > limit || b.minutes >= best || tried[b.key()] {
					continue
				}
				tried[b.key()] = true
				b.seen = unit.diagnose(b.given)
				switch {
				case b.seen.Verdict.Locations[c.Truth] >= certain:
					best = b.minutes
				case b.seen.Verdict.Probability < certain:
					next = append(next, b)
				}
			}
		}
		slices.SortStableFunc(next, func(a, b attempt) int { return cmp.Compare(a.left(c), b.left(c)) })
		tries = next[:min(len(next), roomWidth)]
	}
	return best, nil
}

// with takes one reading more, where there is such a thing.
func (a attempt) with(c Case, t location.Test) (attempt, bool, error) {
	if t.Reading == nil {
		return attempt{}, false, nil
	}
	r, err := answer(c, *t.Reading)
	return attempt{given: append(slices.Clone(a.given), r), minutes: a.minutes + t.Minutes}, r.Word != "none", err
}

// key names the readings, in whatever order they were taken.
func (a attempt) key() string {
	var names []string
	for _, r := range a.given {
		names = append(names, r.Name)
	}
	slices.Sort(names)
	return strings.Join(names, " ")
}

// halvesIn is how many minutes it is worth to halve the doubt, for the order in which
// sets are followed. Found by trial.
const halvesIn = 5.5

// left ranks a set: by its minutes and by what they leave to prove.
func (a attempt) left(c Case) float64 {
	return a.minutes + halvesIn*math.Log2(1-a.seen.Verdict.Locations[c.Truth])
}
