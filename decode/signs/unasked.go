package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/pd"
)

// fiveLastsS is what VBUS stands at 5 V at the least before a contract raises it: the offer,
// the Request, the Accept and tSrcTransition. Common practice.
const fiveLastsS = 0.05

// fedA is a current into the machine that a meter can tell from none: common practice.
const fedA = 0.004

// risesUnasked says that VBUS stands above 5 V and nobody asked for it: beside messages that made
// no contract, or on a log that saw it rise past 5 V at once. Empty where it does not.
func (p Picture) risesUnasked(d *draw.Result) string {
	if d == nil || p.Back != "" {
		return ""
	}
	if most := p.mostOffered(); most > 0 {
		if risesAbove(d, overOffer*most) {
			return fmt.Sprintf("VBUS rises to %.4g V, and the source offers no more than %.4g V", d.Sampling.MaxV, most)
		}
		if count, firstS, volts := tops(d, overOffer*most); count >= beyondFrom {
			return fmt.Sprintf("%d times, first at %.2f s, VBUS rises to %.4g V, and the source offers no more than %.4g V", count, firstS, volts, most)
		}
	}
	if agreed, _ := p.soleContract(); agreed > 0 && never(d, agreed) {
		if risesAbove(d, overOffer*agreed) {
			return fmt.Sprintf("VBUS rises to %.4g V and never stands at the %.4g V that each contract names", d.Sampling.MaxV, agreed)
		}
		if count, firstS, volts := tops(d, overOffer*agreed); count >= beyondFrom {
			return fmt.Sprintf("%d times, first at %.2f s, VBUS rises to %.4g V and never stands at the %.4g V that each contract names", count, firstS, volts, agreed)
		}
	}
	if p.Agreed() {
		return ""
	}
	high, known := lastLevel(d, true)
	if !known || high.EndS-high.StartS < startsS || high.MeanA < fedA && d.Levels[0].NominalV != 0 && !p.sourceSpeaks() { // a battery may feed VBUS back, before the plug is in too
		return ""
	}
	n := p.Facts.Negotiation
	switch {
	case n != nil && n.FromSource+n.FromSink > 0:
		if n.BeginsInside || len(n.Offers) == 0 {
			return ""
		}
		if p.asked(high.VoltageV) {
			return ""
		}
		return fmt.Sprintf("VBUS stands at %.4g V from %.2f s on, and no contract was made", high.VoltageV, high.StartS)
	case risesAtOnce(d):
		return fmt.Sprintf("VBUS rises to %.4g V at once, without a moment at 5 V", d.Levels[1].VoltageV)
	}
	return ""
}

// asked reports a Request for that voltage: what came of it the recorder may have missed.
func (p Picture) asked(volts float64) bool {
	return slices.ContainsFunc(p.Facts.Negotiation.Attempts, func(a negotiation.Attempt) bool {
		return a.RequestMV > 0 && math.Abs(volts-float64(a.RequestMV)/1000) <= (1-sagTo)*volts
	})
}

// NeverRises says that contracts above 5 V were made, for long enough to be seen, and VBUS
// never came near the lowest of them, though no load holds it; empty where it did.
func (p Picture) NeverRises(d *draw.Result) string {
	n := p.Facts.Negotiation
	if n == nil || d.Sampling.MaxV < draw.FiveFrom {
		return ""
	}
	if text := p.standsBelowSaid(d); text != "" {
		return text
	}
	count, lasted, longest, lowest := 0, 0.0, 0.0, math.Inf(1)
	for _, c := range n.Contracts {
		if volts := float64(millivolts(c)) / 1000; c.StartS != nil && c.EndS != nil && volts >= contractV && c.EndedBy != "restart" { // whose end nobody saw
			count++
			lasted += *c.EndS - *c.StartS
			longest = max(longest, *c.EndS-*c.StartS)
			lowest = min(lowest, volts)
		}
	}
	if count < glimpses || lasted < neverRows*d.Sampling.IntervalS || d.Sampling.MaxV >= max(contractV, sagTo*lowest) {
		return ""
	}
	promised, known := p.promisedA()
	seen := min(longest, longestAbove5(d)) >= neverRows*d.Sampling.IntervalS || sameTops(d)
	if d.Sampling.MaxV >= contractV && (!seen || known && d.Sampling.MaxA > atLimit*promised) {
		return "" // a row may be a mean of a short contract, and a source may limit what is beyond its promise
	}
	return fmt.Sprintf("PS_RDY is said for %d contracts of %.4g V and more, and VBUS never rises above %.2f V", count, lowest, d.Sampling.MaxV)
}

