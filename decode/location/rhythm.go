package location

import (
	"fmt"
	"slices"
)

// Whether contracts break down after one time or after any.
const (
	breaksAlike = "alike"
	breaksSo    = "so-so"
	breaksAny   = "at-any-time"
	breaksHot   = "shorter-each-time"
)

// rhythmTopic: what trips, starts anew or overloads does so after its own time, as an
// electronic part does; a contact moves when it moves.
func rhythmTopic() topic {
	return topic{name: "rhythm of the breaks", cap: weakCap, rows: []row{
		{breaksAlike, "each contract stands as long as the last", 45, like{
			source: 60, cable: 14, mains: 22, powContact: 14, ccContact: 14, controller: 52, supply: 52, vbusShort: 65, inputShort: 68,
			railShort: 62, railLeak: 50, chargerIC: 50, downstream: 48, battery: 42, inputSwitch: 50, healthyPart: 35,
		}, "a timer, a limit or a temperature ends it", practice},
		{breaksSo, "in between", 30, like{
			source: 24, cable: 30, mains: 30, powContact: 35, ccContact: 30, controller: 26, supply: 26, vbusShort: 22, inputShort: 22,
			railShort: 24, railLeak: 30, chargerIC: 30, downstream: 30, battery: 32, inputSwitch: 30, healthyPart: 30,
		}, "a draw that differs from time to time", practice},
		{breaksAny, "one moment or many seconds", 25, like{
			source: 16, cable: 56, mains: 48, powContact: 56, ccContact: 56, controller: 22, supply: 22, vbusShort: 13, inputShort: 10,
			railShort: 14, railLeak: 20, chargerIC: 20, downstream: 22, battery: 26, inputSwitch: 20, healthyPart: 35,
		}, "a contact that moves, or mains that fail", practice},
		{breaksHot, "each contract stands shorter than the one before", 0.3, like{
			source: 2.5, cable: 0.5, mains: 0.3, powContact: 0.8, ccContact: 0.3, controller: 0.4, supply: 0.5, inputSwitch: 0.7,
		}, "what heats up trips earlier each time; the charger is what is closed off and carries all of it", practice},
	}}
}

const (
	rhythmFrom  = 4    // breaks, for their spread to say something: common practice
	alikeSpread = 0.25 // of the median, between the quarters: common practice
	anySpread   = 0.8
)

// rhythm is how alike the contracts' lengths are, by the clock of whoever saw most of
// them; nil where too few broke down, or rows lie too far apart.
func (p picture) rhythm() (seen, string) {
	if !p.contract || !p.breaksDown() {
		return nil, ""
	}
	lengths, blurS := lostLengths(p.Facts.Negotiation), 0.0
	if d := p.meter(); d != nil && len(lengths) < rhythmFrom {
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
		return exactly(breaksHot), fmt.Sprintf("%d contracts stand for %.2g s at first and %.2g s in the end, each shorter than the one before", len(lengths), lengths[len(lengths)-1], lengths[0])
	case spread > anySpread+blur:
		return exactly(breaksAny), text
	case spread > alikeSpread+blur:
		return exactly(breaksSo), text
	case blur > alikeSpread:
		return nil, ""
	}
	return exactly(breaksAlike), text
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
