package charger

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"portside/pd"
)

// coarseness says whose resolution step counts in a reading.
type coarseness uint8

const (
	exact coarseness = iota
	ofStamps
	ofVolts
	ofAmps
	gridCount
)

// limit is what a reading is held against; NaN where there is no such end.
type limit struct {
	min, max float64
	name     string // the standard's parameter
}

func atMost(x float64, name string) limit  { return limit{math.NaN(), x, name} }
func atLeast(x float64, name string) limit { return limit{x, math.NaN(), name} }

// limitsOf are the parameter's limits in SI units, the widest of the revisions.
func limitsOf(p pd.Parameter, revisions ...pd.Revision) limit {
	l := p.Widest(revisions...)
	return limit{l.MinSI(), l.MaxSI(), l.Name}
}

// beyond is by how much a value lies outside, negative inside, and the end that is
// nearest.
func (l limit) beyond(v float64) (by, end float64) {
	by, end = math.Inf(-1), math.NaN()
	if !math.IsNaN(l.max) {
		by, end = v-l.max, l.max
	}
	if !math.IsNaN(l.min) && l.min-v > by {
		by, end = l.min-v, l.min
	}
	return by, end
}

// room is how uncertain a reading may be before it shows nothing.
func (l limit) room() float64 {
	switch {
	case math.IsNaN(l.max):
		return l.min
	case math.IsNaN(l.min):
		return l.max
	default:
		return l.max - l.min
	}
}

// judged is one reading against its limit.
type judged struct {
	key    string // with its unit
	what   string // what was measured, in words
	r      reading
	limit  limit
	atS    float64
	excess float64 // beyond the limit and the uncertainty, resolution not counted
}

// tally is what one check has seen so far.
type tally struct {
	grid   coarseness
	n      int // readings judged
	worst  judged
	finest float64 // the most room a reading left beside its own uncertainty
	finer  judged  // the reading with that room

	good   int // occasions of a check without a measured value
	said   string
	broken *breach
	why    string // why nothing could be judged, where the check knows it better
}

// breach is a clause broken that no number tells.
type breach struct {
	atS             float64
	text            string
	measured, limit Values
}

// judge holds a reading to a limit. what says what the reading is.
func (c *Checker) judge(id checkID, grid coarseness, key, what string, r reading, l limit, atS float64) {
	if math.IsNaN(r.value) || math.IsNaN(r.off) {
		return
	}
	t := &c.tallies[id]
	by, _ := l.beyond(r.value)
	j := judged{key: key, what: what, r: r, limit: l, atS: atS, excess: by - r.off}
	if t.n == 0 || j.excess > t.worst.excess {
		t.worst = j
	}
	if room := l.room() - r.off; t.n == 0 || room > t.finest {
		t.finest, t.finer = room, j
	}
	t.grid = grid
	t.n++
}

// time holds a time between two moments to a limit. Limits of less than 15 ms
// cannot be held against software stamps.
func (c *Checker) time(id checkID, what string, from, to moment, l limit) {
	if (from.software || to.software) && !(l.max >= shortestSoftwareLimitS) {
		c.because(id, "the times are one side's software stamps, too coarse for a limit below 15 ms")
		return
	}
	c.judge(id, ofStamps, "time_s", what, between(from, to), l, to.onMessages().s)
}

// kept counts an occasion on which a check without a measured value was kept.
func (c *Checker) kept(id checkID, said string) {
	t := &c.tallies[id]
	t.good++
	if t.said == "" {
		t.said = said
	}
}

// broke notes a clause broken; the first one stays.
func (c *Checker) broke(id checkID, atS float64, format string, args ...any) {
	c.brokeBy(id, atS, nil, nil, format, args...)
}

func (c *Checker) brokeBy(id checkID, atS float64, measured, lim Values, format string, args ...any) {
	t := &c.tallies[id]
	if t.broken == nil {
		t.broken = &breach{atS: atS, text: fmt.Sprintf(format, args...), measured: measured, limit: lim}
	}
}

