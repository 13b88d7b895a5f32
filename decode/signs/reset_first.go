package signs

import (
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// resetFirst reports contracts that end in Hard Resets while VBUS stands: a source takes it
// away a while after the reset, and what trips a source or opens a lead takes it away before.
// No answer where the two clocks, or the rows, are too coarse for the difference.
func (p Picture) resetFirst() bool {
	d, n := p.Meter(), p.Facts.Negotiation
	wait := pd.TPSHardReset.Limits(pd.Revision32).Min.Value / 1000
	if d == nil || n == nil || !p.Facts.Aligned || d.Sampling.IntervalS > wait {
		return false
	}
	var after []float64 // from the reset to the end of the level
	surged := false
	for _, c := range lostContracts(n) {
		if c.EndedBy != "hard-reset" {
			continue
		}
		stood := math.NaN()
		for _, l := range d.Levels {
			if l.VoltageV >= contractV && l.StartS < *c.EndS && l.EndS > *c.EndS-wait-minLevelS {
				stood = l.EndS - *c.EndS
			}
		}
		if !math.IsNaN(stood) {
			after = append(after, stood)
		}
	}
	promised, known := p.promisedA()
	for _, c := range d.Collapses {
		surged = surged || known && max(c.AtA, c.HeldA) > overShare*promised
	}
	if len(after) < glimpses || surged || 2*gaveWayBefore(d, n) >= len(after) {
		return false
	}
	off := math.Hypot(p.Facts.ClockU, d.Sampling.IntervalS/math.Sqrt(float64(len(after))))
	return middle(after)-off > wait/4
}

// letsGoS is how long before its reset a controller that begins anew has opened the switches, at
// least: it starts in between. Common practice.
const letsGoS = 0.005

// drawsUntilReset tells a machine that draws on until the reset from one that had let go: a
// controller that begins anew opens its switches before it speaks.
func (p Picture) drawsUntilReset() (outcome, text string) {
	d := p.Meter()
	ahead := max(letsGoS, 2*p.Facts.ClockU, d.Sampling.IntervalS)
	on, off, i := 0, 0, 0
	for _, c := range lostContracts(p.Facts.Negotiation) {
		drew, last := false, math.NaN()
		for ; i < len(d.Plateaus) && d.Plateaus[i].StartS <= *c.EndS-ahead; i++ {
			q := d.Plateaus[i]
			if q.CurrentA == nil || q.EndS < *c.StartS {
				continue
			}
			last = *q.CurrentA
			drew = drew || last > standbyA && q.EndS-q.StartS >= beganS
		}
		switch {
		case c.EndedBy != "hard-reset":
		case last > standbyA:
			on++
		case drew:
			off++
		}
	}
	switch {
	case on > off:
		return EndFed, ", and the machine drew on until then"
	case off > on:
		return EndLetGo, ", and the draw had stopped before"
	}
	return EndReset, ""
}

// gaveWayBefore counts the contracts in which VBUS gave way well before the reset: what it comes
// back to meanwhile is a source that tries again.
func gaveWayBefore(d *draw.Result, n *negotiation.Result) int {
	count := 0
	for _, c := range lostContracts(n) {
		if c.EndedBy == "hard-reset" && slices.ContainsFunc(d.Collapses, func(x draw.Collapse) bool {
			return x.FromV >= contractV && x.TimeS > *c.StartS && x.TimeS < *c.EndS-beganS
		}) {
			count++
		}
	}
	return count
}
