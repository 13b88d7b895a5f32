package location

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

// Whether the input switches are seen to close, in a machine that then draws nothing.
const (
	closesUnseen = "unseen"
	closesNever  = "never"
	closesSeen   = "closes"
)

// closesTopic: what stands behind the switches takes its charge as they close, if they do. A
// switch that opens slowly, or had closed at 5 V already, shows nothing of it.
func closesTopic() topic {
	return topic{name: "switches", cap: recordingCap, rows: []row{
		{closesUnseen, "no charge flows in once VBUS stands", 32, like{inputSwitch: 17, controller: 43, supply: 43, ccContact: 40, powContact: 40, vbusShort: 45, vbusLeak: 40, inputShort: 50}, "the switches stay open, or close too slowly to be seen", practice},
		{closesNever, "nor more than a controller takes, at any moment", 18, like{inputSwitch: 80, controller: 50, supply: 50, ccContact: 30, powContact: 35, vbusShort: 40, vbusLeak: 35, inputShort: 20}, "capacitors behind switches that close would fill, and a board behind them would take its standby", practice},
		{closesSeen, "a charge flows in, and nothing after it", 50, like{inputSwitch: 3, controller: 7, supply: 7, ccContact: 30, powContact: 25, vbusShort: 15, vbusLeak: 25, inputShort: 30}, "capacitors fill behind switches that close", practice},
	}}
}

// closesRowS is how close rows must lie to show a charge that inputs take within a
// millisecond or three, and closesMost how often it comes before it is a try. Common practice.
const (
	closesRowS = 0.002
	closesMost = 2
	neverA     = 0.05 // the most that a port controller takes, and a row is off
)

// mostAbove5V is the highest current of a row on a level above 5 V.
func mostAbove5V(d *draw.Result) float64 {
	most := 0.0
	for _, l := range d.Levels {
		if l.VoltageV >= contractV {
			most = max(most, l.MaxA)
		}
	}
	return most
}

// sawRise reports a log that shows VBUS before it went above 5 V.
func sawRise(d *draw.Result) bool {
	return slices.IndexFunc(d.Levels, func(l draw.Level) bool { return l.VoltageV >= contractV }) > 0
}

// closes looks for the charge of a switch that closes, where next to nothing is drawn afterwards.
func (p picture) closes(pattern seen) (seen, string) {
	d := p.meter()
	if d == nil || !p.contract || p.breaksDown() || pattern[drawNone]+pattern[drawStandby] < 0.5 {
		return nil, ""
	}
	count, first := 0, 0
	for i, g := range d.Gulps {
		if g.VoltageV >= contractV {
			if count == 0 {
				first = i
			}
			count++
		}
	}
	s, most := d.Sampling, mostAbove5V(d)
	switch {
	case count > closesMost:
		return nil, ""
	case count > 0:
		g := d.Gulps[first]
		return exactly(closesSeen), fmt.Sprintf("at %.2f s %.2g mC flow in while VBUS stands at %.4g V, as capacitors fill behind a switch that closes", g.TimeS, 1000*g.ChargeC, g.VoltageV)
	case s.IntervalS > 0 && s.IntervalS <= closesRowS && sawRise(d) && most > 0 && most <= neverA && pattern[drawNone] > 0.5:
		return exactly(closesNever), fmt.Sprintf("not one row above 5 V shows more than %.0f mA: no charge flows in, as it does behind a switch that closes", 1000*most)
	case s.IntervalS > 0 && s.IntervalS <= closesRowS && sawRise(d):
		return exactly(closesUnseen), "no charge flows in once VBUS stands, as it does behind a switch that closes"
	}
	return nil, ""
}
