package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
	"portside/decode/rules"
	"portside/pd"
)

// A source of 5 V that stands low without a load: common practice.
const (
	weakLowestV = 3.3 // below it VBUS is on its way
	weakS       = 2.0 // that it stands so
	weakA       = 0.1 // a draw that every port carries
	weakTimes   = 3   // what a sound cable takes
)

// WeakFive tells 5 V that stands low while next to nothing flows, and never stood higher: it is
// up all the same. No contract asks for less before there was 5 V.
func (p Picture) WeakFive(d *draw.Result) string {
	lowest := pd.VSafe5V.Limits(pd.Revision32).Min.Value * (1 - sagMeter)
	if d == nil || p.Facts.Negotiation != nil && len(p.Facts.Negotiation.Contracts) > 0 || d.Sampling.MaxV >= lowest {
		return ""
	}
	var open, loaded mean
	for _, l := range d.Levels {
		if l.VoltageV >= weakLowestV && l.MeanA <= standbyA/2 {
			open.add(l.EndS-l.StartS, l.VoltageV, l.MeanA)
		}
	}
	if open.s < weakS {
		return ""
	}
	text := fmt.Sprintf("VBUS stands at only %.2f V while no more than %.0f mA flow", open.volts(), 1000*standbyA/2)
	lowestV := math.Inf(1)
	for _, q := range d.Plateaus {
		if q.VoltageV != nil && q.CurrentA != nil && *q.VoltageV >= weakLowestV && *q.CurrentA >= weakA {
			loaded.add(q.EndS-q.StartS+d.Sampling.IntervalS, *q.VoltageV, *q.CurrentA)
			lowestV = min(lowestV, *q.VoltageV)
		}
	}
	if loaded.s == 0 {
		return text
	}
	ohms := (open.volts() - loaded.volts()) / (loaded.amps() - open.amps())
	if ohms >= weakTimes*rules.CableOhm() {
		text += fmt.Sprintf(", and gives way to %.2f V, by %.2g ohm times the current", lowestV, ohms)
	}
	return text
}

// mean is what stands over a time.
type mean struct{ s, vs, as float64 }

func (x *mean) add(s, v, a float64) { x.s, x.vs, x.as = x.s+s, x.vs+s*v, x.as+s*a }

func (x mean) volts() float64 { return x.vs / x.s }

func (x mean) amps() float64 { return x.as / x.s }
