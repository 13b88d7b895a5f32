package location

import (
	"fmt"
	"math"

	"portside/pd"
)

// What the connected CC pin does as VBUS goes, at 5 V and with nothing drawn.
const (
	vbusStays   = "stands"
	goesWithRd  = "goes-by-itself"
	goesAfterRd = "goes-as-rd-goes"
	goesAfterRp = "goes-as-rp-goes"
)

// goesTopic: a source lets VBUS go when Rd is gone, or after a Hard Reset; else it has no
// reason to.
func goesTopic() topic {
	const rule = "USB Type-C R2.0 section 4.5.2.2; " + practice
	return topic{name: "cc as vbus goes", cap: physicsCap, rows: []row{
		{vbusStays, "VBUS stands, or is drawn from", 99, nil, "a source that sees Rd gives VBUS", rule},
		{goesWithRd, "Rd's level stays, and VBUS goes and comes again without a reset", 0.05, like{source: 5, mains: 3, cable: 0.6, controller: 0.2, supply: 0.2, powContact: 0.3, ccContact: 0.2, healthyPart: 0.03}, "the source gives out by itself", rule},
		{goesAfterRd, "Rd is gone first", 0.05, like{ccContact: 5, controller: 4, supply: 4, cable: 0.6, source: 0.05, healthyPart: 0.05}, "the line opens, or the controller lets go of it as it starts", rule},
		{goesAfterRp, "the pull-up is gone first", 0.05, like{source: 3, mains: 1, cable: 3, ccContact: 0.3, healthyPart: 0.05}, "the line opens before the meter, or the source goes off", rule},
	}}
}

const (
	goesLeast = 3
	goesA     = 0.1 // no load of it trips a source: common practice
)

// soonestReset is how long VBUS stands at the least, in seconds, before a Hard Reset takes it
// away: a source that offers at once waits for an answer, and for the reset to be heard.
func soonestReset() float64 {
	return pd.TSenderResponse.Limits(pd.Revision32).MinSI() + pd.TPSHardReset.Limits(pd.Revision32).MinSI()
}

// goes is what CC does while VBUS goes again and again from 5 V. Who speaks of resets says
// more.
func (m model) goes(p picture) (observation, bool) {
	d := p.meter()
	if d == nil || p.contract || d.Sampling.MaxV >= contractV || d.Sampling.MaxA > goesA || p.resets() {
		return observation{}, false
	}
	e := d.CC.Ends
	most := float64(e.Open + e.Gone + e.Stays)
	if most < goesLeast {
		return observation{}, false
	}
	t := goesTopic()
	for _, x := range []struct {
		count         int
		outcome, what string
	}{
		{e.Stays, goesWithRd, "keeps the voltage that Rd leaves"},
		{e.Open, goesAfterRd, "rises to its pull-up first: Rd is gone"},
		{e.Gone, goesAfterRp, "falls to 0 V first: its pull-up is gone"},
	} {
		if x.outcome == goesWithRd && p.Facts.Negotiation == nil && middle(standsFive(p)) >= soonestReset() {
			continue // resets that nobody recorded do the same
		}
		if float64(x.count) >= math.Ceil(ccEndsShare*most) {
			text := fmt.Sprintf("%d times VBUS goes from 5 V while no more than %.2g mA flow, and CC %s", x.count, 1000*d.Sampling.MaxA, x.what)
			return m.observe(t, exactly(x.outcome), text), true
		}
	}
	return observation{}, false
}

// resets reports messages that hold Hard Resets.
func (p picture) resets() bool {
	n := p.Facts.Negotiation
	return n != nil && n.HardResets > 0
}

// standsFive is how long VBUS may have stood at 5 V each time, as the rows beside it allow.
func standsFive(p picture) []float64 {
	d := p.meter()
	var out []float64
	for _, l := range d.Levels {
		if l.NominalV == 5 {
			out = append(out, l.EndS-l.StartS+2*d.Sampling.IntervalS)
		}
	}
	return out
}
