package location

import (
	"fmt"
	"strings"
)

// What the source says of itself.
const (
	noAlert   = "none"
	ailing    = "ailing"
	overdrawn = "overdrawn"
)

// alertTopic: a source that speaks of its own input or heat says what it is short of; one
// that speaks of a current too high was overdrawn.
func alertTopic() topic {
	return topic{name: "alert", cap: protocolCap, rows: []row{
		{noAlert, "no Alert of the source", 99, like{source: 93, mains: 85, healthyPart: 99.6}, "most sources send none", practice},
		{ailing, "its input or its heat", 0.3, like{source: 6, mains: 14, healthyPart: 0.3}, "the source's own word", "USB PD R3.2 V1.1 table 6.47 (Source Input Change, OTP)"},
		{overdrawn, "too much current", 0.7, like{source: 1, mains: 1, railShort: 2, inputShort: 2, railLeak: 2, downstream: 1.5, chargerIC: 1.5, vbusShort: 2, healthyPart: 0.1}, "an overload, as the source sees it", "USB PD R3.2 V1.1 table 6.47 (OCP)"},
	}}
}

// alerted is what the source's Alerts tell.
func (p picture) alerted() (seen, string) {
	n := p.Facts.Negotiation
	if n == nil || n.SourceAlerts == 0 {
		return nil, ""
	}
	f := n.SourceAlerts.Fields()
	var said []string
	for _, event := range []struct {
		set  bool
		word string
	}{{f.SourceInputChange, "its input changed"}, {f.OTP, "it is too hot"}} {
		if event.set {
			said = append(said, event.word)
		}
	}
	switch {
	case len(said) > 0:
		return exactly(ailing), fmt.Sprintf("the source says in an Alert that %s", strings.Join(said, " and "))
	case f.OCP:
		return exactly(overdrawn), "the source says in an Alert that too much current was drawn"
	}
	return nil, ""
}
