package rules

import (
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

const (
	mostReplugs    = 4     // each port both ways and once more: more than 3 to 5 plug-ins nobody takes, common practice
	standsS        = 1.0   // a new voltage stands within twice tPSTransition
	carriesMore    = 2.0   // times the draw at which VBUS fell: no load made it fall then
	readyEarlyS    = 0.2   // by which some say PS_RDY before VBUS is down: common practice
	softwareStampS = 0.005 // one side's own software stamps what it hears by as much too late: recorded logs
)

// givesWay lists the falls of VBUS under load. One to nothing that outlasts any
// reset is how a pulled plug looks, and counts only where nobody pulls so often.
func givesWay(f *Facts) []draw.Collapse {
	d := f.Draw
	var loaded []draw.Collapse
	removals := 0
	asked := askedFor(f)
	for _, c := range d.Collapses {
		if asked(c) || c.AtA < loadedA && c.HeldA == 0 || searching(d, c.TimeS) || lowered(d, c) || swung(d, c) || dropped(c) {
			continue
		}
		loaded = append(loaded, c)
		if removal(d, c) {
			removals++
		}
	}
	if removals > mostReplugs {
		return loaded
	}
	return slices.DeleteFunc(loaded, func(c draw.Collapse) bool { return removal(d, c) })
}

// dropped reports a fall no deeper than a sound source's tolerance and a sound cable take
// under that draw: at 5 V these are more than a tenth.
func dropped(c draw.Collapse) bool {
	static, _ := pd.FixedWindow(pd.Millivolts(1000 * c.FromV))
	return c.ToV >= static.Min-CableOhm()*c.AtA
}

// askedFor tells which falls the messages explain. On one clock a fall belongs to
// what was said at its time, a sample later at most. On two clocks what was said
// explains as many falls as it is, but for Hard Resets: more than one may as well
// follow the falls. So they may where an offset told from the data leaves open
// which came first.
func askedFor(f *Facts) func(draw.Collapse) bool {
	said := toldDown(f.Negotiation)
	late := f.Draw.Sampling.IntervalS
	return func(c draw.Collapse) bool {
		if !f.Aligned && (len(f.Draw.Collapses) > len(said) || f.Negotiation.HardResets > 1) {
			return false
		}
		return slices.ContainsFunc(said, func(d down) bool {
			from := d.fromS
			if f.Negotiation.HardResets <= 1 {
				from -= f.ClockU
			}
			inTime := c.TimeS >= from && c.TimeS <= d.toS+late+f.ClockU
			return d.reaches(c) && (inTime || !f.Aligned)
		})
	}
}

// down is VBUS told to go down within a stretch of time: to the voltage of a
// contract, or to nothing and 5 V after it.
type down struct{ fromS, toS, contractV float64 }

func (d down) reaches(c draw.Collapse) bool {
	if d.contractV == 0 {
		return c.ToV <= limit(pd.VSafe5V).Max.Value // a slow log sees only the 5 V
	}
	return c.ToV >= d.contractV*(1-nearContract)-cableDropV()
}

// handPullS is what a hand takes to pull a plug all the way: common practice.
const handPullS = 0.3

// toldDown is what the messages say: VBUS goes off a moment after a Hard Reset, no
// sooner, and before the end of a swap of the power roles; and it falls before
// the PS_RDY of a lower contract, or a moment after it.
func toldDown(n *negotiation.Result) []down {
	if n == nil {
		return nil
	}
	var out []down
	for _, r := range n.Resets {
		if r.Hard {
			turnOff := limit(pd.TPSHardReset)
			out = append(out, down{r.TimeS + turnOff.MinSI() - softwareStampS, r.TimeS + turnOff.MaxSI() + limit(pd.TSafe0V).MaxSI(), 0})
		}
	}
	if len(n.Detaches) <= restartsByHand {
		for _, t := range n.Detaches { // the contacts of VBUS part before or after CC
			out = append(out, down{t - handPullS, t + handPullS + limit(pd.TSafe0V).MaxSI(), 0})
		}
	}
	swap := limit(pd.TPSSourceOffSPR).MaxSI() + limit(pd.TPSSourceOn).MaxSI()
	for i, c := range n.Contracts {
		if c.EndedBy == "role-swap" && c.EndS != nil {
			out = append(out, down{*c.EndS - swap, *c.EndS, 0})
		}
		if i == 0 || c.VoltageMV == nil || c.StartS == nil {
			continue
		}
		if before := n.Contracts[i-1].VoltageMV; before != nil && *c.VoltageMV < *before {
			out = append(out, down{*c.StartS - limit(pd.TSrcTransReqEPR).MaxSI(), *c.StartS + readyEarlyS, float64(*c.VoltageMV) / 1000})
		}
	}
	return out
}

// removal reports a fall to nothing that outlasts any reset.
func removal(d *draw.Result, c draw.Collapse) bool {
	if c.BackS == nil && d.Sampling.EndS-c.TimeS < handPullS+2*d.Sampling.IntervalS {
		return true // the recording ends while it falls
	}
	if c.ToV > offV() {
		return false
	}
	for i, l := range d.Levels {
		if l.NominalV != 0 || l.EndS < c.TimeS {
			continue
		}
		return i+1 == len(d.Levels) || d.Levels[i+1].StartS-l.StartS > removalS
	}
	return c.BackS == nil || *c.BackS > removalS
}

// lowered reports VBUS that went down and stands there, moving as a programmable
// contract does, or carrying more than flowed when it fell: a source gives way to
// a load.
func lowered(d *draw.Result, c draw.Collapse) bool {
	if c.ToV <= offV() {
		return false
	}
	for _, l := range d.Levels {
		if l.StartS >= c.TimeS-standsS && l.EndS-l.StartS >= minSettledS && l.VoltageV < c.FromV {
			return l.MeanA > carriesMore*c.AtA || programmed(d, l)
		}
	}
	return false
}

// searching reports a time inside a climb that settled: a search for the
// source's limit finds it by overloading it, at most three times.
func searching(d *draw.Result, t float64) bool {
	for _, s := range d.Staircases {
		if s.SettledA != nil && s.Resets <= benignResets && t >= s.StartS && t <= s.EndS {
			return true
		}
	}
	return false
}
