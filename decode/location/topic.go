package location

import (
	"math"
	"slices"

	"portside/decode/signs"
)

// practice is the source of what no document states.
const practice = "common practice"

// like is the chance of an outcome by part, in percent.
type like = map[part]float64

// row is one outcome of a topic: how likely each class makes it.
type row struct {
	outcome string
	reads   string  // what an instrument shows there, for what to expect
	others  float64 // percent for every class that is not named
	by      like
	reason  string
	source  string
}

// topic is one independent question to the evidence. Its rows are all the
// answers there are, so that each class's column adds up to 1.
type topic struct {
	name string
	cap  float64 // the most that an answer may gain one class over another
	rows []row
}

// How far one fact may carry: a recording's hint never decides alone, a trial
// with the part itself says more, a short read on the node itself nearly
// decides. Common practice.
const (
	weakCap      = 6 // how something comes and goes
	recordingCap = 20
	protocolCap  = 60 // what the messages say of the power-up: each step has one speaker
	physicsCap   = 60 // what one kind of part alone can do
	trialCap     = 50
	coldCap      = 100
)

// blankShare is how much of the unknown class expects nothing at all; the rest
// expects what machines in general do. Flat alone, each rare but sound outcome
// would speak for it. Common practice.
const blankShare = 0.25

// knownSign is how much more often than the class that shows an outcome most something
// unknown may show it: a rare sign that one class explains surprises little. Common practice.
const knownSign = 2.0

// likelihoods is the table [outcome][class]. The unknown class is nearly the
// mixture of all others, and partly flat, so that what surprises every other
// class lifts it.
func (t topic) likelihoods(m model) [][]float64 {
	table := make([][]float64, len(t.rows))
	for i := range table {
		table[i] = make([]float64, len(m.classes))
	}
	for j, c := range m.classes {
		sum := 0.0
		for i, r := range t.rows {
			x, named := r.by[c.part]
			if !named {
				x = r.others
			}
			table[i][j] = x
			sum += x
		}
		for i := range t.rows {
			table[i][j] /= sum
		}
	}
	if u := m.index(unknownPart); u >= 0 {
		sum := 0.0
		for i := range table {
			table[i][u] = 0
			blank := min(1/float64(len(t.rows)), knownSign*slices.Max(table[i]))
			table[i][u] = blankShare*blank + (1-blankShare)*chance(m.prior, table[i])/(1-m.prior[u])
			sum += table[i][u]
		}
		for i := range table {
			table[i][u] /= sum
		}
	}
	return table
}

// index of an outcome, or -1.
func (t topic) index(outcome string) int {
	for i, r := range t.rows {
		if r.outcome == outcome {
			return i
		}
	}
	return -1
}

// observation is one fact with its likelihood by class.
type observation struct {
	text string // in words, with its time where it has one
	node string // readings of one node count together
	seen bool   // on the recording, and not read at the bench
	cap  float64
	like []float64
}

// observe folds what was seen with the table: P(seen | class) is the sum over
// the true outcomes of P(outcome | class) P(seen | outcome).
func (m model) observe(t topic, s signs.Seen, text string) observation {
	o := observation{text: text, node: t.name, cap: t.cap, like: make([]float64, len(m.classes))}
	for i, outcome := range t.likelihoods(m) {
		for j, p := range outcome {
			o.like[j] += p * s[t.rows[i].outcome]
		}
	}
	return o
}

// sharpness is how much more the facts of a recording say together than their
// tables, which are cautious each by itself. Of 1.25, 1.3 and 1.4 the largest that leaves
// certainty on one of several open sides at about one case in twenty, on benches that others
// wrote.
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
		for i, x := range o.weight() {
			by[i] *= x
		}
	}
	return posterior(m.confident(posterior(m.prior, m.unexercised(shown))), read)
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

// weight is what a node's observations multiply the classes by.
func (o observation) weight() []float64 {
	like := capped(o.like, o.cap)
	if o.seen {
		for i, x := range like {
			like[i] = math.Pow(x, sharpness)
		}
	}
	return like
}

// with multiplies a further observation of the same node.
func (o observation) with(x observation) observation {
	o.like = slices.Clone(o.like)
	for i := range o.like {
		o.like[i] *= x.like[i]
	}
	o.cap = max(o.cap, x.cap)
	o.text += "; " + x.text
	return o
}

// joined multiplies the observations of each node.
func joined(all []observation) []observation {
	var out []observation
	at := map[string]int{}
	for _, o := range all {
		if i, known := at[o.node]; known {
			out[i] = out[i].with(o)
			continue
		}
		at[o.node] = len(out)
		out = append(out, o)
	}
	return out
}
