package signs

import (
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// idleA is more than a port controller and the capacitors before the switches take while
// VBUS rises: common practice.
const idleA = 0.15

// drawsNothing reports a meter that would have seen what takes VBUS down so many times, and
// did not.
func (p Picture) drawsNothing(times int) bool {
	s := p.Meter().Sampling
	return s.WithCurrent > 0 && s.IntervalS > 0 && s.MaxA <= idleA && unseen(s.IntervalS, times) <= unseenMost
}

// idlesLong reports a meter that would have seen what holds VBUS down for as long as that, so many
// times.
func (p Picture) idlesLong(times int) bool {
	d := p.Meter()
	s := d.Sampling
	drew := slices.ContainsFunc(d.Collapses, func(c draw.Collapse) bool { return max(c.AtA, c.HeldA) >= burstA })
	apart := pd.TPSTransitionSPR.Limits(pd.Revision32).MinSI()
	if times < sustainedTimes {
		apart /= sustainedRows
	}
	return s.WithCurrent > 0 && s.IntervalS > 0 && s.IntervalS <= apart && !drew
}

// How many rows show a current that flows for as long as a sink waits for PS_RDY: of so many
// tries one of each will do. Common practice.
const (
	sustainedRows  = 4
	sustainedTimes = 5
)

// cutShort tells a source that gives up its own step from one that is pulled down in it.
func (p Picture) cutShort(times int) Seen {
	d := p.Meter()
	talks := 0
	for _, a := range p.Facts.Negotiation.Attempts {
		if a.Missing == negotiation.StepCutShort && a.Interrupted {
			talks++
		}
	}
	switch {
	case 2*talks > times:
		return Exactly(CutBySink)
	case d != nil && loadedAt5(d):
		return loadedSince(d)
	case d != nil && d.Sampling.MaxA >= burstA:
		return Exactly(CutPulled)
	case d != nil && p.drawsNothing(times) && p.arrives(d, times):
		return Exactly(CutThere)
	case d != nil && p.drawsNothing(times):
		return Exactly(CutIdle)
	}
	return Seen{CutPulled: 1, CutIdle: 1, CutThere: 1}
}

// arrives reports VBUS that comes to what was asked for, half of so many times.
func (p Picture) arrives(d *draw.Result, times int) bool {
	asked := 0
	for _, a := range p.Facts.Negotiation.Attempts {
		asked = max(asked, a.RequestMV)
	}
	volts := pd.VSrcNew.Limits(pd.Revision32).Min.Value * float64(asked) / 1000 * (1 - sagMeter)
	count, _, highest := tops(d, volts)
	return asked > 0 && volts >= contractV && highest < overOffer*float64(asked)/1000 && count >= glimpses && arrivesShare*float64(times) <= float64(count)
}

// arrivesShare of the attempts must show it: rows miss some. Common practice.
const arrivesShare = 0.5

// loadedAt5 reports a working draw at 5 V.
func loadedAt5(d *draw.Result) bool {
	return slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && q.VoltageV != nil && *q.VoltageV >= draw.FiveFrom && *q.VoltageV < contractV && *q.CurrentA >= standbyLowA && q.N >= glimpses
	})
}

// lateS is how long 5 V stands idle before a switch lets a load in, at the least, and
// lateRowS how close rows must lie to show it. Common practice.
const (
	lateS    = 0.02
	lateRowS = 0.01
)

// loadedSince tells a load that comes to 5 V from one that is there from the start.
func loadedSince(d *draw.Result) Seen {
	if d.Sampling.IntervalS > lateRowS {
		return Seen{CutFed: 1, CutLoaded: 1}
	}
	idle := 0.0
	for _, q := range d.Plateaus {
		switch {
		case q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < draw.FiveFrom:
			idle = 0
		case *q.CurrentA < standbyA:
			idle += q.EndS - q.StartS + d.Sampling.IntervalS
		case idle >= lateS:
			return Exactly(CutFed)
		default:
			return Exactly(CutLoaded)
		}
	}
	return Seen{CutFed: 1, CutLoaded: 1}
}
