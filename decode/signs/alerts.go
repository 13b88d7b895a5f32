package signs

import (
	"fmt"
	"strings"

	"portside/decode/rules"
)

// What a side says of itself.
const (
	NoAlert   = "none"
	Ailing    = "ailing"
	Overdrawn = "overdrawn"
	FalseDraw = "overdrawn-falsely"
	OverFed   = "over-fed"
	FalseOver = "over-fed-falsely"
)

// drawsLittle reports a meter quick enough for what trips a source, that saw far less than
// was promised.
func (p Picture) drawsLittle() bool {
	d := p.Meter()
	promised, known := p.promisedA()
	return d != nil && known && d.Sampling.IntervalS > 0 && d.Sampling.IntervalS <= surgeTimes()[0] && d.Sampling.MaxA <= littleShare*promised
}

// Alerted is what both sides' Alerts and Status tell.
func (p Picture) Alerted() (Seen, string) {
	n := p.Facts.Negotiation
	if n == nil {
		return nil, ""
	}
	var said []string
	for _, event := range []struct {
		set  bool
		word string
	}{
		{n.SourceSays.Input, "its input changed or gives too little"}, {n.SourceSays.Hot, "it is too hot"},
		{n.SourceSays.Overvoltage, "its voltage is too high"},
	} {
		if event.set {
			said = append(said, event.word)
		}
	}
	switch {
	case len(said) > 0:
		return Exactly(Ailing), fmt.Sprintf("the source says that %s", strings.Join(said, " and "))
	case n.SourceSays.Overcurrent && p.drawsLittle():
		return Exactly(FalseDraw), fmt.Sprintf("the source says that too much current was drawn, and the meter sees no more than %.2g A", p.Meter().Sampling.MaxA)
	case n.SourceSays.Overcurrent:
		return Exactly(Overdrawn), "the source says that too much current was drawn"
	case !n.SinkSays.Overvoltage:
		return nil, ""
	case p.Meter() == nil:
		return Exactly(OverFed), "the device says that its voltage is too high"
	case p.Is("vbus-out-of-range", rules.Warning): // what VBUS does tells more
		return nil, ""
	default:
		return Exactly(FalseOver), "the device says that its voltage is too high, and the meter reads what was agreed"
	}
}
