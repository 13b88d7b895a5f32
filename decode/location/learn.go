package location

import (
	"math"
	"slices"

	"portside/decode/rules"
	"portside/decode/signs"
)

// How the weights are found: the most likely ones that are not large without need (a penalised
// likelihood), by steps along the gradient (Adam, Kingma & Ba 2015). Which of several values is
// taken was decided on benches left out.
const (
	foundMost     = 6   // decibans: a factor of four, for what one outcome may add
	foundNeed     = 2.0 // cases' worth of evidence that a weight of one neper must have
	foundTaken    = 0.5 // of it: a bench that nobody has seen is never quite like those
	accusePrice   = 5.0 // of a sound machine, over what is lost in likelihood,
	overlookPrice = 0.5 // and of a fault that is called sound
	rounds        = 200
	step          = 0.05
	fineStep      = 0.015 // in the last third

	neperDecibans = 10 / (math.Ln10 * sharpness) // of a neper, before the tables are sharpened
)

// atOdds are outcomes on which the trade itself is at odds, so that cases of one author tell no more
// than a habit: where a machine stays at 5 V a dead controller and a shorted main rail, for which it
// waits, are named about as often, and so is what pulses there; at a contract a full battery may draw
// nothing. Common practice.
func atOdds() []string {
	return []string{
		"power-up: " + signs.Unanswered, "power-up: " + signs.NoRequest, "power-up: " + signs.Contract5V,
		"draw at 5 V: " + signs.DrawNone, "draw at 5 V: " + signs.DrawStandby,
		"draw at 5 V: " + signs.DrawFast, "draw at 5 V: " + signs.DrawCharger, "draw at 5 V: " + signs.DrawSlow,
		"draw: " + signs.DrawNone, "asked at 5 V: " + signs.AsksAll, "asked at 5 V: " + signs.AsksPart,
	}
}

// usual are outcomes that most recordings show: they would tell no more than how many cases of each
// side somebody chose to draw.
func usual() []string {
	return []string{
		"power-up: " + signs.ContractHigh, "start: " + signs.StartSmooth, "series resistance: " + signs.SeriesSound,
		"draw before the contract: " + signs.EarlyNone, "capability mismatch: " + signs.Content, "findings: fault",
	}
}

// Lessons are recordings whose answer is known.
type Lessons struct {
	model model
	index map[string]int
	names []string
	all   []lesson
}

// lesson is one of them, as the tables alone weigh it.
type lesson struct {
	truth int
	log   []float64 // by class
	shows []lessonPortion
}

type lessonPortion struct {
	outcome int
	of      float64
}

// NewLessons begins without what was found before.
func NewLessons() *Lessons {
	l := &Lessons{model: newModel(), index: map[string]int{}}
	l.model.found = nil
	return l
}

// Add takes one recording. What was read at the bench is left out.
func (l *Lessons) Add(e signs.Evidence, truth rules.Location) {
	side := slices.Index(locations(), truth)
	if side < 0 {
		return
	}
	unlearned := slices.Concat(atOdds(), usual())
	x := lesson{truth: side, log: make([]float64, len(l.model.classes))}
	for _, o := range joined(l.model.observations(signs.Look(e))) {
		if !o.seen {
			continue
		}
		for i, w := range l.model.weight(o) {
			x.log[i] += math.Log(w)
		}
		for _, s := range o.shows {
			if slices.Contains(unlearned, s.outcome) {
				continue
			}
			if _, known := l.index[s.outcome]; !known {
				l.index[s.outcome] = len(l.names)
				l.names = append(l.names, s.outcome)
			}
			x.shows = append(x.shows, lessonPortion{l.index[s.outcome], s.of})
		}
	}
	l.all = append(l.all, x)
}

// Found are the weights that make the lessons' answers likely.
func (l *Lessons) Found() Found {
	sides := len(locations())
	nepers := make([]float64, sides*len(l.names))
	mean, square := make([]float64, len(nepers)), make([]float64, len(nepers))
	for round := 1.0; round <= rounds; round++ {
		slope := l.slope(nepers)
		size := step
		if round > rounds*2/3 {
			size = fineStep
		}
		for i, g := range slope {
			g += 2 * foundNeed * nepers[i]
			mean[i] = 0.9*mean[i] + 0.1*g
			square[i] = 0.99*square[i] + 0.01*g*g
			nepers[i] -= size * mean[i] / (1 - math.Pow(0.9, round)) / (math.Sqrt(square[i]/(1-math.Pow(0.99, round))) + 1e-8)
			nepers[i] = max(-foundMost/neperDecibans, min(foundMost/neperDecibans, nepers[i]))
		}
	}
	out, cases := Found{}, make([]float64, len(l.names))
	for _, x := range l.all {
		for _, s := range x.shows {
			cases[s.outcome] += s.of
		}
	}
	for i, name := range l.names {
		at := nepers[sides*i:]
		const scale = foundTaken * neperDecibans
		out[name] = Sides{at[0] * scale, at[1] * scale, at[2] * scale, at[3] * scale, int(math.Round(cases[i]))}
	}
	return out
}

// slope is the gradient of what the lessons cost, by outcome and side.
func (l *Lessons) slope(nepers []float64) []float64 {
	m, sides := l.model, len(locations())
	out := make([]float64, len(nepers))
	sound, soundSide := m.index(healthyPart), slices.Index(locations(), rules.Healthy)
	byClass := make([]float64, len(m.classes))
	for _, x := range l.all {
		shown := l.shown(x, nepers)
		p := posterior(m.prior, m.unexercised(slices.Clone(shown)))
		at := grouped(p, m.share)
		mass := 0.0
		for i, c := range m.classes {
			mass += m.prior[i] * ((1-c.hides)*shown[i] + c.hides*shown[sound])
		}
		// What one neper more for a class does to the cost, through each side's share.
		pull := make([]float64, sides)
		pull[x.truth]--
		for j := range pull {
			switch fourth := math.Pow(at[j], 4); {
			case x.truth == soundSide && j != soundSide:
				pull[j] += accusePrice * 4 * fourth
			case x.truth != soundSide && j == soundSide:
				pull[j] += overlookPrice * 4 * fourth
			}
		}
		clear(byClass)
		for i, c := range m.classes {
			d := 0.0
			for j, by := range pull {
				if at[j] > 0 {
					d += by * (m.share[i][j]/at[j] - 1) / mass
				}
			}
			byClass[i] += m.prior[i] * (1 - c.hides) * shown[i] * d
			byClass[sound] += m.prior[i] * c.hides * shown[sound] * d
		}
		for i, c := range m.classes {
			if side := slices.Index(locations(), c.location); side >= 0 {
				for _, s := range x.shows {
					out[sides*s.outcome+side] += byClass[i] * s.of
				}
			}
		}
	}
	return out
}

// shown is what a lesson's recording multiplies the classes by, the largest 1.
func (l *Lessons) shown(x lesson, nepers []float64) []float64 {
	sides := len(locations())
	out := slices.Clone(x.log)
	for i, c := range l.model.classes {
		if side := slices.Index(locations(), c.location); side >= 0 {
			for _, s := range x.shows {
				out[i] += s.of * nepers[sides*s.outcome+side]
			}
		}
	}
	most := slices.Max(out)
	for i := range out {
		out[i] = math.Exp(out[i] - most)
	}
	return out
}
