package charger

import (
	"math"

	"portside/captures"
	"portside/decode"
	"portside/decode/clocks"
	"portside/decode/message"
	"portside/decode/negotiation"
	"portside/pd"
)

// Options say how a recording was made. The zero value is usable.
type Options struct {
	AccuracyV *float64         // limits in percent of reading; nil where not given
	AccuracyA *float64         // the same for the current
	LabelPDP  pd.Milliwatts    // the rating printed on the charger; 0 unknown
	AtSource  bool             // the meter sits at the source's end of the cable
	Clocks    []captures.Clock // of the inputs; without any all records share one clock

	// Alignment is how the clock of the meter was found to lie to the messages', where
	// none is stated. Where it is determined each sample must come at the latest time that
	// [clocks.Alignment.Surely] gives for it.
	Alignment clocks.Alignment
}

// Checker takes the records of a recording one at a time, in the order of time, and
// keeps bounded state. It is not safe for concurrent use.
type Checker struct {
	oneClock  bool // messages and samples share a clock, or how they lie was found
	alignment clocks.Alignment
	listeners [eventKinds][]func(*Checker, *event)
	tallies   [checkCount]tally
	limits    map[pd.Parameter]limit // by the revision as far as it is known

	negotiation *negotiation.Tracker
	seen        seen
	link        link
	meter       meter
	move        transition
	rating      rating

	attach   attach
	first    firstOffer
	offering offering
	ids      ids
	roles    roles
	revision agreement
	owed     owed
	deaf     deaf
	steady   steady
	inLimit  run
	overdraw run
	reset    hardReset
	quiet    quiet
	entry    eprEntry
	cable    cable
	slope    slope
	slew     slew
	frames   frames
}

// New returns a checker for one recording.
func New(o Options) *Checker {
	const percent = 100
	c := &Checker{
		oneClock:    stated(o.Clocks) || o.Alignment.Determined,
		alignment:   o.Alignment,
		limits:      map[pd.Parameter]limit{},
		negotiation: negotiation.New(negotiation.Options{}),
		link:        link{repeats: message.NewRepeats(), awayS: math.Inf(-1)},
		rating:      rating{label: o.LabelPDP},
		meter: meter{
			accuracyV: decode.AccuracyPercent(o.AccuracyV) / percent,
			accuracyA: decode.AccuracyPercent(o.AccuracyA) / percent,
		},
	}
	if !o.AtSource {
		c.meter.drop = cableDrop()
	}
	c.listen(follows[:])
	for i := range table {
		c.listen(table[i].watches)
	}
	c.listen(remembers[:])
	return c
}

func (c *Checker) listen(list []watch) {
	for _, w := range list {
		c.listeners[w.on] = append(c.listeners[w.on], w.see)
	}
}

// stated reports whether every input lies on one clock that was stated.
func stated(clocks []captures.Clock) bool {
	for _, c := range clocks {
		if c.Offset == nil {
			return false
		}
	}
	return true
}

// spread is how much earlier than its time a sample may have been taken on the
// messages' clock.
func (c *Checker) spread(at float64) float64 {
	if !c.alignment.Determined {
		return 0
	}
	return c.alignment.Spread(at)
}

// cableDrop is what a cable may take off VBUS and ground at its rating.
func cableDrop() float64 {
	return pd.VCableDropVBUS.Limits(pd.Revision32).MaxSI() + pd.VCableDropGND.Limits(pd.Revision32).MaxSI()
}

// Take takes the next record of a recording.
func (c *Checker) Take(r captures.Record) {
	if r.Sample != nil {
		c.Sample(r.Sample)
		return
	}
	c.Message(r.Message)
}

// limit is the parameter's limit in SI units, for the revision of the source as far
// as it is known, else the widest of all it may have.
func (c *Checker) limit(p pd.Parameter) limit {
	l, ok := c.limits[p]
	if !ok {
		l = limitsOf(p, c.rating.revisions()...)
		c.limits[p] = l
	}
	return l
}
