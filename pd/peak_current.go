package pd

import "time"

// PeakCurrent is the two-bit overload code of fixed and adjustable supplies (USB PD R3.2
// V1.1, tables 6.10 and 6.16, identical).
type PeakCurrent uint8

// Overload is one allowed overload: PeakPercent of the operating current for Peak, then
// RestPercent for the rest of Period.
type Overload struct {
	PeakPercent, RestPercent int           // of the operating current
	Peak, Period             time.Duration // how long the peak lasts, and how long peak and rest together
}

const (
	overloadPeriod = 20 * time.Millisecond
	overloadShort  = 1 * time.Millisecond
	overloadMiddle = 2 * time.Millisecond
	overloadLong   = 10 * time.Millisecond
)

// Overloads gives the three overloads the code allows; ok is false for code 0, where there
// is none or Source_Capabilities_Extended tells.
func (p PeakCurrent) Overloads() (o [3]Overload, ok bool) {
	of := func(short, shortRest, middle, middleRest, long, longRest int) [3]Overload {
		return [3]Overload{
			{short, shortRest, overloadShort, overloadPeriod},
			{middle, middleRest, overloadMiddle, overloadPeriod},
			{long, longRest, overloadLong, overloadPeriod},
		}
	}
	switch p {
	case 1:
		return of(150, 97, 125, 97, 110, 90), true
	case 2:
		return of(200, 95, 150, 94, 125, 75), true
	case 3:
		return of(200, 95, 175, 92, 150, 50), true
	default:
		return o, false
	}
}
