package signs

import (
	"fmt"
	"math"

	"portside/decode/draw"
	"portside/decode/rules"
)

// working looks for a draw that came and stayed, or falls as a charge does.
func (p Picture) working(d *draw.Result) (Seen, string) {
	switch {
	case p.Is("charge-taper", rules.Note):
		return Exactly(DrawTaper), p.Text("charge-taper")
	case !p.Is("ramp-normal", rules.Note):
		return nil, ""
	}
	text := p.Text("ramp-normal")
	if f, fell := p.Found["vbus-collapse"]; fell && f.Severity == rules.Warning && !p.Contract {
		return Seen{DrawStairsSettle: 1, DrawWorking: 0.3}, text + "; before that " + f.Text
	}
	if from, ok := precharge(d); ok {
		return Seen{DrawPrecharge: 1, DrawWorking: 1}, text + fmt.Sprintf("; it begins as a precharge at %.2f s", from)
	}
	amps, volts, known := lastDraw(d)
	if !known {
		return Exactly(DrawWorking), text
	}
	allowed, promised := p.promisedA()
	switch {
	case !p.Contract && p.ramped(d) < worksLowA: // always-on rails take nearly as much, however long
		amps = p.ramped(d)
		rails := railsAtMost * min(1, (worksLowA-amps)/(worksLowA-standbyLowA))
		return Seen{DrawStandby: rails, DrawWorking: 1 - rails}, fmt.Sprintf("%s; it is %.2f A at %.1f V", text, amps, volts)
	case promised && p.Contract && amps >= atLimit*allowed && amps*volts > lightW && flat(d) && p.Is("capability-mismatch", rules.Warning):
		return Seen{DrawAtLimit: 1, DrawWorking: 1}, text + fmt.Sprintf("; it stands flat at %.2f A of the %.2f A promised, and the machine wants more", amps, allowed)
	case promised && p.Contract && amps >= atLimit*allowed && amps*volts > lightW && flat(d):
		return leapSeen(d, DrawAtLimit), text + fmt.Sprintf("; it stands flat at %.2f A of the %.2f A promised", amps, allowed)
	case slides(p.Found["vbus-out-of-range"]): // what stands flat while VBUS gives way is the source's limit
		return Exactly(DrawWorking), text
	case p.Contract && amps*volts > lightW && flat(d):
		return leapSeen(d, DrawLeap), text + fmt.Sprintf("; it stands flat at %.2f A", amps)
	case p.Contract && amps <= standbyA && flat(d):
		return Seen{DrawHolds: 1, DrawStandby: 1}, text + fmt.Sprintf("; in the end it is %.0f mA", 1000*amps)
	case p.Contract && amps*volts <= lightW && flat(d):
		return Exactly(DrawLight), text + fmt.Sprintf("; it is a steady %.1f W", amps*volts)
	default:
		return Exactly(DrawWorking), text
	}
}

// slides reports VBUS that gives way by and by.
func slides(f rules.Finding) bool {
	_, slides := f.Values["slide_s"]
	return slides
}

// ramped is the current that stood longest of the draw that came and stayed.
func (p Picture) ramped(d *draw.Result) float64 {
	f, amps, longest := p.Found["ramp-normal"], math.Inf(1), 0.0
	for _, x := range d.Plateaus {
		if x.CurrentA == nil || f.StartS == nil || f.EndS == nil {
			continue
		}
		if long := min(x.EndS, *f.EndS) - max(x.StartS, *f.StartS); long > longest {
			amps, longest = *x.CurrentA, long
		}
	}
	return amps
}

// A precharge is a tenth of the charge current or less for a while, then a
// step up: three times tells the step from the ramp of one phase. Common
// practice; 0.05 to 0.1 C against 0.2 to 1 C.
const (
	prechargeS    = 5.0
	prechargeStep = 3.0
)

