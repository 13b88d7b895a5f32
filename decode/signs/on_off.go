package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// onAndOffW is the swing of a machine that works and stops: more than one that
// sleeps and wakes. Common practice.
const (
	onAndOffW    = 8.0
	onAndOffLast = 0.4 // s that each side holds at least
	onAndOffSeen = 2   // stops before it counts
	onAndOffMost = 60  // s from stop to stop: a full battery is topped up minutes apart
	cutShort     = 0.5 // of its peak: a charge that ends has fallen further
)

// restartsMost is how often a sound machine starts again before it starts for good: memory
// that is trained anew once its battery was out. Common practice.
const restartsMost = 3

// onAndOff looks for a working draw that stops and comes back while the
// contract stands.
func (p Picture) onAndOff(d *draw.Result) (Seen, string) {
	if !p.Contract {
		return nil, ""
	}
	stops, worked, firstS, lastS := 0, 0.0, 0.0, 0.0
	peakW, lastW := 0.0, 0.0
	var rests restsSeen
	var times []float64
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < contractV {
			worked = 0
			continue
		}
		lasts := q.EndS - q.StartS + d.Sampling.IntervalS // a ramp is cut into single samples
		held := lasts >= max(beganS, 2*d.Sampling.IntervalS)
		rests.note(q, lasts, worked)
		switch {
		case *q.CurrentA**q.VoltageV >= onAndOffW:
			worked += lasts
			if held { // a row between two states is neither
				lastW = *q.CurrentA * *q.VoltageV
				peakW = max(peakW, lastW)
			}
		case *q.CurrentA > standbyA && held:
			lastW = *q.CurrentA * *q.VoltageV // it comes down first
		case worked >= onAndOffLast && lasts >= onAndOffLast && *q.CurrentA <= standbyA:
			worked = 0
			stops++
			times = append(times, q.StartS)
			lastS = q.StartS
			if stops == 1 {
				firstS = q.StartS
			}
		}
	}
	if quietS := d.Sampling.EndS - lastS; stops == 1 && worked == 0 && quietS >= minLevelS && lastW >= cutShort*peakW && !p.Is("charge-taper", rules.Note) {
		restA := restSince(d, firstS)
		if idleA, all := p.losesAll(d, restA); all {
			return Exactly(DrawLosesAll), fmt.Sprintf("the draw stops at %.2f s while VBUS stands, and nothing flows for %.0f s, not even the %.0f mA from before the contract", firstS, quietS, 1000*idleA)
		}
		how := Exactly(DrawEnds)
		switch {
		case restA > quietA:
			how = Exactly(DrawHolds)
		case restA > nothingA:
			how = Seen{DrawEnds: 1, DrawHolds: 1}
		}
		if _, gently := comesDown(d, append(roundsIn(d).starts, d.Sampling.EndS)); gently { // of one alone it may be chance
			how[DrawPauses] = 1
		}
		return how, fmt.Sprintf("the draw stops at %.2f s while VBUS stands, and does not come back for %.0f s, in which %.0f mA flow", firstS, quietS, 1000*restA)
	}
	if stops < onAndOffSeen || lastS-firstS > onAndOffMost*float64(stops-1) {
		return nil, ""
	}
	if stops <= restartsMost && worked >= max(atFirstS, atFirstTimes*(lastS-firstS)) {
		return nil, "" // it starts again once or twice, and then comes off
	}
	if p.atContracts(times) {
		return nil, ""
	}
	if lets, text := letsGo(d, roundsIn(d).starts); lets != nil {
		return lets, text
	}
	text := fmt.Sprintf("the draw stops %d times from %.2f s to %.2f s while VBUS stands", stops, firstS, lastS)
	if idle, all := p.losesAll(d, rests.leastA); all {
		return Exactly(DrawLosesAll), text + fmt.Sprintf(", and nothing flows then, not even the %.0f mA from before the contract", 1000*idle)
	}
	how := rests.use(d.Sampling)
	if how[DrawInUse] > 0 {
		text += fmt.Sprintf(", and never goes below %.0f mA", 1000*rests.leastA)
	}
	return how, text
}

// atContracts reports stops that lie each at a new contract, for which a machine lets go (USB PD R3.2
// V1.1 table 7.24, pSnkStdby).
func (p Picture) atContracts(stops []float64) bool {
	n := p.Facts.Negotiation
	if n == nil || !p.Facts.Aligned {
		return false
	}
	within := pd.TPSTransitionSPR.Limits(pd.Revision32).MaxSI() + p.Facts.ClockU
	at := 0
	for _, s := range stops {
		if slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool {
			return c.StartS != nil && math.Abs(*c.StartS-s) <= within
		}) {
			at++
		}
	}
	return float64(at) >= atMost*float64(len(stops))
}

// atMost is the share of the stops that has to: common practice.
const atMost = 0.8

// restSince is the draw of the plateau that lasts longest from then on.
func restSince(d *draw.Result, fromS float64) float64 {
	amps, longest := 0.0, 0.0
	for _, q := range d.Plateaus {
		if s := q.EndS - q.StartS + d.Sampling.IntervalS; q.StartS >= fromS && q.CurrentA != nil && s > longest {
			amps, longest = *q.CurrentA, s
		}
	}
	return amps
}

// A port controller takes its supply from VBUS before the switches. Common practice.
const (
	idleLeastA = 0.006 // what it takes, more than a meter's zero moves
	idleLeft   = 0.25  // of it at most, where VBUS does not reach it
)

// losesAll reports a draw that stops together with what the port controller takes, which is known
// from before the contract.
func (p Picture) losesAll(d *draw.Result, restA float64) (idleA float64, all bool) {
	zero, known := zeroOf(d)
	before, told := p.BeforeContract(d)
	if !known || !told {
		return 0, false
	}
	idleA = before - zero
	return idleA, idleA >= idleLeastA && idleA <= standbyA && restA-zero <= max(idleLeft*idleA, 2*d.Sampling.ResolutionA) && 4*d.Sampling.ResolutionA <= idleA
}
