package signs

import (
	"portside/decode/draw"
	"portside/decode/probe"
	"portside/decode/rules"
)

// DrawSeen is the one pattern that the draw shows: a train of pulses and the
// low mean it causes are one observation.
func (p Picture) DrawSeen() (Seen, string) {
	d := p.Meter()
	if d == nil || d.Sampling.WithCurrent == 0 {
		return p.drawByDisplay()
	}
	for _, pattern := range []func(*draw.Result) (Seen, string){p.refills, p.breaks, p.runsAway, p.stages, p.trains, p.gaveWay, p.climbs, p.overContract, p.starved, p.beats, p.cycles, p.surgesCut, p.cuts, p.fallsBelow, p.recurs, p.fades, p.onAndOff, p.spells, p.working} {
		s, why := pattern(d)
		if s == nil {
			continue
		}
		if s[DrawWakes]+s[DrawStairsFall]+s[DrawStairsSettle] > 0 { // what repeats its course does neither
			if again, text := p.recurs(d); again != nil {
				return again, text
			}
		}
		return s, why
	}
	return p.steady(d)
}

// promisedA is the current that the source promised: the contract's, else
// what the charger's label allows at the highest level seen.
func (p Picture) promisedA() (float64, bool) {
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
	label, known := probe.Figure(p.Readings, "charger-label-w")
	if d := p.Meter(); known && d != nil && d.Sampling.MaxV > 1 {
		return label / d.Sampling.MaxV, true
	}
	return 0, false
}

func (p Picture) overContract(*draw.Result) (Seen, string) {
	if !p.Is("over-contract-current", rules.Fault) {
		return nil, ""
	}
	return Exactly(DrawOver), p.Text("over-contract-current")
}

func (p Picture) starved(*draw.Result) (Seen, string) {
	if !p.Is("series-resistance-high", rules.Fault) {
		return nil, ""
	}
	return Exactly(DrawStarved), p.Text("series-resistance-high")
}

// drawByDisplay reads what a display shows. It is taken once or twice a
// second, so a short pulse is missed.
func (p Picture) drawByDisplay() (Seen, string) {
	amps, known := probe.Figure(p.Readings, "display-a")
	pattern := probe.Word(p.Readings, "display-pattern")
	if !known && pattern == "" || p.State[NoVBUS] > 0 {
		return nil, ""
	}
	display := draw.Sampling{IntervalS: 0.5, EndS: 30, ResolutionA: 0.01}
	text := "the display"
	if r, has := probe.Find(p.Readings, "display-a"); has {
		text += " shows " + r.Text
	}
	if pattern != "" {
		text += " " + pattern
	}
	switch pattern {
	case "pulsing":
		return Seen{DrawFast: 1, DrawCharger: 0.7, DrawSlow: 1, DrawDrops: 0.6, DrawStandby: 0.02, DrawWorking: 0.03}, text
	case "staircase":
		return Seen{DrawStairsFall: 1, DrawStairsSettle: 0.8, DrawWorking: 0.1}, text
	case "climbing":
		return Seen{DrawWorking: 1, DrawPrecharge: 0.5, DrawStairsSettle: 0.5, DrawStairsFall: 0.2, DrawAtLimit: 0.5}, text
	case "falling":
		return Seen{DrawTaper: 1, DrawWorking: 0.2}, text
	}
	standby := standbyLowA
	if p.Contract {
		standby = standbyA
	}
	volts, _ := probe.Figure(p.Readings, "display-v")
	switch {
	case !known:
		return nil, ""
	case amps <= quietA:
		return quietSeen(DrawNone, 0, display), text
	case amps <= standby:
		return quietSeen(DrawStandby, 0, display), text
	case p.Contract && volts > 0 && amps*volts <= lightW:
		return Exactly(DrawLight), text
	default:
		return Seen{DrawWorking: 1, DrawAtLimit: 1, DrawTaper: 0.8, DrawPrecharge: 0.3}, text
	}
}
