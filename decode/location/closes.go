package location

import (
	"fmt"
	"slices"

	"portside/decode/draw"
)

// Whether the input switches are seen to close, in a machine that then draws nothing.
const (
	closesUnseen = "unseen"
	closesSeen   = "closes"
)

// closesTopic: what stands behind the switches takes its charge as they close, if they do. A
// switch that opens slowly, or had closed at 5 V already, shows nothing of it.
func closesTopic() topic {
	const half = 50
	return topic{name: "switches", cap: recordingCap, rows: []row{
		{closesUnseen, "no charge flows in once VBUS stands", half, like{inputSwitch: 97, controller: 93, supply: 93, ccContact: 70, powContact: 75, vbusShort: 85, vbusLeak: 75, inputShort: 70}, "the switches stay open, or close too slowly to be seen", practice},
		{closesSeen, "a charge flows in, and nothing after it", half, like{inputSwitch: 3, controller: 7, supply: 7, ccContact: 30, powContact: 25, vbusShort: 15, vbusLeak: 25, inputShort: 30}, "capacitors fill behind switches that close", practice},
	}}
}

// closesRowS is how close rows must lie to show a charge that inputs take within a
// millisecond or three, and closesMost how often it comes before it is a try. Common practice.
const (
	closesRowS = 0.002
	closesMost = 2
)

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
	s := d.Sampling
	switch {
	case count > closesMost:
		return nil, ""
	case count > 0:
		g := d.Gulps[first]
		return exactly(closesSeen), fmt.Sprintf("at %.2f s %.2g mC flow in while VBUS stands at %.4g V, as capacitors fill behind a switch that closes", g.TimeS, 1000*g.ChargeC, g.VoltageV)
	case s.IntervalS > 0 && s.IntervalS <= closesRowS && sawRise(d):
		return exactly(closesUnseen), "no charge flows in once VBUS stands, as it does behind a switch that closes"
	}
	return nil, ""
}
