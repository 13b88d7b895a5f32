package location

import (
	"portside/decode/draw"
	"portside/decode/rules"
)

// drawSeen is the one pattern that the draw shows: a train of pulses and the
// low mean it causes are one observation.
func (p picture) drawSeen() (seen, string) {
	d := p.meter()
	if d == nil || d.Sampling.WithCurrent == 0 {
		return p.drawByDisplay()
	}
	for _, pattern := range []func(*draw.Result) (seen, string){p.refills, p.breaks, p.runsAway, p.stages, p.trains, p.gaveWay, p.climbs, p.overContract, p.starved, p.beats, p.cycles, p.cuts, p.fallsBelow, p.fades, p.onAndOff, p.working} {
		if s, why := pattern(d); s != nil {
			return s, why
		}
	}
	return p.steady(d)
}

// promisedA is the current that the source promised: the contract's, else
// what the charger's label allows at the highest level seen.
func (p picture) promisedA() (float64, bool) {
	most := 0.0
	if n := p.Facts.Negotiation; n != nil {
		for _, c := range n.Contracts {
			if c.CurrentMA != nil {
				most = max(most, float64(*c.CurrentMA)/1000)
			}
		}
	}
	if most > 0 {
		return most, true
	}
	label, known := figure(p.Readings, "charger-label-w")
	if d := p.meter(); known && d != nil && d.Sampling.MaxV > 1 {
		return label / d.Sampling.MaxV, true
	}
	return 0, false
}

func (p picture) overContract(*draw.Result) (seen, string) {
	if !p.is("over-contract-current", rules.Fault) {
		return nil, ""
	}
	return exactly(drawOver), p.text("over-contract-current")
}

func (p picture) starved(*draw.Result) (seen, string) {
	if !p.is("series-resistance-high", rules.Fault) {
		return nil, ""
	}
	return exactly(drawStarved), p.text("series-resistance-high")
}

// drawByDisplay reads what a display shows. It is taken once or twice a
// second, so a short pulse is missed.
func (p picture) drawByDisplay() (seen, string) {
	amps, known := figure(p.Readings, "display-a")
	pattern := word(p.Readings, "display-pattern")
	if !known && pattern == "" || p.state[noVBUS] > 0 {
		return nil, ""
	}
	display := draw.Sampling{IntervalS: 0.5, EndS: 30, ResolutionA: 0.01}
	text := "the display"
	if r, has := find(p.Readings, "display-a"); has {
		text += " shows " + r.Text
	}
	if pattern != "" {
		text += " " + pattern
	}
	switch pattern {
	case "pulsing":
		return seen{drawFast: 1, drawCharger: 0.7, drawSlow: 1, drawDrops: 0.6, drawStandby: 0.02, drawWorking: 0.03}, text
	case "staircase":
		return seen{drawStairsFall: 1, drawStairsSettle: 0.8, drawWorking: 0.1}, text
	case "climbing":
		return seen{drawWorking: 1, drawPrecharge: 0.5, drawStairsSettle: 0.5, drawStairsFall: 0.2, drawAtLimit: 0.5}, text
	case "falling":
		return seen{drawTaper: 1, drawWorking: 0.2}, text
	}
	standby := standbyLowA
	if p.contract {
		standby = standbyA
	}
	volts, _ := figure(p.Readings, "display-v")
	switch {
	case !known:
		return nil, ""
	case amps <= quietA:
		return quietSeen(drawNone, 0, display), text
	case amps <= standby:
		return quietSeen(drawStandby, 0, display), text
	case p.contract && volts > 0 && amps*volts <= lightW:
		return exactly(drawLight), text
	default:
		return seen{drawWorking: 1, drawAtLimit: 1, drawTaper: 0.8, drawPrecharge: 0.3}, text
	}
}