// KeepsFive reports VBUS that never leaves vSafe5V but for the moments in which it comes and goes:
// what holds a higher voltage down has no reason to stop there.
func (p Picture) KeepsFive(d *draw.Result) bool {
	off, five := pd.SafeWindow0V(), pd.SafeWindow5V()
	at5, up := 0.0, 0.0
	for _, l := range d.Levels {
		if l.VoltageV < off.Max {
			continue
		}
		up += l.EndS - l.StartS
		if l.VoltageV >= five.Min && l.MaxV <= five.Max {
			at5 += l.EndS - l.StartS
		}
	}
	return at5 >= lowerLongS && at5 >= fiveShare*up
}

// longestAbove5 is how long VBUS stood above 5 V at most: where no reset ends a contract its end is
// known by the next offer only.
func longestAbove5(d *draw.Result) (seconds float64) {
	for _, l := range d.Levels {
		if l.VoltageV >= contractV {
			seconds = max(seconds, l.EndS-l.StartS+d.Sampling.IntervalS)
		}
	}
	return seconds
}

// A programmable supply that is asked for more and gives none: its window is 5 % either way
// (USB PD R3.2 V1.1 table 7.23, vPpsNew); how long it has to be so is common practice.
const followsS = 2.0

// NeverFollows says that a programmable contract was moved up, and PS_RDY said, to where VBUS
// never comes, at less current than was promised; empty where it does.
func (p Picture) NeverFollows(d *draw.Result) string {
	n := p.Facts.Negotiation
	promised, known := p.promisedA()
	if n == nil || !known || !p.asksForMore() || d.Sampling.MaxA > atLimit*promised || d.Sampling.MaxV < rules.LowestContractV {
		return ""
	}
	drop := rules.CableOhm() * d.Sampling.MaxA
	if p.Facts.MeterAt == "source" {
		drop = 0
	}
	count, lasted, highest := 0, 0.0, 0.0
	for _, c := range n.Contracts {
		volts := float64(millivolts(c)) / 1000
		end := n.LastS
		switch {
		case c.EndS != nil:
			end = c.EndS
		case c.StartS != nil && *c.StartS >= d.Sampling.StartS && *c.StartS < d.Sampling.EndS:
			end = &d.Sampling.EndS
		}
		if c.Kind != pd.KindPPS.String() || c.StartS == nil || end == nil || (pd.VPpsNew.Limits(pd.Revision32).Min.Value*volts-drop)*(1-sagMeter) <= d.Sampling.MaxV {
			continue
		}
		count++
		lasted += *end - *c.StartS
		highest = max(highest, volts)
	}
	if lasted < followsS+neverRows*d.Sampling.IntervalS {
		return ""
	}
	return fmt.Sprintf("PS_RDY is said for %d programmable contracts of up to %.4g V, and VBUS never rises above %.2f V", count, highest, d.Sampling.MaxV)
}

// A contract is there soon after the first offer; a lower voltage that lasts much longer is
// what came of it, whatever the clocks. Common practice.
const (
	soonS      = 2.0
	lowerLongS = 5.0
	fiveShare  = 0.9 // of the time that VBUS is there
)

// standsBelowSaid tells the one contract above 5 V, which stands, from a log that shows 5 V for far
// longer than it took, or another voltage below it that no load holds; empty where there is
// another contract.
func (p Picture) standsBelowSaid(d *draw.Result) string {
	n := p.Facts.Negotiation
	if len(n.Contracts) != 1 || n.FirstS == nil {
		return ""
	}
	c := n.Contracts[0]
	volts := float64(millivolts(c)) / 1000
	if c.StartS == nil || c.EndS != nil || c.Implied || volts < contractV || *c.StartS-*n.FirstS > soonS {
		return ""
	}
	if d.Sampling.MaxV >= max(contractV, sagTo*volts) {
		return ""
	}
	lasts := 0.0
	for _, l := range d.Levels {
		if l.VoltageV >= sagTo*d.Sampling.MaxV && (d.Sampling.MaxV < contractV || l.MeanA <= standbyA) {
			lasts += l.EndS - l.StartS
		}
	}
	if lasts < lowerLongS {
		return ""
	}
	return fmt.Sprintf("PS_RDY is said for %.4g V, and VBUS stands at %.2f V for %.0f s", volts, d.Sampling.MaxV, lasts)
}

// neverFromV is VBUS that somebody feeds, where it comes and goes. Common practice.
const neverFromV = 1.5

// sameTops reports VBUS that comes up to one voltage again and again: rows that are means over
// a rise and a fall end each time elsewhere.
func sameTops(d *draw.Result) bool {
	same := 0
	for _, l := range d.Levels {
		if l.MaxV >= d.Sampling.MaxV*(1-topsShare)-2*d.Sampling.ResolutionV {
			same++
		}
	}
	return same >= topsFrom
}

