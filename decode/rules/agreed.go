package rules

import (
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// agreedFor is the voltage that the messages agreed on for the time of a level, ok only
// where they leave no other. A recorder of messages may have stopped before the meter, so
// that what was offered counts as possible once the messages have ended.
func agreedFor(f *Facts, l draw.Level) (volts float64, ok bool) {
	n := f.Negotiation
	if n == nil || l.NominalV == 0 || n.BeginsInside || len(n.Offers) == 0 {
		return 0, false
	}
	c, ok := contractOf(f, l)
	if !ok || c.VoltageMV == nil {
		return 0, false
	}
	told := f.Aligned && recorded(f, l) || slidInto(f.Draw, l) || neverRose(f.Draw, l, c)
	if !told && (offered(n, l.VoltageV) || l.VoltageV < LowestContractV) {
		return 0, false
	}
	return float64(*c.VoltageMV) / 1000, true
}

// neverRoseS is several times what a source and a sink take from 5 V to a contract: common
// practice.
const neverRoseS = 10.0

// contractOf is the contract that a level stands in: on one clock the one of its time,
// as long as VBUS was not off meanwhile; else the only one there is.
func contractOf(f *Facts, l draw.Level) (negotiation.Contract, bool) {
	all := f.Negotiation.Contracts
	if !f.Aligned {
		if len(all) != 1 || all[0].EndS != nil {
			return negotiation.Contract{}, false
		}
		return all[0], !offSince(f.Draw, math.Inf(-1), l.StartS, true)
	}
	slack := limit(pd.TPSTransitionSPR).MaxSI() + f.ClockU
	for _, c := range all {
		if c.StartS != nil && l.StartS >= *c.StartS-slack && (c.EndS == nil || l.EndS <= *c.EndS+slack) {
			return c, !offSince(f.Draw, *c.StartS, l.StartS, false)
		}
	}
	return negotiation.Contract{}, false
}

// offSince reports VBUS off between two times: what stands after it is a connection
// that the messages may not hold. Before the first rise it is off in any recording.
func offSince(d *draw.Result, from, to float64, risen bool) bool {
	up := !risen
	for _, l := range d.Levels {
		switch {
		case l.StartS >= to:
			return false
		case l.StartS < from:
		case l.NominalV > 0:
			up = true
		case up:
			return true
		}
	}
	return false
}

// recorded reports a level that began while messages were still recorded.
func recorded(f *Facts, l draw.Level) bool {
	last := f.Negotiation.LastS
	return last != nil && l.StartS <= *last+limit(pd.TPSTransitionSPR).MaxSI()+f.ClockU
}

// neverRose reports 5 V that stands far longer than any contract takes to come, on a log
// that shows nothing higher, beside a contract that names more; or a log that shows VBUS
// rise from 5 V or less to another voltage, and never to that of the contract.
func neverRose(d *draw.Result, l draw.Level, c negotiation.Contract) bool {
	plain, _ := pd.FixedWindow(plainMV)
	agreed, _ := pd.FixedWindow(pd.Millivolts(*c.VoltageMV))
	switch {
	case agreed.Min <= plain.Max:
		return false
	case d.Sampling.MaxV <= plain.Max:
		return l.EndS-l.StartS >= neverRoseS
	}
	return l.VoltageV > plain.Max && d.Levels[0].VoltageV <= plain.Max && !slices.ContainsFunc(d.Levels, func(l draw.Level) bool {
		return l.VoltageV >= agreed.Min-cableDropV()-vindpmDropV && l.VoltageV <= agreed.Max
	})
}

// slidInto reports a level that VBUS slid to, as it does to no other contract.
func slidInto(d *draw.Result, l draw.Level) bool {
	return slices.ContainsFunc(d.Slides, func(s draw.Slide) bool {
		return s.EndS >= l.StartS-windowS && s.EndS <= l.EndS && s.FromV > l.VoltageV
	})
}

// offered reports a voltage that an object of the source's last offer may give, a
// sound cable's drop granted.
func offered(n *negotiation.Result, volts float64) bool {
	for _, o := range n.Offers {
		if o.VoltageMV == nil {
			continue
		}
		most, _ := pd.FixedWindow(pd.Millivolts(*o.VoltageMV))
		least := most
		if o.MinVoltageMV != nil {
			least, _ = pd.FixedWindow(pd.Millivolts(*o.MinVoltageMV))
		}
		if volts >= least.Min-cableDropV() && volts <= most.Max {
			return true
		}
	}
	return false
}
