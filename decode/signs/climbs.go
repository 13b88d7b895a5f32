package signs

import (
	"portside/decode/draw"
	"portside/decode/rules"
)

func (p Picture) climbs(d *draw.Result) (Seen, string) {
	text := p.Text("staircase-draw")
	switch {
	case p.Lapsed != "" && p.Is("staircase-draw", rules.Warning): // the reset ends each climb
		return nil, ""
	case p.Is("staircase-draw", rules.Fault):
		return Exactly(DrawStairsFall), text
	case p.Is("staircase-draw", rules.Warning):
		switch working := p.Is("ramp-normal", rules.Note); {
		case working && !p.Contract:
			return Seen{DrawStairsFall: 0.3, DrawStairsSettle: 1}, text // the steps are too fine for this meter, and it works
		case working:
			return Seen{DrawStairsFall: 0.3, DrawStairsSettle: 0.3, DrawWorking: 0.5}, text + "; after that it works" // a start in bursts
		}
		return Seen{DrawStairsFall: 1, DrawStairsSettle: 0.3}, text // it may settle yet
	case p.Is("staircase-draw", rules.Note):
		for _, s := range d.Staircases {
			if s.SettledA != nil {
				return Exactly(DrawStairsSettle), text
			}
		}
		switch working := p.Is("ramp-normal", rules.Note); {
		case !working:
			return Seen{DrawStairsFall: 1, DrawStairsSettle: 1, DrawWorking: 0.3}, text // the recording ends within the search, or a ramp was cut into steps
		case !p.Contract:
			return Seen{DrawStairsSettle: 1, DrawWorking: 0.3}, text + "; after that it works"
		}
	}
	return nil, ""
}

// searchFalls is how often a search of a plain 5 V source may overload it before
// it settles: open laptop embedded-controller firmware.
const searchFalls = 3

// searches reports a search of a plain source under way: the draw climbs, and
// VBUS gives way at the end of a climb.
func (p Picture) searches(d *draw.Result) bool {
	return !p.Contract && p.Is("staircase-draw", rules.Note) && len(d.Collapses) <= searchFalls
}

func (p Picture) gaveWay(d *draw.Result) (Seen, string) {
	if !p.Is("vbus-collapse", rules.Fault) || len(d.Collapses) == 0 || p.searches(d) {
		return nil, ""
	}
	if _, lower := StandsLower(d); lower {
		return nil, ""
	}
	return Exactly(DrawDrops), p.Text("vbus-collapse")
}

// StandsLower is the level that VBUS falls to and stands at, carrying a working draw: it
// gives way and does not go away.
func StandsLower(d *draw.Result) (draw.Level, bool) {
	if len(d.Collapses) != 1 {
		return draw.Level{}, false
	}
	c := d.Collapses[0]
	for _, l := range d.Levels {
		if l.EndS-l.StartS >= minLevelS && l.StartS >= c.TimeS-minLevelS && l.EndS > c.TimeS {
			return l, l.VoltageV >= contractV && l.VoltageV < c.FromV && l.MeanA >= standbyA
		}
	}
	return draw.Level{}, false
}
