package rules

import (
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// contractAmps is the most that may flow during a plateau, and the bar above
// which it is too much: without messages what any contract may allow, on one clock
// what the contracts of its time do, else what any of the recording does.
func contractAmps(f *Facts, p draw.Plateau) (allowed, bar float64, ok bool) {
	if f.Negotiation == nil {
		most := pd.CurrentLimit.Amps()
		return most, most * (1 + overContractPercent/100), true
	}
	if !f.Aligned && beginsAbove5V(f.Draw) {
		return 0, 0, false // a contract of before the recording may be meant
	}
	inside := false
	for _, c := range f.Negotiation.Contracts {
		if f.Aligned && !touches(c, p) {
			continue
		}
		if c.CurrentMA == nil {
			return 0, 0, false
		}
		a := float64(*c.CurrentMA) / 1000
		allowed = max(allowed, a)
		bar, ok = max(bar, a*(1+overContractPercent/100), a+ownLimitA(c, a)), true
		inside = inside || covers(f, c, p)
	}
	if ok && !inside && atFive(p) {
		allowed = max(allowed, typeCA)
		bar = max(bar, typeCA*(1+overContractPercent/100))
	}
	return allowed, bar, ok
}

// beginsAbove5V reports a log that begins inside a contract.
func beginsAbove5V(d *draw.Result) bool {
	return len(d.Levels) > 0 && above5V(d.Levels[0])
}

// ownLimitA is by how much a source may miss a limit that it holds itself, as
// one of PPS does.
func ownLimitA(c negotiation.Contract, amps float64) float64 {
	switch {
	case c.Kind != pd.KindPPS.String():
		return 0
	case amps > ratedA:
		return amps * limit(pd.IPpsCLNewAbove3A).Max.Value / 100
	default:
		return limit(pd.IPpsCLNew).MaxSI()
	}
}

// touches reports a contract in force at some time of the plateau, the time of a
// transition allowed for on each side.
func touches(c negotiation.Contract, p draw.Plateau) bool {
	slack := limit(pd.TPSTransitionSPR).MaxSI()
	return c.StartS != nil && p.EndS > *c.StartS-slack && (c.EndS == nil || p.StartS < *c.EndS+slack)
}

// covers reports a plateau that lies within the contract. On clocks of their own
// one at 5 V does where a contract of 5 V stands and the plateau is longer than
// the time before any contract.
func covers(f *Facts, c negotiation.Contract, p draw.Plateau) bool {
	if !f.Aligned {
		return c.VoltageMV != nil && *c.VoltageMV <= 5000 && p.EndS-p.StartS >= minStuckS
	}
	return p.StartS >= *c.StartS && (c.EndS == nil || p.EndS <= *c.EndS)
}

// atFive reports a plateau at 5 V: outside a contract the source's Type-C
// current holds there.
func atFive(p draw.Plateau) bool {
	return p.VoltageV != nil && *p.VoltageV <= limit(pd.VSafe5V).Max.Value
}
