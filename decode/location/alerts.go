package location

import (
	"fmt"
	"strings"

	"portside/decode/rules"
)

// What a side says of itself.
const (
	noAlert   = "none"
	ailing    = "ailing"
	overdrawn = "overdrawn"
	falseDraw = "overdrawn-falsely"
	overFed   = "over-fed"
	falseOver = "over-fed-falsely"
)

// alertTopic: a source that speaks of its own input or heat says what it is short of; one
// that speaks of a current too high was overdrawn. A device that says its voltage is too
// high has a source that gives it, or measures wrongly.
func alertTopic() topic {
	return topic{name: "alert", cap: protocolCap, rows: []row{
		{noAlert, "neither side says anything is wrong", 99, like{source: 93, mains: 85, controller: 98.4, healthyPart: 99.6}, "most send no Alert", practice},
		{ailing, "the source: its input, its heat, or its voltage", 0.3, like{source: 6, mains: 14, healthyPart: 0.3}, "the source's own word", "USB PD R3.2 V1.1 tables 6.47 and 6.55 (Source Input Change, OTP, OVP)"},
		{overdrawn, "the source: too much current", 0.7, like{source: 1, mains: 1, railShort: 2, inputShort: 2, railLeak: 2, downstream: 1.5, chargerIC: 1.5, vbusShort: 2, healthyPart: 0.1}, "an overload, as the source sees it", "USB PD R3.2 V1.1 tables 6.47 and 6.55 (OCP)"},
		{falseDraw, "the source: too much current, and there was none", 0.02, like{source: 1.2, mains: 0.1, healthyPart: 0.01}, "what the source measures by is wrong", "USB PD R3.2 V1.1 tables 6.47 and 6.55 (OCP)"},
		{overFed, "the device: its voltage is too high; nobody measured it", 0.05, like{source: 1.5, controller: 0.8, healthyPart: 0.02}, "the source gives it, or the controller reads it wrongly", "USB PD R3.2 V1.1 table 6.47 (OVP)"},
		{falseOver, "the device: its voltage is too high, and it is not", 0.02, like{controller: 1.2, supply: 0.4, healthyPart: 0.01}, "what the controller measures by is wrong", "USB PD R3.2 V1.1 table 6.47 (OVP)"},
	}}
}

// drawsLittle reports a meter quick enough for what trips a source, that saw far less than
// was promised.
func (p picture) drawsLittle() bool {
	d := p.meter()
	promised, known := p.promisedA()
	return d != nil && known && d.Sampling.IntervalS > 0 && d.Sampling.IntervalS <= surgeTimes()[0] && d.Sampling.MaxA <= littleShare*promised
}

// alerted is what both sides' Alerts and Status tell.
func (p picture) alerted() (seen, string) {
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
		return exactly(ailing), fmt.Sprintf("the source says that %s", strings.Join(said, " and "))
	case n.SourceSays.Overcurrent && p.drawsLittle():
		return exactly(falseDraw), fmt.Sprintf("the source says that too much current was drawn, and the meter sees no more than %.2g A", p.meter().Sampling.MaxA)
	case n.SourceSays.Overcurrent:
		return exactly(overdrawn), "the source says that too much current was drawn"
	case !n.SinkSays.Overvoltage:
		return nil, ""
	case p.meter() == nil:
		return exactly(overFed), "the device says that its voltage is too high"
	case p.is("vbus-out-of-range", rules.Warning): // what VBUS does tells more
		return nil, ""
	default:
		return exactly(falseOver), "the device says that its voltage is too high, and the meter reads what was agreed"
	}
}