// because notes why a check could not be made on an occasion.
func (c *Checker) because(id checkID, why string) {
	if t := &c.tallies[id]; t.why == "" {
		t.why = why
	}
}

// hair is what arithmetic and stamps cut to nanoseconds may add to a value that lies on
// its limit.
const hair = 1e-8

// outcome is the check as it stands; step is the resolution that its readings have
// to be granted. ok is false where nothing could be judged.
func (t *tally) outcome(step float64) (out Check, ok bool) {
	switch {
	case t.n > 0 && t.worst.excess-step > hair:
		return t.worst.check(Fail, step), true
	case t.broken != nil:
		return t.broken.check(), true
	case t.n > 0 && t.finest-step > 0:
		j := t.worst
		if j.limit.room()-j.r.off-step <= 0 {
			j = t.finer
		}
		return j.check(Pass, step), true
	case t.good > 0:
		return Check{Result: Pass, Measured: Values{}, Limit: Values{}, Uncertainty: Values{}, Text: t.said}, true
	default:
		return Check{}, false
	}
}

func (b *breach) check() Check {
	out := Check{Result: Fail, Measured: b.measured, Limit: b.limit, Uncertainty: Values{}, AtS: &b.atS, Text: b.text}
	if out.Measured == nil {
		out.Measured = Values{}
	}
	if out.Limit == nil {
		out.Limit = Values{}
	}
	for key := range out.Measured {
		out.Uncertainty[key] = 0
	}
	return out
}

func (j judged) check(o Outcome, step float64) Check {
	_, end := j.limit.beyond(j.r.value)
	off := j.r.off + step
	at := microseconds(j.atS)
	return Check{
		Result:      o,
		Measured:    Values{j.key: j.r.value},
		Limit:       Values{j.key: end},
		Uncertainty: Values{j.key: off},
		AtS:         &at,
		Text:        j.text(off),
	}
}

// microseconds drops digits that no recorder has.
func microseconds(s float64) float64 { return math.Round(s*1e6) / 1e6 }

// text says the reading and its limit in words.
func (j judged) text(off float64) string {
	unit := unitOf(j.key)
	words := fmt.Sprintf("%s: %s", j.what, figure(j.r.value, unit))
	if off > hair {
		words += " +/- " + figure(off, unit)
	}
	return words + "; " + j.limit.words(unit)
}

func (l limit) words(unit string) string {
	name := ""
	if l.name != "" {
		name = " (" + l.name + ")"
	}
	switch {
	case math.IsNaN(l.max):
		return "at least " + figure(l.min, unit) + name
	case math.IsNaN(l.min):
		return "at most " + figure(l.max, unit) + name
	default:
		return figure(l.min, unit) + " to " + figure(l.max, unit) + name
	}
}

// unitOf is the unit at the end of a key.
func unitOf(key string) string {
	units := map[string]string{"s": "s", "v": "V", "a": "A", "w": "W", "ohm": "Ohm", "hz": "Hz", "percent": "%", "bits": "bits"}
	return units[key[strings.LastIndexByte(key, '_')+1:]]
}

// figure prints a value with four digits and the prefix it is best read with.
func figure(v float64, unit string) string {
	a := math.Abs(v)
	switch {
	case unit == "":
		return short(v)
	case unit == "s" && a > 0 && a < 1e-3, unit == "bits", unit == "%", unit == "Hz" && a < 1e3:
		if unit == "s" {
			return short(v*1e6) + " us"
		}
		return short(v) + " " + unit
	case unit == "s" && a < 1:
		return short(v*1e3) + " ms"
	case unit == "Hz":
		return short(v/1e3) + " kHz"
	case a > 0 && a < 1:
		return short(v*1e3) + " m" + unit
	default:
		return short(v) + " " + unit
	}
}

func short(v float64) string {
	digits := 4
	if math.Abs(v) >= 1e4 {
		digits = 6
	}
	return strconv.FormatFloat(v, 'g', digits, 64)
}
