package charger

import (
	"math"
	"time"

	"portside/decode/message"
)

// moment is a point in time in seconds on the clock of the recording. The true
// time lies from s-late (stamped too late) to s+early (stamped too early), the
// coarseness of the stamps not counted.
type moment struct {
	s           float64
	early, late float64
	software    bool    // taken by one side's own software
	slip        float64 // of a meter on a clock of its own: how much earlier, at most, it was on the messages' clock
}

func (m moment) earliest() float64 { return m.s - m.late }
func (m moment) latest() float64   { return m.s + m.early }

// soonest is the earliest that the moment may have been on the messages' clock.
func (m moment) soonest() float64 { return m.earliest() - m.slip }

// onMessages puts a moment of the meter on the messages' clock, in the middle of what
// is possible.
func (m moment) onMessages() moment {
	half := m.slip / 2
	m.s, m.early, m.late, m.slip = m.s-half, m.early+half, m.late+half, 0
	return m
}

// within is a moment known to lie between two times.
func within(from, to float64) moment {
	half := max(to-from, 0) / 2
	return moment{s: from + half, early: half, late: half}
}

// reading is a measured value and by how much it may be off either way.
type reading struct{ value, off float64 }

// between is the time from one moment to another. Two moments of the meter share its
// clock, whatever is known of that.
func between(from, to moment) reading {
	if from.slip == 0 || to.slip == 0 {
		from, to = from.onMessages(), to.onMessages()
	}
	return reading{
		value: to.s - from.s,
		off:   max(from.early+to.late, to.early+from.late),
	}
}

func (r reading) surelyAbove(limit float64) bool { return r.value-r.off > limit }
func (r reading) surelyBelow(limit float64) bool { return r.value+r.off < limit }

// How coarse stamps and digits are told: all are whole multiples of a power of
// ten. Few may be so by chance, so no more than the step given is believed of
// them.
const (
	enoughValues   = 8
	chanceTime     = time.Millisecond
	coarsestTime   = time.Second
	microPerUnit   = 1e6
	chanceDigit    = 10_000  // 10 mV or 10 mA
	coarsestDigit  = 100_000 // 100 mV or 100 mA
	largestCounted = 1e12    // beyond this a float holds no whole micro-units
)

// grain finds the resolution of a series of whole numbers. The zero value has
// seen none.
type grain struct {
	first, last int64
	unit        int64
	different   int
}

func (g *grain) add(x, coarsest int64) {
	if g.unit == 0 {
		g.first, g.last, g.unit = x, x, coarsest
	}
	if x != g.last {
		g.different++
		g.last = x
	}
	for g.unit > 1 && (x-g.first)%g.unit != 0 {
		g.unit /= 10
	}
}

// step is the resolution in the unit of the numbers, 0 where nothing is known.
func (g *grain) step(byChance int64) int64 {
	switch {
	case g.different == 0:
		return 0
	case g.different < enoughValues:
		return min(g.unit, byChance)
	default:
		return g.unit
	}
}

func (g *grain) addTime(d time.Duration) { g.add(int64(d), int64(coarsestTime)) }

func (g *grain) timeStep() float64 { return message.Seconds(time.Duration(g.step(int64(chanceTime)))) }

// addValue takes a voltage or current.
func (g *grain) addValue(x float64) {
	if math.Abs(x) < largestCounted {
		g.add(int64(math.Round(x*microPerUnit)), coarsestDigit)
	}
}

func (g *grain) valueStep() float64 { return float64(g.step(chanceDigit)) / microPerUnit }
