package evaluate

import (
	"slices"

	"portside/decode/rules"
)

// Observer says what a recording can separate at all: the shares of the
// locations among simulated cases whose files look alike. It stands apart from
// the engine, and knows the bench's families and their frequencies, which no
// verdict can.
type Observer struct {
	forests map[string]forest
}

// Lesson is what the observer learns from one case, by inputs.
type Lesson struct {
	Truth int
	X     map[string][]float32
}

// Learn takes the features of a case for each of its inputs.
func Learn(c Case) Lesson {
	l := Lesson{Truth: slices.Index(locations, c.Truth), X: map[string][]float32{}}
	for _, in := range Inputs() {
		if c.holds(in) {
			l.X[in] = observe(c.Run, in).x
		}
	}
	return l
}

// NewObserver learns from cases that were drawn apart from those it is to tell.
func NewObserver(lessons []Lesson) *Observer {
	o := &Observer{forests: map[string]forest{}}
	for _, in := range Inputs() {
		var all []example
		for _, l := range lessons {
			if x, ok := l.X[in]; ok {
				all = append(all, example{X: x, Truth: l.Truth})
			}
		}
		if len(all) > 0 {
			o.forests[in] = grow(all, 1)
		}
	}
	return o
}

// Tell gives the shares of the locations for a simulated case.
func (o *Observer) Tell(c Case, inputs string) map[rules.Location]float64 {
	out := map[rules.Location]float64{}
	for i, x := range o.forests[inputs].tell(observe(c.Run, inputs).x) {
		out[locations[i]] = x
	}
	return out
}
