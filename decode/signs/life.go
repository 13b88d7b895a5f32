package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
)

// Whether a working draw moves as that of a machine that runs.
const (
	LifeMoves  = "moves"
	LifeSteady = "steady"
)

// Common practice.
const (
	stirsA     = 0.012 // and so much at the least: a display's last digit jumps too
	stirsFrom  = 0.08  // of the mean, one standard deviation of the rows
	stirsMost  = 0.35  // more is a draw that comes and goes
	stirsRestA = 0.06  // what is less has not come up
	stirsRows  = 15

	movesShare = 0.15 // of the mean, one standard deviation: a charge stands within 5 %
	settlesS   = 4.0  // after the draw began: until then it climbs
)

// Life tells how a working draw goes on once it has come up.
func (p Picture) Life(pattern Seen) (Seen, string) {
	d := p.Meter()
	if d == nil || pattern[DrawWorking] < 0.5 || p.BreaksDown() {
		return nil, ""
	}
	moves, _, lasts, _ := spread(d, flows, false)
	switch {
	case lasts < HoldsS:
		return nil, ""
	case moves > movesShare:
		return Exactly(LifeMoves), fmt.Sprintf("for %.0f s the draw moves by %.0f %% of its mean", lasts, 100*moves)
	default:
		return Exactly(LifeSteady), fmt.Sprintf("for %.0f s the draw moves by no more than %.0f %% of its mean", lasts, max(1, math.Ceil(100*moves)))
	}
}

// Stirs is life of a light draw.
func (p Picture) Stirs(pattern Seen) (Seen, string) {
	d := p.Meter()
	if d == nil || pattern[DrawLight] < 0.5 || p.BreaksDown() {
		return nil, ""
	}
	share, amps, seconds, rows := spread(d, comesUp, true)
	switch {
	case rows < stirsRows || seconds < HoldsS || share > stirsMost:
		return nil, ""
	case share >= stirsFrom && share*amps >= stirsA:
		return Exactly(LifeMoves), fmt.Sprintf("for %.0f s the draw moves by %.0f %% of its mean from row to row", seconds, 100*share)
	}
	return nil, ""
}

// comesUp counts what flows above 5 V from where the draw came up.
func comesUp(q draw.Plateau, began bool) bool {
	return q.VoltageV != nil && *q.VoltageV >= contractV && (began || *q.CurrentA >= stirsRestA)
}

// flows counts what is no standby.
func flows(q draw.Plateau, _ bool) bool { return *q.CurrentA >= standbyA }

// spread is the standard deviation of the draw that counts over its mean, once it has settled,
// and how long it lasts; of its plateaus, or of their rows too.
func spread(d *draw.Result, counts func(q draw.Plateau, began bool) bool, byRows bool) (share, amps, seconds float64, rows int) {
	from := math.NaN()
	sum, squares := 0.0, 0.0
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || !counts(q, !math.IsNaN(from)) {
			continue
		}
		if math.IsNaN(from) {
			from = q.StartS
		}
		lasts := q.EndS - max(q.StartS, from+settlesS) + d.Sampling.IntervalS
		if lasts <= 0 {
			continue
		}
		rows += q.N
		seconds, sum, squares = seconds+lasts, sum+lasts**q.CurrentA, squares+lasts**q.CurrentA**q.CurrentA
		if byRows {
			squares += lasts * q.AmpsSD * q.AmpsSD
		}
	}
	if sum == 0 {
		return 0, 0, 0, 0
	}
	amps = sum / seconds
	return math.Sqrt(max(0, squares/seconds-amps*amps)) / amps, amps, seconds, rows
}
