package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// A draw that beats: common practice.
const (
	beatSwing = 0.3  // of the highest draw, from trough to crest
	beatCount = 15   // crests, for a rhythm
	beatMostS = 0.7  // between two, with their spread: 0.62 s (data sheet SLVSGF4B)
	beatOff   = 0.06 // of the beat, off a whole number of it: rows may miss a crest
	beatRows  = 0.75 // and rows that it may be off
	beatOn    = 0.85 // of the distances that keep to it
	beatShare = 0.5  // of the working draw that the rhythm fills
	beatFine  = 7.0  // rows of a beat: of fewer a beat looks even
)

// beats looks for a working draw that swings at a beat of its own while VBUS stands: a
// regulator that tries again and again beside others that run, or a loop that hunts.
func (p Picture) beats(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() || d.Sampling.IntervalS <= 0 {
		return nil, ""
	}
	if _, swings := p.Swings(d); swings { // the source's, which the draw follows
		return nil, ""
	}
	if o := d.Oscillation; o != nil && d.Hum == nil && o.EndS-o.StartS >= beatShare*(d.Sampling.EndS-o.StartS) {
		return Exactly(DrawBeats), fmt.Sprintf("from %.2f s on the draw swings by %.2g A, %d times, each %.2g s, while VBUS stands", o.StartS, o.SwingA, o.Count, o.PeriodS)
	}
	crests, swingA, worked := crestsOf(d)
	if len(crests) < beatCount {
		return nil, ""
	}
	gaps := apart(crests)
	slices.Sort(gaps)
	usual, on := gaps[len(gaps)/4], 0
	for _, g := range gaps {
		if off := math.Abs(g - usual*math.Round(g/usual)); off <= beatOff*usual+beatRows*d.Sampling.IntervalS {
			on++
		}
	}
	filled := crests[len(crests)-1] - crests[0]
	if usual > beatMostS || usual < beatFine*d.Sampling.IntervalS || float64(on) < beatOn*float64(len(gaps)) || filled < beatShare*worked {
		return nil, ""
	}
	return Exactly(DrawBeats), fmt.Sprintf("from %.2f s on the draw swings by %.2g A, %d times, each %.2g s, while VBUS stands", crests[0], swingA, len(crests), usual)
}

// crestsOf are the times at which the draw rises through the middle of its range, and how
// long it works in all.
func crestsOf(d *draw.Result) (crests []float64, swingA, worked float64) {
	var amps []float64
	for _, q := range d.Plateaus {
		if q.CurrentA != nil && q.VoltageV != nil && *q.VoltageV >= contractV && *q.CurrentA >= standbyA/2 {
			amps = append(amps, *q.CurrentA)
			worked += q.EndS - q.StartS + d.Sampling.IntervalS
		}
	}
	if len(amps) < 2*beatCount {
		return nil, 0, 0
	}
	slices.Sort(amps)
	low, high := amps[len(amps)/10], amps[len(amps)*9/10]
	if high-low < max(beatSwing*high, standbyA) {
		return nil, 0, 0
	}
	cross, quarter, below := (low+high)/2, (high-low)/4, false
	for _, q := range d.Plateaus {
		switch {
		case q.CurrentA == nil || q.VoltageV == nil:
		case *q.VoltageV < contractV:
			below = false
		case *q.CurrentA < cross-quarter:
			below = true
		case below && *q.CurrentA > cross:
			crests, below = append(crests, q.StartS), false
		}
	}
	return crests, high - low, worked
}

// refillsFrom is how often a draw is cut off and its capacitors filled again: more than
// chance and a plug that is moved; and how alike their charges are, as of the same
// capacitors at the same voltage. Common practice.
const (
	refillsFrom  = 3
	refillsAlike = 2.0 // the largest over the smallest, but for one in ten: they run empty more or less
)

// refills looks for a draw that a switch cuts off and lets in again. A search that begins
// anew takes the charge of its own input each time.
func (p Picture) refills(d *draw.Result) (Seen, string) {
	if p.Is("staircase-draw", rules.Fault) {
		return nil, ""
	}
	n := len(d.Refills)
	if n < refillsFrom {
		return nil, ""
	}
	charges := make([]float64, n)
	for i, r := range d.Refills {
		charges[i] = r.ChargeC
	}
	slices.Sort(charges)
	if charges[n-1-n/10] > refillsAlike*charges[n/10] {
		return nil, ""
	}
	return Exactly(DrawRefills), fmt.Sprintf("the draw is cut off %d times from %.2f s on while VBUS stands, and each time begins anew with a charge alone, as of empty capacitors behind a switch", n, d.Refills[0].TimeS)
}
