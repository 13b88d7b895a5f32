package signs

import (
	"math"
	"slices"

	"portside/decode/draw"
)

// What a source gives a short before it trips, and more than fills capacitors: common
// practice.
const (
	surgeA = 2.0
	burstA = 0.5  // at the break itself: part of a surge
	surgeC = 0.01 // 100 uF at 20 V hold 2 mC
)

// surges reports a current that is no capacitor's, as far as rows so far apart can tell.
func surges(amps, intervalS float64) bool {
	return amps >= surgeA || amps*intervalS >= surgeC
}

// surgeTimes are how long a source gives it, each as likely: common practice.
func surgeTimes() []float64 { return []float64{0.001, 0.003, 0.01, 0.03} }

// rampRows are neighbouring rows that rise, for a start that is no surge: a charger circuit
// ramps over tenths of a second. Common practice.
const rampRows = 4

// rampsUp reports a break before which the draw rose row by row, below what was promised.
func (p Picture) rampsUp() bool {
	d := p.Meter()
	promised, known := p.promisedA()
	if d == nil || !known {
		return false
	}
	i := slices.IndexFunc(d.Collapses, func(c draw.Collapse) bool { return c.FromV >= contractV && c.AtA >= standbyA })
	if i < 0 || d.Collapses[i].AtA > atLimit*promised {
		return false
	}
	c, rising, before := d.Collapses[i], 0, math.Inf(1)
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.EndS < c.TimeS-atOnceS || q.StartS > c.TimeS {
			continue
		}
		switch a := *q.CurrentA; {
		case a > c.AtA*overShare+standbyA:
			return false
		case a > before+quietA/2:
			rising++
		}
		before = *q.CurrentA
	}
	return rising >= rampRows
}

// surgeMissed is the chance that a short drew its surge at every break and no row shows
// it: 1 where a row does, or where no current was recorded.
func (p Picture) surgeMissed() float64 {
	d := p.Meter()
	if d == nil || d.Sampling.WithCurrent == 0 || d.Sampling.IntervalS <= 0 {
		return 1
	}
	if slices.ContainsFunc(d.Collapses, func(c draw.Collapse) bool { return c.AtA >= burstA }) {
		return 1
	}
	if surges(d.Sampling.MaxA, d.Sampling.IntervalS) { // at what level a fall's own row lies nobody knows
		return 1
	}
	return unseen(d.Sampling.IntervalS, max(len(d.Collapses), len(lostContracts(p.Facts.Negotiation))))
}

// unseenMost is the chance up to which what was not seen was not there: common practice.
const unseenMost = 0.1

// unseen is the chance that rows so far apart fall on none of so many surges.
func unseen(intervalS float64, surges int) float64 {
	missed := 0.0
	for _, s := range surgeTimes() {
		missed += math.Pow(1-min(1, s/intervalS), float64(surges))
	}
	return missed / float64(len(surgeTimes()))
}
