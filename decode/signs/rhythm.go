package signs

import (
	"fmt"
	"slices"
)

// Whether contracts break down after one time or after any.
const (
	BreaksAlike = "alike"
	BreaksSo    = "so-so"
	BreaksAny   = "at-any-time"
	BreaksHot   = "shorter-each-time"
)

const (
	rhythmFrom  = 4    // breaks, for their spread to say something: common practice
	alikeSpread = 0.25 // of the median, between the quarters: common practice
	anySpread   = 0.8
)

// Rhythm is how alike the contracts' lengths are, by the clock of whoever saw most of
// them; nil where too few broke down, or rows lie too far apart.
func (p Picture) Rhythm() (Seen, string) {
	if !p.Contract || !p.BreaksDown() {
		return nil, ""
	}
	lengths, blurS := lostLengths(p.Facts.Negotiation), 0.0
	if d := p.Meter(); d != nil && len(lengths) < rhythmFrom {
		lengths, blurS = heldLevels(d), d.Sampling.IntervalS
	}
	if len(lengths) < rhythmFrom {
		return nil, ""
	}
	shorter := shorterEach(lengths, blurS)
	typical := middle(lengths)
	if typical < atOnceS { // what the protocol itself takes differs as much
		return nil, ""
	}
	spread := (lengths[3*len(lengths)/4] - lengths[len(lengths)/4]) / typical
	blur := 2 * blurS / typical
	text := fmt.Sprintf("the contracts stand for %.2g to %.2g s, half of them for %.2g to %.2g s",
		lengths[0], lengths[len(lengths)-1], lengths[len(lengths)/4], lengths[3*len(lengths)/4])
	switch {
	case shorter:
		return Exactly(BreaksHot), fmt.Sprintf("%d contracts stand for %.2g s at first and %.2g s in the end, each shorter than the one before", len(lengths), lengths[len(lengths)-1], lengths[0])
	case spread > anySpread+blur:
		return Exactly(BreaksAny), text
	case spread > alikeSpread+blur:
		return Exactly(BreaksSo), text
	case blur > alikeSpread:
		return nil, ""
	}
	return Exactly(BreaksAlike), text
}

// shorterEach reports lengths that go down each time, by more than rows blur them, which
// chance does for one in 24 of four.
func shorterEach(lengths []float64, blurS float64) bool {
	for i, s := range lengths[1:] {
		if s > lengths[i]-blurS {
			return false
		}
	}
	return slices.Max(lengths) >= shorterLeast*slices.Min(lengths)
}

// shorterLeast is how much longer the first stood than the last: common practice.
const shorterLeast = 1.15
