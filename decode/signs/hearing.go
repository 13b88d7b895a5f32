package signs

import (
	"fmt"
)

// Whose messages have to be said again, though a contract stands.
const (
	HeardAll     = "heard"
	SourceMissed = "source-missed"
	SinkMissed   = "sink-missed"
	BothMissed   = "both-missed"
)

// Repeats that are no accident: common practice.
const (
	againCount = 3
	againShare = 0.1 // of what the side said
)

// Unheard tells the side that repeats itself, where both talk and a contract comes of it.
func (p Picture) Unheard() (Seen, string) {
	n := p.Facts.Negotiation
	if n == nil || !p.Contract || n.FromSource == 0 || n.FromSink == 0 {
		return nil, ""
	}
	source, sink := n.CRCErrors.RepeatedSource, n.CRCErrors.RepeatedSink
	much := func(again, said int) bool { return again >= againCount && float64(again) > againShare*float64(said) }
	bySource, bySink := much(source, n.FromSource), much(sink, n.FromSink)
	switch text := fmt.Sprintf("%d of %d messages of the source and %d of %d of the sink are said again", source, n.FromSource, sink, n.FromSink); {
	case bySource && bySink:
		return Exactly(BothMissed), text
	case bySource:
		return Exactly(SourceMissed), text
	case bySink:
		return Exactly(SinkMissed), text
	}
	return nil, ""
}
