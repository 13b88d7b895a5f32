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

// stirTopic is the same of a draw of a few watts: what idles stirs. What does not may be a
// precharge or a sleep as well as a leak, and says nothing.
func stirTopic() topic {
	return topic{name: "life", cap: recordingCap, rows: []row{
		{lifeMoves, "stirs as a machine does that idles", 30, like{
			source: 25, cable: 35, powContact: 35, vbusLeak: 5, inputSwitch: 20, railShort: 6, railLeak: 5, inputShort: 5, chargerIC: 14, sequence: 10, battery: 8, healthyPart: 46,
		}, "storage, fans and processor come and go", practice},
		{lifeSteady, "is not seen to", 70, like{
			source: 75, cable: 65, powContact: 65, vbusLeak: 95, inputSwitch: 80, railShort: 94, railLeak: 95, inputShort: 95, chargerIC: 86, sequence: 90, battery: 92, healthyPart: 54,
		}, "a resistor, a limit, a precharge, or a board that waits", practice},
	}}
}

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

// life tells how a working draw goes on once it has come up.
func (p picture) life(pattern seen) (seen, string) {
	d := p.meter()
	if d == nil || pattern[drawWorking] < 0.5 || p.breaksDown() {
		return nil, ""
	}
	moves, _, lasts, _ := spread(d, flows, false)
	switch {
	case lasts < holdsS:
		return nil, ""
	case moves > movesShare:
		return exactly(lifeMoves), fmt.Sprintf("for %.0f s the draw moves by %.0f %% of its mean", lasts, 100*moves)
	default:
		return exactly(lifeSteady), fmt.Sprintf("for %.0f s the draw moves by no more than %.0f %% of its mean", lasts, max(1, math.Ceil(100*moves)))
	}
}

// stirs is life of a light draw.
func (p picture) stirs(pattern seen) (seen, string) {
	d := p.meter()
	if d == nil || pattern[drawLight] < 0.5 || p.breaksDown() {
		return nil, ""
	}
	share, amps, seconds, rows := spread(d, comesUp, true)
	switch {
	case rows < stirsRows || seconds < holdsS || share > stirsMost:
		return nil, ""
	case share >= stirsFrom && share*amps >= stirsA:
		return exactly(lifeMoves), fmt.Sprintf("for %.0f s the draw moves by %.0f %% of its mean from row to row", seconds, 100*share)
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
