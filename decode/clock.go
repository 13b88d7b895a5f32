package decode

import (
	"fmt"
	"time"

	"portside/captures"
	"portside/decode/clocks"
)

// pairClock describes the first meter log against the messages.
func pairClock(stats []captures.Stats, given []captures.Clock, a clocks.Alignment) Clock {
	for i, c := range given {
		if i < len(stats) && stats[i].Samples {
			in := inputClock(true, c, a)
			return Clock{OffsetS: in.OffsetS, UncertaintyS: in.UncertaintyS, Method: in.Method, Matched: matched(a)}
		}
	}
	return Clock{Method: "no meter log", Matched: []Matched{}}
}

// MatchedOf are the events that determine an alignment.
func MatchedOf(a clocks.Alignment) []Matched { return matched(a) }

// InputClockOf is the clock of an input that may be a meter, given or found.
func InputClockOf(c captures.Clock, a clocks.Alignment) InputClock { return inputClock(true, c, a) }

func matched(a clocks.Alignment) []Matched {
	out := []Matched{}
	for _, m := range a.Matched {
		out = append(out, Matched{MeterS: *microseconds(m.MeterS), MessagesS: *microseconds(m.MessagesS), Event: m.What})
	}
	return out
}

// InputClocks describes the clock of each input.
func InputClocks(stats []captures.Stats, given []captures.Clock, a clocks.Alignment) []InputClock {
	return inputClocks(stats, given, a)
}

func inputClocks(stats []captures.Stats, given []captures.Clock, a clocks.Alignment) []InputClock {
	out := []InputClock{}
	for i, c := range given {
		out = append(out, inputClock(i < len(stats) && stats[i].Samples, c, a))
	}
	return out
}

// inputClock is the clock of one input: the reference, one that was stated, or
// one found from the steps that both recorders saw.
func inputClock(meter bool, c captures.Clock, a clocks.Alignment) InputClock {
	in := InputClock{Path: c.Path, Method: "not determined"}
	switch {
	case c.Offset != nil:
		zero := 0.0
		in.OffsetS, in.UncertaintyS = seconds(*c.Offset), &zero
		in.Method = "reference"
		if c.Stated {
			in.Method = "stated"
		}
	case meter && a.Determined:
		in.OffsetS, in.UncertaintyS = microseconds(a.OffsetS), microseconds(a.Uncertainty)
		in.Method = fmt.Sprintf("voltage steps seen by both recorders: %d", len(a.Matched))
		if a.ByCurrent {
			in.Method = fmt.Sprintf("current that rose after PS_RDY: %d; VBUS showed no step to go by", len(a.Matched))
		}
		if a.RateU > 0 {
			in.RatePPM, in.RateUncertaintyPPM = &a.RatePPM, &a.RateU
		}
	case meter && a.Reason != "":
		in.Method = "not determined: " + a.Reason
	}
	return in
}

// microseconds drops digits that no recorder has.
func microseconds(s float64) *float64 {
	return seconds(time.Duration(s * float64(time.Second)).Round(time.Microsecond))
}