// Common practice.
const (
	topsFrom  = 4
	topsShare = 0.005
)

// neverRows is how many rows contracts must last that no row shows: common practice.
const neverRows = 10

// neverFive says that VBUS comes up and never to 5 V, though nothing is drawn; empty where it
// does, or where a load may hold it, or where Hard Resets take it away within a row.
func neverFive(d *draw.Result, resets bool) string {
	if d == nil || d.Sampling.WithCurrent == 0 || d.Sampling.MaxV >= draw.FiveFrom || d.Sampling.MaxA > idleShare*standbyA {
		return ""
	}
	from := rules.LowestContractV
	if d.Sampling.IntervalS <= sharpEveryS { // a slow row is a mean of on and off
		from = neverFromV
	}
	rows, climbs, off := 0, 0, true
	stood := !resets || d.Sampling.IntervalS <= sharpEveryS
	for _, q := range d.Plateaus {
		stood = stood || q.VoltageV != nil && q.N > stoodRows && *q.VoltageV >= sagTo*d.Sampling.MaxV
		switch {
		case q.VoltageV == nil:
		case *q.VoltageV < absentV:
			off = true
		case *q.VoltageV >= from:
			rows += q.N
			if off {
				climbs++
			}
			off = false
		}
	}
	if rows < sagRows || !stood || d.Sampling.MaxV < rules.LowestContractV && climbs < glimpses { // an output that nobody drives may float
		return ""
	}
	return fmt.Sprintf("VBUS comes to %.2f V and no further, and no more than %.0f mA flow", d.Sampling.MaxV, 1000*d.Sampling.MaxA)
}

// stoodRows in line may be alike by chance where each is a mean of on and off: common practice.
const stoodRows = 4

// idleShare of a standby draw moves no source and no lead: common practice.
const idleShare = 0.5

// overOffer is beyond what a source may overshoot (vSrcNew ends at 5 %, and 0.5 V wide) and
// a meter errs: common practice.
const overOffer = 1.1

// never reports VBUS that passes a voltage and stands near it for no moment.
func never(d *draw.Result, volts float64) bool {
	return !slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.VoltageV != nil && math.Abs(*q.VoltageV-volts) <= (1-sagTo)*volts && (q.N >= sagRows || d.Sampling.IntervalS >= beganS)
	})
}

// mostOffered is the highest voltage that the source offers in any object, 0 where the
// messages do not hold all of its offers.
func (p Picture) mostOffered() float64 {
	n := p.Facts.Negotiation
	if n == nil || n.BeginsInside || n.LeftOut > 0 {
		return 0
	}
	most := 0
	for _, o := range n.Offers {
		if o.VoltageMV == nil {
			return 0
		}
		most = max(most, *o.VoltageMV)
	}
	for _, a := range n.Attempts {
		most = max(most, a.OfferMV)
	}
	return float64(most) / 1000
}

// sourceSpeaks reports messages of a source: VBUS is its own then.
func (p Picture) sourceSpeaks() bool {
	n := p.Facts.Negotiation
	return n != nil && n.FromSource > 0
}

// leapsS is how long VBUS may leap up as a draw is cut: twice what a source has to recover.
var leapsS = 2 * pd.TSrcTransient.Limits(pd.Revision32).MaxSI()

// risesAbove reports VBUS that stays above a voltage for more than one row and a leap.
func risesAbove(d *draw.Result, volts float64) bool {
	rows, long := 0, 0.0
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || *q.VoltageV <= volts {
			rows, long = 0, 0
			continue
		}
		rows, long = rows+q.N, long+q.EndS-q.StartS+d.Sampling.IntervalS
		if rows > 1 && long >= leapsS {
			return true
		}
	}
	return false
}

// risesAtOnce reports a rise from nothing past 5 V in which rows close enough saw no 5 V.
func risesAtOnce(d *draw.Result) bool {
	if d.Sampling.IntervalS > fiveLastsS || len(d.Levels) < 2 || d.Levels[0].NominalV != 0 || d.Levels[0].VoltageV > absentV || d.Levels[1].VoltageV < contractV {
		return false
	}
	at5 := 0.0
	for _, q := range d.Plateaus {
		if q.EndS < d.Levels[0].EndS || q.StartS > d.Levels[1].StartS+fiveLastsS || q.VoltageV == nil {
			continue
		}
		if *q.VoltageV > draw.FiveFrom && *q.VoltageV < contractV {
			at5 += q.EndS - q.StartS + d.Sampling.IntervalS
		}
	}
	return at5 < 0.9*fiveLastsS // one row of 20 a second is no less
}
