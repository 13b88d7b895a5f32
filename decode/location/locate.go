package location

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"portside/decode/probe"
	"portside/decode/rules"
	"portside/decode/signs"
)

// Bounds of a verdict, as every surface of the program names them.
const (
	namedFrom   = 0.60 // a location is named
	openFrom    = 0.05 // a location stays open
	certainFrom = 0.95 // nothing more needs to be asked
	unknownFrom = 0.20 // the model says that it does not know
	healthyMost = 0.50 // of a recording that shows a fault
)

// Locate weighs the evidence. It keeps no state, and the same evidence gives
// the same result.
func Locate(e signs.Evidence) Result {
	m, p := newModel(), signs.Look(e)
	m.both = p.Meter() != nil && p.Facts.Negotiation != nil && p.Facts.Negotiation.Messages > 0
	c := opinion{model: m, Picture: p, facts: m.observations(p)}
	c.p = c.settle(m.weigh(c.facts))
	next := c.next()
	r := Result{
		Verdict:  c.verdict(next),
		Suspects: c.suspects(),
		Next:     next,
		NotSeen:  c.notSeen(),
	}
	r.Locate = c.steps(r.Verdict.Location)
	return r
}

// opinion is the posterior with what it rests on.
type opinion struct {
	model
	signs.Picture
	facts []observation
	p     []float64 // by class
}

// settle keeps a recording that shows a fault from being sound: what no
// modelled fault explains is unknown, not healthy.
func (c *opinion) settle(p []float64) []float64 {
	if _, grave := signs.GraveFinding(c.Picture); !grave {
		return p
	}
	h, u := c.index(healthyPart), c.index(unknownPart)
	if over := p[h] - healthyMost; over > 0 {
		p[h] -= over
		p[u] += over
	}
	return p
}

// byLocation sums the classes; the unknown is spread by the prior.
func (c *opinion) byLocation(p []float64) map[rules.Location]float64 {
	out := map[rules.Location]float64{}
	for i, x := range grouped(p, c.share) {
		out[locations()[i]] = x
	}
	return out
}

// ranked are the locations, largest first; ties keep the order of the port.
func ranked(at map[rules.Location]float64) []rules.Location {
	out := locations()
	slices.SortStableFunc(out, func(a, b rules.Location) int { return cmp.Compare(at[b], at[a]) })
	return out
}

// named is the location of a distribution, or undetermined.
func named(at map[rules.Location]float64) rules.Location {
	best := ranked(at)[0]
	if at[best] >= namedFrom {
		return best
	}
	return rules.Undetermined
}

func (c *opinion) verdict(next []Test) Verdict {
	at := c.byLocation(c.p)
	order := ranked(at)
	v := Verdict{
		Location: named(at), Probability: at[order[0]], Locations: at,
		Open: []rules.Location{}, Excluded: []Excluded{}, WouldChange: c.changes(),
	}
	for _, l := range order {
		if at[l] >= openFrom {
			v.Open = append(v.Open, l)
		} else {
			v.Excluded = append(v.Excluded, Excluded{Location: l, Why: c.against(l)})
		}
	}
	v.Summary = c.summary(v, next)
	return v
}

// against names what speaks most against a location, by how far it falls
// behind the field there.
func (c *opinion) against(l rules.Location) string {
	why, worst := "nothing speaks for it, and it is rare from the start", 1.0
	place := slices.Index(locations(), l)
	for _, o := range joined(c.facts) {
		if ratio := c.ratio(o, place); ratio < worst {
			why, worst = o.text, ratio
		}
	}
	return why
}

// ratio is the likelihood of an observation inside a location over that of
// the rest, each weighed by the prior.
func (c *opinion) ratio(o observation, place int) float64 {
	like := c.told(o)
	var inside, insideP, rest, restP float64
	for i, x := range like {
		s := c.prior[i] * c.share[i][place]
		inside, insideP = inside+s*x, insideP+s
		rest, restP = rest+(c.prior[i]-s)*x, restP+c.prior[i]-s
	}
	return (inside / insideP) / (rest / restP)
}

// unknown is what no modelled fault explains, without the share of it that stands
// with the sound machines: the suspects and healthy add up to 1.
func (c *opinion) unknown() float64 {
	i := c.index(unknownPart)
	return c.p[i] * (1 - c.share[i][slices.Index(locations(), rules.Healthy)])
}

// suspects lists every part but healthy, the likeliest first.
func (c *opinion) suspects() []Suspect {
	out := []Suspect{}
	for i, class := range c.classes {
		if class.part == healthyPart {
			continue
		}
		s := Suspect{Part: class.part, Probability: c.p[i], Why: c.favours(i), Confirm: class.confirm}
		if (class.part == vbusShort || class.part == vbusLeak) && pathOf(c.Picture).clamps {
			s.Confirm = "other-port that behaves differently; cold it may read sound"
		}
		if class.location != "" {
			l := class.location
			s.Location = &l
		} else {
			s.Probability = c.unknown()
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Suspect) int { return cmp.Compare(b.Probability, a.Probability) })
	return out
}

// leastDecibans is the smallest weight of evidence worth naming: a factor of
// two (Good 1950 calls one deciban about the least that is felt).
const leastDecibans = 3

// favours names what lifts a class most over the field; with nothing that
// does, its prior.
func (c *opinion) favours(class int) string {
	why, found := c.lifts(class)
	if c.classes[class].part == unknownPart {
		switch {
		case !found:
			return "what no modelled fault explains"
		case c.p[class] < slices.Max(c.p):
			return why + ", as what is not modelled may do too"
		default:
			return why + ", which no modelled fault explains"
		}
	}
	if found {
		return why
	}
	return "nothing speaks for it in particular; beforehand: " + c.classes[class].reason
}

// lifts is the observation that lifts a class most over the field.
func (c *opinion) lifts(class int) (why string, found bool) {
	best := float64(leastDecibans)
	for _, o := range joined(c.facts) {
		like := c.told(o)
		field := (chance(c.prior, like) - c.prior[class]*like[class]) / (1 - c.prior[class])
		if db := decibans(like[class] / field); db > best {
			why, best = o.text, db
		}
	}
	return why, why != ""
}

func (c *opinion) notSeen() []string {
	out := []string{}
	if u := c.unknown(); u >= unknownFrom {
		text := fmt.Sprintf("none of the modelled faults explains this well: %.0f %% of the probability lies with something that is not in this model, and is spread over the locations", 100*u)
		if why, found := c.lifts(c.index(unknownPart)); found {
			text += "; " + why
		}
		out = append(out, text)
	}
	return append(out, c.atRest()...)
}

// probability of a part.
func (c *opinion) probability(p part) float64 { return c.p[c.index(p)] }

// known gives the figure of a reading.
func (c *opinion) known(name string) (float64, bool) {
	x, ok := probe.Figure(c.Readings, name)
	return x, ok && !math.IsNaN(x)
}
