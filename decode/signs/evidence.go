package signs

import (
	"portside/decode/probe"
	"portside/decode/rules"
)

// Evidence is all that a verdict rests on.
type Evidence struct {
	Facts    rules.Facts
	Findings []rules.Finding
	Readings []probe.Reading // of one name the last holds
}
