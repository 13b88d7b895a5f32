package location

import (
	"math"
	"slices"

	"portside/decode/rules"
)

// sharpness is how much more the facts of a recording say together than their
// tables, which are cautious each by itself: found on benches that others wrote.
const sharpness = 1.3

// weigh gives the posterior over the classes. Observations of one node are
// multiplied first and capped as one.
func (m model) weigh(all []observation) []float64 {
	ones := func() []float64 { return slices.Repeat([]float64{1}, len(m.prior)) }
	shown, read := ones(), ones() // by the recording, and at the bench
	for _, o := range joined(all) {
		by := shown
		if !o.seen {
			by = read
		}
		for i, x := range m.weight(o) {
			by[i] *= x
		}
	}
	return posterior(m.reserved(m.confident(posterior(m.prior, m.unexercised(shown)))), read)
}

// weight is what a node's observations multiply the classes by.
func (m model) weight(o observation) []float64 {
	like := m.told(o)
	if o.seen {
		for i, x := range like {
			like[i] = math.Pow(x, sharpness)
		}
	}
	return like
}

// told is what a node's observations say by the tables, within the limit of each, and by how
// often the like stood on which side.
func (m model) told(o observation) []float64 {
	like := capped(o.like, o.cap)
	if !o.seen {
		return like
	}
	for i, class := range m.classes {
		for _, s := range o.shows {
			like[i] *= math.Pow(10, m.found[s.outcome].of(class.location)*s.of/10)
		}
	}
	return like
}

// unexercised lets each fault look sound as often as one plug-in does not exercise it: what
// comes and goes, or lies where this recording cannot see, shows none of its signs then, and
// not each by chance.
func (m model) unexercised(shown []float64) []float64 {
	sound := shown[m.index(healthyPart)]
	for i, c := range m.classes {
		shown[i] += c.hides * (sound - shown[i])
	}
	return shown
}

// A verdict from meter and messages together is right more often than the tables say: on eight
// benches that others wrote, before anything was mended on them, 0.7 came true in 79 of 100 and
// 0.8 in 91. Certainty itself stays what the tables give.
const (
	confidentFrom = 0.55
	confidentFull = 0.75
	confidentMore = 0.3 // of the exponent
	confidentMost = 0.895
)

// confident puts that right. What a meter or messages alone say is right as often as they say.
func (m model) confident(p []float64) []float64 {
	if !m.both {
		return p
	}
	at := grouped(p, m.share)
	said := slices.Max(at)
	if said <= confidentFrom || said >= confidentMost {
		return p
	}
	exponent := 1 + confidentMore*min(1, (said-confidentFrom)/(confidentFull-confidentFrom))
	to, sum := make([]float64, len(at)), 0.0
	for i, x := range at {
		to[i] = math.Pow(x, exponent)
		sum += to[i]
	}
	most := math.Pow(said, exponent) / sum
	for i := range to {
		to[i] /= sum
		switch {
		case most <= confidentMost:
		case at[i] == said:
			to[i] = confidentMost
		default:
			to[i] *= (1 - confidentMost) / (1 - most)
		}
	}
	out := make([]float64, len(p))
	for i, x := range p {
		for j, share := range m.share[i] {
			if at[j] > 0 {
				out[i] += x * share * to[j] / at[j]
			}
		}
	}
	normalise(out)
	return out
}

// Nearly certain is not certain: where several sides are open, one of them reaches 0.9 to 0.95
// more often than one that is sure of it may. Common practice.
const (
	reservedTo   = confidentMost
	reservedFrom = certainFrom
	reservedFull = 0.96 // from here on what was found stands
)

// A machine that is sound as often as one in five is not opened: that costs more than another
// reading. Another charger is tried in a minute. Common practice.
const (
	spareFrom = 0.15
	spareFull = 0.22
	spareTo   = namedFrom - 0.005
)

// reserved holds a location back that is no more than nearly certain, or that stands against a
// machine which may well be sound; what is taken from it goes to the others.
func (m model) reserved(p []float64) []float64 {
	at := grouped(p, m.share)
	most, to := slices.Max(at), 1.0
	sound := at[slices.Index(locations(), rules.Healthy)]
	switch {
	case most > reservedTo && most < reservedFull:
		to = reservedTo + (reservedFull-reservedTo)*max(0, most-reservedFrom)/(reservedFull-reservedFrom)
	case sound < most && sound > spareFrom && at[slices.Index(locations(), rules.BeforePort)] < most:
		to = max(spareTo, spareTo+(1-spareFrom-spareTo)*(spareFull-sound)/(spareFull-spareFrom))
	}
	if most <= to {
		return p
	}
	out := make([]float64, len(p))
	for i, x := range p {
		for j, share := range m.share[i] {
			f := (1 - to) / (1 - most)
			if at[j] == most {
				f = to / most
			}
			out[i] += x * share * f
		}
	}
	normalise(out)
	return out
}
