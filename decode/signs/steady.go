package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
	"portside/decode/rules"
)

// nothingA is less than any machine's standby at 20 V: 0.2 W and more. Common practice.
const nothingA = 0.01

// Less than idleW is a port controller's alone, more than aliveW a board's that is alive and off (9 to
// 30 mA at 19 V: trade pages); what lies between may be either. Common practice.
const (
	idleW  = 0.1
	aliveW = 0.3
)

// startsS is what a machine may take from the contract to its draw: common practice.
const startsS = 1.0

// steady is a draw without any pattern: none, standby, light or working, by
// its mean at the level that lasted. What the meter may have missed counts.
func (p Picture) steady(d *draw.Result) (Seen, string) {
	level, known := lastLevel(d, p.Contract)
	if !known || math.IsNaN(level.MeanA) || level.VoltageV < rules.LowestContractV || level.EndS < d.Sampling.EndS && level.EndS-level.StartS < startsS {
		return nil, ""
	}
	spikes := 0
	if p.Is("current-spike", rules.Note) {
		spikes = spikesAlike(d)
	}
	text := fmt.Sprintf("at %.2f V the draw is %.0f mA", level.VoltageV, level.MeanA*1000)
	standby := standbyLowA
	if p.Contract {
		standby = standbyA
	}
	amps, nothing, unsure := level.MeanA, nothingA, max(d.Sampling.ResolutionA, quietA)
	if zero, known := zeroOf(d); known && p.Contract && math.Abs(zero) <= quietA { // then it is no part of the draw
		amps, nothing, unsure = amps-zero, idleW/level.VoltageV, max(d.Sampling.ResolutionA, aliveW/level.VoltageV)
	}
	switch {
	case amps <= unsure && p.Contract && amps > nothing: // little more than a meter's zero may be off
		s := quietSeen(DrawNone, spikes, d.Sampling)
		for pattern, x := range quietSeen(DrawStandby, spikes, d.Sampling) {
			s[pattern] = max(s[pattern], x)
		}
		return s, text
	case amps <= unsure:
		return quietSeen(DrawNone, spikes, d.Sampling), text + ", which a meter cannot tell from nothing"
	case level.MeanA <= standby:
		return quietSeen(DrawStandby, spikes, d.Sampling), text
	case p.Contract && level.MeanA*level.VoltageV <= lightW:
		return Exactly(DrawLight), text
	default:
		return Exactly(DrawWorking), text
	}
}

// Spikes of one height that are far shorter than a machine stays awake are tries, of which
// a slow meter sees some: common practice.
const (
	tryS     = 0.05
	tryAlike = 2.0 // of the median height, either way
	settledS = 1.0 // after VBUS rose: before it capacitors fill and switches close
)

// spikesAlike counts short spikes of one height that stand on a quiet draw, once VBUS has
// settled.
func spikesAlike(d *draw.Result) int {
	var heights []float64
	next, since := 0, math.Inf(-1)
	for _, s := range d.Spikes {
		for ; next < len(d.Levels) && d.Levels[next].StartS <= s.TimeS; next++ {
			since = d.Levels[next].StartS
		}
		if s.TimeS-since >= settledS && s.DurationS <= tryS && s.BaselineA <= standbyA && s.PeakA >= standbyA {
			heights = append(heights, s.PeakA)
		}
	}
	typical := middle(heights)
	alike := 0
	for _, h := range heights {
		if h <= tryAlike*typical && h >= typical/tryAlike {
			alike++
		}
	}
	return alike
}

// lastLevel is the level that lasted longest among those that count.
func lastLevel(d *draw.Result, contract bool) (draw.Level, bool) {
	best, known := draw.Level{}, false
	for _, l := range d.Levels {
		if contract != (l.VoltageV >= contractV) || l.NominalV == 0 {
			continue
		}
		if !known || l.EndS-l.StartS > best.EndS-best.StartS {
			best, known = l, true
		}
	}
	return best, known
}
