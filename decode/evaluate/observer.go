package evaluate

import (
	"hash/fnv"
	"slices"

	"portside/decode/rules"
)

// Observer says what a recording can separate at all: the shares of the
// locations among simulated cases whose files look alike. It stands apart from
// the engine, and knows the bench's families and their frequencies, which no
// verdict can.
type Observer struct {
	forests map[string]forest
	lessons []Lesson
}

// Lesson is what the observer learns from one case, by inputs.
type Lesson struct {
	Family string
	Truth  int
	X      map[string][]float32
}

// Learn takes the features of a case for each of its inputs.
func Learn(c Case) Lesson {
	l := Lesson{Family: c.Family, Truth: slices.Index(locations, c.Truth), X: map[string][]float32{}}
	for _, in := range Inputs() {
		if c.holds(in) {
			l.X[in] = observe(c.Run, in).x
		}
	}
	return l
}

// NewObserver learns from cases that were drawn apart from those it is to tell.
func NewObserver(lessons []Lesson) *Observer {
	o := &Observer{forests: map[string]forest{}, lessons: lessons}
	for _, in := range Inputs() {
		if all := examples(lessons, in, nil); len(all) > 0 {
			o.forests[in] = grow(all, 1)
		}
	}
	return o
}

// examples are the lessons of an input, without those of some families.
func examples(lessons []Lesson, inputs string, without func(family string) bool) []example {
	var all []example
	for _, l := range lessons {
		if x, ok := l.X[inputs]; ok && (without == nil || !without(l.Family)) {
			all = append(all, example{X: x, Truth: l.Truth})
		}
	}
	return all
}

// Tell gives the shares of the locations for what is seen of a case.
func (o *Observer) Tell(inputs string, seen []float32) map[rules.Location]float64 {
	return byLocation(o.forests[inputs].tell(seen))
}

func byLocation(shares [classes]float64) map[rules.Location]float64 {
	out := map[rules.Location]float64{}
	for i, x := range shares {
		out[locations[i]] = x
	}
	return out
}

// folds are the parts into which the families are cut, so that each case is told by an
// observer that has seen none of its family.
const folds = 8

func fold(family string) uint32 {
	h := fnv.New32a()
	_, _ = h.Write([]byte(family)) // never fails
	return h.Sum32() % folds
}

// Strange tells each case by trees that have seen none of its family: what they make of
// the cases that the observer decides is how much of that it owes to the families.
func (o *Observer) Strange(cases []Judged) {
	for part := range uint32(folds) {
		for _, in := range Inputs() {
			var told forest
			for i, j := range cases {
				if j.Inputs != in || j.seen == nil || fold(j.Family) != part {
					continue
				}
				if told == nil {
					told = grow(examples(o.lessons, in, func(family string) bool { return fold(family) == part }), 1)
				}
				cases[i].stranger = byLocation(told.tell(j.seen))
			}
		}
	}
}
