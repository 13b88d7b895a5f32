package location

import "fmt"

// Whose messages have to be said again, though a contract stands.
const (
	heardAll     = "heard"
	sourceMissed = "source-missed"
	sinkMissed   = "sink-missed"
)

// hearingTopic: a message that arrives whole is acknowledged by hardware, and what is not
// acknowledged is said again: it was damaged on its way, or met a weak receiver.
func hearingTopic() topic {
	return topic{name: "hearing", cap: weakCap, rows: []row{
		{heardAll, "nothing has to be said again", 96, like{ccContact: 88, cable: 90, controller: 90, supply: 94, source: 94, healthyPart: 97}, "a sound line loses one frame in thousands", "USB PD R3.2 V1.1 tables 5.17 and 6.70 (nRetryCount); " + practice},
		{sourceMissed, "the source says much again", 2, like{ccContact: 12, cable: 10, controller: 12, supply: 6, source: 5, healthyPart: 1.5}, "the sink's receiver, or noise at its end", "USB PD R3.2 V1.1 table 6.70 (nRetryCount); " + practice},
		{sinkMissed, "the sink says much again", 2, like{ccContact: 12, cable: 10, controller: 10, supply: 4, source: 7, healthyPart: 1.5}, "the sink's transmitter, the source's receiver, or noise at its end", "USB PD R3.2 V1.1 table 6.70 (nRetryCount); " + practice},
	}}
}

// Repeats that are no accident: common practice.
const (
	againCount = 3
	againShare = 0.1 // of what the side said
)

// unheard tells the side that repeats itself, where both talk and a contract comes of it.
func (p picture) unheard() (seen, string) {
	n := p.Facts.Negotiation
	if n == nil || !p.contract || n.FromSource == 0 || n.FromSink == 0 {
		return nil, ""
	}
	source, sink := n.CRCErrors.RepeatedSource, n.CRCErrors.RepeatedSink
	much := func(again, said int) bool { return again >= againCount && float64(again) > againShare*float64(said) }
	bySource, bySink := much(source, n.FromSource), much(sink, n.FromSink)
	switch text := fmt.Sprintf("%d of %d messages of the source and %d of %d of the sink are said again", source, n.FromSource, sink, n.FromSink); {
	case bySource && bySink:
		return seen{sourceMissed: 1, sinkMissed: 1}, text
	case bySource:
		return exactly(sourceMissed), text
	case bySink:
		return exactly(sinkMissed), text
	}
	return nil, ""
}
