package signs

import (
	"fmt"
	"math"
)

// Still is a draw that is there at once and never moves, as a resistor's does.
const Still = "still"

// A charge is ramped up, and a machine that runs moves. Common practice.
const (
	stillRowS  = 0.021 // rows further apart tell no rise from a ramp
	stillRiseS = 0.05
	stillRest  = 0.15 // of the draw: what is less has not come up
	stillUp    = 0.9  // of it: it has
	stillSkipS = 0.5  // capacitors fill, and a loop settles
	stillShare = 0.03 // of the draw: so far off at most, as it warms, and so much noise
	stillA     = 0.004
	stillS     = 8.0
	stillW     = 8.0 // a precharge takes as much: a tenth of the capacity of a pack of 80 Wh
)

// StandsStill looks for a draw that comes up at once and does not move from then on, below what was
// promised. What leaps is told as that; what stands at a limit, or at one that nobody saw, may be a
// charge.
func (p Picture) StandsStill(pattern Seen) (Seen, string) {
	d := p.Meter()
	if d == nil || !p.Contract || p.BreaksDown() || d.Sampling.IntervalS > stillRowS || pattern[DrawLeap] > pattern[DrawWorking] || pattern[DrawAtLimit] > 0 {
		return nil, ""
	}
	level, vbus, _ := lastDraw(d)
	promised, known := p.promisedA()
	if level*vbus < stillW || vbus < contractV || !known || level >= atLimit*promised {
		return nil, ""
	}
	quietTo, up, still, endS := math.NaN(), math.NaN(), math.NaN(), 0.0
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil {
			continue
		}
		stands := math.Abs(amps(q)-level) <= stillShare*level+stillA && q.AmpsSD <= stillShare*level+stillA
		switch {
		case volts(q) < contractV && endS-still >= stillS: // pulled
		case volts(q) < contractV || amps(q) <= stillRest*level && math.IsNaN(still):
			quietTo, up, still = q.EndS, math.NaN(), math.NaN()
			continue
		case !stands && !math.IsNaN(still):
			return nil, ""
		}
		if volts(q) < contractV {
			break
		}
		if math.IsNaN(up) && amps(q) >= stillUp*level {
			up = q.StartS
		}
		if stands && math.IsNaN(still) {
			still = q.StartS
		}
		endS = q.EndS
	}
	if !(up-quietTo <= stillRiseS+d.Sampling.IntervalS && still-up <= stillSkipS && endS-still >= stillS) {
		return nil, ""
	}
	return Exactly(Still), fmt.Sprintf("from %.2f s on, from one moment to the next, %.2g A flow, and for %.0f s they stand still", up, level, endS-still)
}
