package pd

import "math"

// CCLevel is what the voltage on CC says to a sink. The zero value is unknown.
type CCLevel uint8

// The levels of CC at a sink.
const (
	CCOpen     CCLevel = iota + 1 // no source
	CCDefault                     // default USB current
	CC1A5                         // 1.5 A
	CC3A0                         // 3.0 A
	CCTooClose                    // between two ranges, or above 3.0 A but possible with a wide Rd
	CCOutside                     // no termination of the standard gives it
)

// String gives "open", "default", "1.5 A", "3.0 A", "too close to call", "outside every
// level" or "unknown".
func (l CCLevel) String() string {
	switch l {
	case CCOpen:
		return "open"
	case CCDefault:
		return "default"
	case CC1A5:
		return "1.5 A"
	case CC3A0:
		return "3.0 A"
	case CCTooClose:
		return "too close to call"
	case CCOutside:
		return "outside every level"
	default:
		return "unknown"
	}
}

// ccWindows are the ranges of CCMeaning, looked up once: a log of the pins asks for each row.
var ccWindows = struct{ open, standard, a15, a30, most Window }{
	absolute(VCCOpen), absolute(VCCDefault), absolute(VCC1A5), absolute(VCC3A0), absolute(VCCDefaultOnlySink),
}

// CCMeaning tells what the voltage on the connected CC pin, measured at the sink between
// frames, advertises (USB Type-C R2.0, tables 4-35 and 4-36; the ranges of R2.4 lie within
// these by up to 0.06 V). NaN is unknown.
func CCMeaning(volts float64) CCLevel {
	switch {
	case math.IsNaN(volts):
		return 0
	case ccWindows.open.Contains(volts):
		return CCOpen
	case ccWindows.standard.Contains(volts):
		return CCDefault
	case ccWindows.a15.Contains(volts):
		return CC1A5
	case ccWindows.a30.Contains(volts):
		return CC3A0
	case volts < ccWindows.open.Min || volts > ccWindows.most.Max:
		return CCOutside
	default:
		return CCTooClose
	}
}
