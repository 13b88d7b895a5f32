package location

import (
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

	shows []portion // of its outcomes: how often each stood on which side counts as well
}

// showsLeast is the least part of what was seen that an outcome must be: of what may have been any of
// several nothing was found. Common practice.
const showsLeast = 0.35

// portion is the part of what was seen that is one outcome of a topic.
type portion struct {
	outcome string // topic and outcome
	of      float64
}

// observe folds what was seen with the table: P(seen | class) is the sum over
// the true outcomes of P(outcome | class) P(seen | outcome).
func (m model) observe(t topic, s signs.Seen, text string) observation {
	o := observation{text: text, node: t.name, cap: t.cap, like: make([]float64, len(m.classes))}
	total := 0.0
	for i, outcome := range t.likelihoods(m) {
		x := s[t.rows[i].outcome]
		total += x
		for j, p := range outcome {
			o.like[j] += p * x
		}
	}
	for _, r := range t.rows {
		if x := s[r.outcome]; x >= showsLeast*total && x > 0 {
			o.shows = append(o.shows, portion{t.name + ": " + r.outcome, x / total})
		}
	}
	return o
}

// with multiplies a further observation of the same node.
func (o observation) with(x observation) observation {
	o.like = slices.Clone(o.like)
	for i := range o.like {
		o.like[i] *= x.like[i]
	}
	o.cap = max(o.cap, x.cap)
	o.shows = append(slices.Clip(o.shows), x.shows...)
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
