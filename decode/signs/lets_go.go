package signs

import (
	"fmt"
	"math"

	"portside/pd"
)

// What the connected CC pin does as VBUS goes, at 5 V and with nothing drawn.
const (
	VBUSStays   = "stands"
	GoesWithRd  = "goes-by-itself"
	GoesOrReset = "goes-by-itself-or-reset"
	GoesAfterRd = "goes-as-rd-goes"
	GoesAfterRp = "goes-as-rp-goes"
)

const (
	goesLeast = 3
	goesA     = 0.1 // no load of it trips a source: common practice
)

// soonestReset is how long VBUS stands at the least, in seconds, before a Hard Reset takes it
// away: a source that offers at once waits for an answer, and for the reset to be heard.
func soonestReset() float64 {
	return pd.TSenderResponse.Limits(pd.Revision32).MinSI() + pd.TPSHardReset.Limits(pd.Revision32).MinSI()
}

// Goes is what CC does while VBUS goes again and again from 5 V. Who speaks of resets says
// more.
func (p Picture) Goes() (Seen, string) {
	d := p.Meter()
	if d == nil || p.Contract || d.Sampling.MaxV >= contractV || d.Sampling.MaxA > goesA || p.resets() {
		return nil, ""
	}
	e := d.CC.Ends
	most := float64(e.Open + e.Gone + e.Stays)
	if most < goesLeast {
		return nil, ""
	}
	for _, x := range []struct {
		count         int
		outcome, what string
	}{
		{e.Stays, GoesWithRd, "keeps the voltage that Rd leaves"},
		{e.Open, GoesAfterRd, "rises to its pull-up first: Rd is gone"},
		{e.Gone, GoesAfterRp, "falls to 0 V first: its pull-up is gone"},
	} {
		if x.outcome == GoesWithRd && p.Facts.Negotiation == nil && middle(standsFive(p)) >= soonestReset() {
			x.outcome, x.what = GoesOrReset, x.what+", as it does at resets that nobody recorded too"
		}
		if float64(x.count) >= math.Ceil(ccEndsShare*most) {
			return Exactly(x.outcome), fmt.Sprintf("%d times VBUS goes from 5 V while no more than %.2g mA flow, and CC %s", x.count, 1000*d.Sampling.MaxA, x.what)
		}
	}
	return nil, ""
}

// resets reports messages that hold Hard Resets.
func (p Picture) resets() bool {
	n := p.Facts.Negotiation
	return n != nil && n.HardResets > 0
}

// standsFive is how long VBUS may have stood at 5 V each time, as the rows beside it allow.
func standsFive(p Picture) []float64 {
	d := p.Meter()
	var out []float64
	for _, l := range d.Levels {
		if l.NominalV == 5 {
			out = append(out, l.EndS-l.StartS+2*d.Sampling.IntervalS)
		}
	}
	return out
}