// precharge looks for a light draw that held before the last one.
func precharge(d *draw.Result) (fromS float64, ok bool) {
	for _, phase := range d.Profile {
		if phase.Phase == "precharge" {
			return phase.StartS, true
		}
	}
	if len(d.Plateaus) == 0 {
		return 0, false
	}
	last := d.Plateaus[len(d.Plateaus)-1]
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || last.CurrentA == nil || *q.CurrentA < standbyA || q.EndS-q.StartS < prechargeS {
			continue
		}
		return q.StartS, *q.CurrentA**q.VoltageV <= lightW && *last.CurrentA >= prechargeStep**q.CurrentA
	}
	return 0, false
}

// railsAtMost is how often a steady draw of no more than always-on rails take is theirs
// alone: small machines charge with as little. Common practice.
const railsAtMost = 0.3

// leapS is the longest rise that is still a leap: charge currents are ramped
// over tenths of a second, a short is there at once. Common practice.
const (
	leapS      = 0.1
	leapEveryS = 0.12 // rows further apart do not tell the two
	quietShare = 0.1  // of the draw: less is a board that waits
	leapFrom   = 0.5  // of the draw: less that stands is a precharge
	leapStoodS = 0.25 // what stands for less may fill capacitors
)

// leapSeen tells a leap to a flat draw from a ramp to it, where the sampling can: by the first
// rise to it, as a charge that has ramped up leaps at its next contract.
func leapSeen(d *draw.Result, leap string) Seen {
	if d.Sampling.IntervalS > leapEveryS || d.Sampling.IntervalS <= 0 {
		return Seen{leap: 1, DrawWorking: 1}
	}
	amps, _, _ := lastDraw(d)
	quietTo, from := math.NaN(), math.NaN()
	for _, q := range d.Plateaus {
		if q.CurrentA == nil {
			continue
		}
		stood := q.EndS-q.StartS >= leapStoodS
		if a := *q.CurrentA; a < max(standbyA, quietShare*amps) || stood && a < leapFrom*amps {
			quietTo = q.EndS
		} else if stood {
			from = q.StartS
			break
		}
	}
	switch rise := from - quietTo; {
	case rise <= leapS+d.Sampling.IntervalS/2: // between two samples
		return Exactly(leap)
	case rise <= leapS/2+2*d.Sampling.IntervalS && d.Sampling.IntervalS > leapS/2: // a leap within a row is seen across two
		return Seen{leap: 1, DrawWorking: 0.3}
	case rise <= 2*leapS+d.Sampling.IntervalS:
		return Seen{leap: 1, DrawWorking: 1}
	}
	return Exactly(DrawWorking)
}

// lastDraw is the draw of the plateau that lasted longest in the second half
// of the recording.
func lastDraw(d *draw.Result) (amps, volts float64, known bool) {
	middle, longest := (d.Sampling.StartS+d.Sampling.EndS)/2, 0.0
	for _, q := range d.Plateaus {
		if q.EndS > middle && q.CurrentA != nil && q.VoltageV != nil && q.EndS-q.StartS > longest {
			amps, volts, known, longest = *q.CurrentA, *q.VoltageV, true, q.EndS-q.StartS
		}
	}
	return amps, volts, known
}

// flatShare is how much of a working draw one plateau must hold to be called
// flat: a machine that runs moves more. Common practice.
const flatShare = 0.8

// flatSame is how far two stretches may lie apart that rows which are missing part: next to
// nothing, or a meter's step or two. A supply that is moved begins another one.
const (
	flatSame  = 0.005
	flatVolts = 0.01
)

func flat(d *draw.Result) bool {
	total, longest, run := 0.0, 0.0, 0.0
	var first draw.Plateau // of the run
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || *q.CurrentA < standbyA {
			continue
		}
		long := q.EndS - q.StartS
		if total += long; run == 0 || math.Abs(amps(q)-amps(first)) > max(flatSame*amps(first), 2*d.Sampling.ResolutionA) || math.Abs(volts(q)-volts(first)) > flatVolts*volts(first) {
			run, first = 0, q
		}
		run += long
		longest = max(longest, run)
	}
	return longest > flatShare*total
}
