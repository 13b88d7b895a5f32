package signs

import (
	"portside/decode/draw"
	"portside/decode/rules"
)

// VBUSSeen reports a meter that sees VBUS.
func (p Picture) VBUSSeen() bool {
	d := p.Meter()
	return d != nil && d.Sampling.MaxV > draw.FiveFrom
}

// HoldsS is how long a working draw must last to count as holding: several
// times the longest retry. Common practice.
const HoldsS = 10

// Works reports a draw that a machine at work has.
func Works(pattern Seen) bool {
	return pattern[DrawWorking]+pattern[DrawTaper]+pattern[DrawAtLimit]+pattern[DrawStairsSettle] > 0.5
}

// Worked is from when and how long the working draw lasted, 0 where it is none.
func (p Picture) Worked(pattern Seen) (from, longest float64) {
	if pattern[DrawWorking]+pattern[DrawTaper]+pattern[DrawAtLimit]+pattern[DrawStairsSettle] == 0 {
		return 0, 0
	}
	for _, rule := range []string{"ramp-normal", "charge-taper"} {
		if f, known := p.Found[rule]; known && f.StartS != nil && f.EndS != nil {
			if long := *f.EndS - *f.StartS; long > longest {
				from, longest = *f.StartS, long
			}
		}
	}
	return from, longest
}

// FollowsFromResets reports VBUS going off and on at 5 V where Hard Resets
// are seen: they take it away by themselves.
func FollowsFromResets(p Picture, pattern Seen) bool {
	return !p.Contract && p.Is("hard-reset-loop", rules.Warning) && BrokenOff(pattern)
}

// TriesWithin keeps a pattern of short tries: contracts that are lost come and
// go more slowly, and make every other pattern by themselves.
func (p Picture) TriesWithin(pattern Seen) Seen {
	if pattern[DrawFast]+pattern[DrawCharger] > 3*pattern[DrawSlow] && pattern[DrawStandby]+pattern[DrawNone] == 0 {
		return pattern
	}
	return nil
}

// KeptFrom reports a machine that need not draw whatever stands behind the port: VBUS is not
// what it asked for, or it begins the talk anew before it can.
func (p Picture) KeptFrom() bool {
	return p.notAsAgreed() || p.State == nil && p.Back != "" || p.Low != "" || p.Unasked != "" || p.beginsAnew() != "" || p.OverFed()
}

// BrokenOff reports a draw that comes with VBUS and goes with it.
func BrokenOff(pattern Seen) bool {
	return pattern[DrawDrops] > 0.5 || pattern[DrawSlow] > 0.5
}
