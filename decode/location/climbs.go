package location

import (
	"portside/decode/draw"
	"portside/decode/rules"
)

func (p picture) climbs(d *draw.Result) (seen, string) {
	text := p.text("staircase-draw")
	switch {
	case p.lapsed != "" && p.is("staircase-draw", rules.Warning): // the reset ends each climb
		return nil, ""
	case p.is("staircase-draw", rules.Fault):
		return exactly(drawStairsFall), text
	case p.is("staircase-draw", rules.Warning):
		switch working := p.is("ramp-normal", rules.Note); {
		case working && !p.contract:
			return seen{drawStairsFall: 0.3, drawStairsSettle: 1}, text // the steps are too fine for this meter, and it works
		case working:
			return seen{drawStairsFall: 0.3, drawStairsSettle: 0.3, drawWorking: 0.5}, text + "; after that it works" // a start in bursts
		}
		return seen{drawStairsFall: 1, drawStairsSettle: 0.3}, text // it may settle yet
	case p.is("staircase-draw", rules.Note):
		for _, s := range d.Staircases {
			if s.SettledA != nil {
				return exactly(drawStairsSettle), text
			}
		}
		switch working := p.is("ramp-normal", rules.Note); {
		case !working:
			return seen{drawStairsFall: 1, drawStairsSettle: 1, drawWorking: 0.3}, text // the recording ends within the search, or a ramp was cut into steps
		case !p.contract:
			return seen{drawStairsSettle: 1, drawWorking: 0.3}, text + "; after that it works"
		}
	}
	return nil, ""
}

// searchFalls is how often a search of a plain 5 V source may overload it before
// it settles: open laptop embedded-controller firmware.
const searchFalls = 3

// searches reports a search of a plain source under way: the draw climbs, and
// VBUS gives way at the end of a climb.
func (p picture) searches(d *draw.Result) bool {
	return !p.contract && p.is("staircase-draw", rules.Note) && len(d.Collapses) <= searchFalls
}

func (p picture) gaveWay(d *draw.Result) (seen, string) {
	if !p.is("vbus-collapse", rules.Fault) || len(d.Collapses) == 0 || p.searches(d) {
		return nil, ""
	}
	if _, lower := standsLower(d); lower {
		return nil, ""
	}
	return exactly(drawDrops), p.text("vbus-collapse")
}

// standsLower is the level that VBUS falls to and stands at, carrying a working draw: it
// gives way and does not go away.
func standsLower(d *draw.Result) (draw.Level, bool) {
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
