package location

import "math"

// observation is one independent fact: how likely each class makes it. Parts
// that are not named take base. Dependent facts are one observation.
type observation struct {
	text   string // in words, with its time where it has one
	base   float64
	by     map[string]float64
	cap    float64 // the most that one class may gain over another
	source string
}

const (
	recordingCap = 20  // one weak hint never decides
	coldCap      = 100 // a short read on the node itself may
	unknownShare = 0.5 // what no modelled fault explains is half as likely as the best explanation's cap allows
)

// likelihood of the observation under a class, capped. The unknown class is
// flat: the geometric middle of the range, so that a fact which every
// modelled class finds surprising lifts it.
func (o observation) likelihood(part string) float64 {
	most := o.base
	for _, p := range o.by {
		most = max(most, p)
	}
	if part == unknownPart {
		return unknownShare * math.Sqrt(1/o.cap)
	}
	p, named := o.by[part]
	if !named {
		p = o.base
	}
	return max(p, most/o.cap)
}

// weigh gives the posterior over the classes.
func weigh(all []class, seen []observation) []float64 {
	out := make([]float64, len(all))
	for i, c := range all {
		out[i] = c.prior
	}
	for _, o := range seen {
		for i, c := range all {
			out[i] *= o.likelihood(c.part)
		}
		normalise(out)
	}
	normalise(out)
	return out
}

func normalise(p []float64) {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	for i := range p {
		p[i] /= sum
	}
}

// entropyBits is the entropy of a distribution.
func entropyBits(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}

// expectedGainBits is how much a test with the given outcomes is expected to
// tell about groups of classes (Lindley 1956): table[outcome][class] is the
// chance of the outcome, group[class] the group a class counts to.
func expectedGainBits(p []float64, table [][]float64, group []int, groups int) float64 {
	gain := entropyBits(grouped(p, group, groups))
	for _, outcome := range table {
		joint := make([]float64, len(p))
		sum := 0.0
		for i := range p {
			joint[i] = p[i] * outcome[i]
			sum += joint[i]
		}
		if sum <= 0 {
			continue
		}
		normalise(joint)
		gain -= sum * entropyBits(grouped(joint, group, groups))
	}
	return max(gain, 0)
}

func grouped(p []float64, group []int, groups int) []float64 {
	out := make([]float64, groups)
	for i, x := range p {
		if group[i] >= 0 {
			out[group[i]] += x
		}
	}
	return out
}
