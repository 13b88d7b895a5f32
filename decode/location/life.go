package location

import (
	"fmt"
	"math"

	"portside/decode/draw"
)

// Whether a working draw moves as that of a machine that runs.
const (
	lifeMoves  = "moves"
	lifeSteady = "steady"
)

// lifeTopic: a machine that runs takes more and less from moment to moment; a short that is
// not quite one, a limit that is held and a charge take the same all the time.
func lifeTopic() topic {
	return topic{name: "life", cap: weakCap, rows: []row{
		{lifeMoves, "moves as a machine that runs does", 45, like{railShort: 12, railLeak: 18, chargerIC: 25, sequence: 25, inputSwitch: 25, inputShort: 20, healthyPart: 50}, "fans, storage and processor come and go", practice},
		{lifeSteady, "steady, or in one ramp", 55, like{railShort: 88, railLeak: 82, chargerIC: 75, sequence: 75, inputSwitch: 75, inputShort: 80, healthyPart: 50}, "a charge, a limit or a resistor", practice},
	}}
}

const (
	movesShare = 0.15 // of the mean, one standard deviation: a charge stands within 5 %. Common practice
	settlesS   = 4.0  // after the draw began: until then it climbs. Common practice
)

// life tells how a working draw goes on once it has come up.
func (p picture) life(pattern seen) (seen, string) {
	d := p.meter()
	if d == nil || pattern[drawWorking] < 0.5 || p.breaksDown() {
		return nil, ""
	}
	moves, lasts := spread(d)
	switch {
	case lasts < holdsS:
		return nil, ""
	case moves > movesShare:
		return exactly(lifeMoves), fmt.Sprintf("for %.0f s the draw moves by %.0f %% of its mean", lasts, 100*moves)
	default:
		return exactly(lifeSteady), fmt.Sprintf("for %.0f s the draw moves by no more than %.0f %% of its mean", lasts, max(1, math.Ceil(100*moves)))
	}
}

// spread is the standard deviation of the working draw over its mean, by its plateaus, and
// how long they last together.
func spread(d *draw.Result) (share, seconds float64) {
	from := math.NaN()
	n, sum, squares := 0.0, 0.0, 0.0
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || *q.CurrentA < standbyA {
			continue
		}
		if math.IsNaN(from) {
			from = q.StartS
		}
		lasts := q.EndS - max(q.StartS, from+settlesS) + d.Sampling.IntervalS
		if lasts <= 0 {
			continue
		}
		n, sum, squares = n+lasts, sum+lasts**q.CurrentA, squares+lasts**q.CurrentA**q.CurrentA
	}
	if n == 0 || sum == 0 {
		return 0, 0
	}
	mean := sum / n
	return math.Sqrt(max(0, squares/n-mean*mean)) / mean, n
}
