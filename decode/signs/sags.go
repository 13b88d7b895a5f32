package signs

import (
	"fmt"

	"portside/decode/draw"
	"portside/decode/rules"
	"portside/pd"
)

// VBUS that is fed while it stands far below its contract: common practice.
const (
	sagTo    = 0.93 // of the contract: its window and a sound cable's drop end above it
	sagMeter = 0.01 // a meter's limit
	sagShunt = 0.05 // V that its own shunt and offset may take
	sagFrom  = 0.5  // below it VBUS goes away, and the source no longer feeds
	sagLeast = 0.2  // A that flow meanwhile
	sagC     = 0.02 // C: ten times what 100 uF give from 20 V to half of it
	sagS     = 0.08 // on the way down, where no Hard Reset was sent: a source that is let go falls in milliseconds under load
	sagRows  = 3    // on a slow meter one or two rows hold a bit of each
)

// Sagging tells VBUS that gives way to a draw which the contract promises: a source that has
// let go feeds nothing, and a capacitor holds a fraction of the charge.
func (p Picture) Sagging(d *draw.Result) string {
	nominal, promised := p.soleContract()
	if nominal == 0 {
		return ""
	}
	least := resetS()
	if p.Facts.Negotiation.HardResets == 0 {
		least = sagS
	}
	cable := rules.CableOhm()
	if p.Facts.MeterAt == "source" {
		cable = 0
	}
	var sum, run sag
	stood := false
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || q.CurrentA == nil {
			continue
		}
		lowest := (pd.VSrcNew.Limits(pd.Revision32).Min.Value*nominal - cable**q.CurrentA - sagShunt) * (1 - sagMeter)
		switch v := *q.VoltageV; {
		case v >= lowest:
			sum.join(run)
			run, stood = sag{}, true
		case v < max(sagFrom*nominal, contractV):
			if run.lastsS > least {
				sum.join(run)
			}
			run, stood = sag{}, false
		case !stood: // on its way up
		case *q.CurrentA >= sagLeast && *q.CurrentA <= atLimit*promised:
			run.add(q, d.Sampling.IntervalS)
		default:
			sum.join(run)
			run = sag{}
		}
	}
	sum.join(run)
	if sum.charge < sagC {
		return ""
	}
	return fmt.Sprintf("from %.2f s VBUS sags to %.4g V while no more than %.2g A of the %.2g A promised flow", sum.fromS, sum.lowestV, sum.mostA, promised)
}

// IdlesBelow tells VBUS that never comes near the one contract, though for seconds next to
// nothing is drawn from it.
func (p Picture) IdlesBelow(d *draw.Result) string {
	nominal, _ := p.soleContract()
	n := p.Facts.Negotiation
	if nominal == 0 || n.BeginsInside || d.Sampling.MaxV >= sagTo*nominal || p.asksForMore() {
		return ""
	}
	var idle sag
	var longest draw.Plateau
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || q.CurrentA == nil || *q.VoltageV < max(contractV, sagFrom*nominal) || *q.CurrentA > standbyA {
			idle, longest = sag{}, draw.Plateau{}
			continue
		}
		idle.add(q, d.Sampling.IntervalS)
		if q.EndS-q.StartS >= longest.EndS-longest.StartS {
			longest = q
		}
		if idle.lastsS >= minLevelS && idle.rows >= sagRows {
			return fmt.Sprintf("from %.2f s VBUS stands at %.4g V while next to nothing flows, and never comes near the %.4g V of the contract", longest.StartS, *longest.VoltageV, nominal)
		}
	}
	return ""
}

// VBUS that a draw holds down at a contract: common practice unless said.
const (
	pinnedV     = 0.7  // more than any cable takes from it; a charger circuit holds on 1.28 V below (data sheet SLUSE65A)
	pinnedTo    = 0.85 // of what it is without a load: another contract is further away
	pinnedS     = 1.0  // in all
	pinnedA     = 0.2
	pinnedMostA = 1.2 // less than any contract above 5 V promises, where nobody says how much
)

// Pinned tells VBUS that stands further below what it is without a load than a sound cable
// takes, at a current that the source promises.
func (p Picture) Pinned(d *draw.Result) string {
	if p.asksForMore() || p.Lapsed != "" {
		return ""
	}
	most := pinnedMostA
	if promised, known := p.promisedA(); known {
		most = max(most, atLimit*promised)
	}
	open := 0.0
	for _, q := range d.Plateaus {
		if q.VoltageV != nil && q.CurrentA != nil && *q.CurrentA < standbyA && *q.VoltageV >= contractV {
			open = max(open, *q.VoltageV)
		}
	}
	if open == 0 {
		return p.pinnedFive(d)
	}
	var low sag
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || q.CurrentA == nil || q.N < 2 {
			continue
		}
		v, a := *q.VoltageV, *q.CurrentA
		if v >= pinnedTo*open && v < open-rules.CableOhm()*a-pinnedV && a >= pinnedA && a <= most {
			low.add(q, d.Sampling.IntervalS)
		}
	}
	if low.lastsS < pinnedS {
		return ""
	}
	return fmt.Sprintf("from %.2f s VBUS gives way to %.4g V where %.2g A flow, from %.4g V without a load", low.fromS, low.lowestV, low.mostA, open)
}

// 5 V that a controller alone pulls down: common practice.
const (
	fiveMostA = 0.3 // that every source gives
	fiveLeast = 3   // times, or
	fiveLowV  = 1.5 // far above what VBUS passes on its way up or down
)

// pinnedFive tells 5 V that gives way by a volt to what hardly any source notices, and comes
// back without it.
func (p Picture) pinnedFive(d *draw.Result) string {
	open, low, amps, times, fromS := 0.0, 0.0, 0.0, 0, 0.0
	var sagged draw.Plateau // not yet back, and not gone
	down := false
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || q.CurrentA == nil {
			continue
		}
		switch v, a := *q.VoltageV, *q.CurrentA; {
		case v >= draw.FiveFrom && v < contractV && a < quietA/2:
			if sagged.VoltageV != nil {
				if times++; times == 1 {
					fromS, low = sagged.StartS, *sagged.VoltageV
				}
				low, amps = min(low, *sagged.VoltageV), max(amps, *sagged.CurrentA)
			}
			open, down, sagged = v, false, draw.Plateau{}
		case open == 0 || v < fiveLowV:
			down, sagged = true, draw.Plateau{} // it goes off
		case !down && a >= quietA && a <= fiveMostA && v < open-pinnedV-rules.CableOhm()*a:
			sagged, down = q, true
		}
	}
	if times < fiveLeast {
		return ""
	}
	return fmt.Sprintf("%d times, first at %.2f s, VBUS gives way from %.3g V to as low as %.3g V where no more than %.0f mA flow", times, fromS, open, low, 1000*amps)
}

// UnheardShare is how often a recorder of messages stops before the meter and misses a new
// contract at which the machine takes as many watts. Common practice.
const (
	UnheardShare = 0.01
	sameWatts    = 0.15
	backToFiveS  = 5.0 // at which VBUS stays then: a source that starts anew offers again
)

// Slips tells VBUS that leaves the one contract for a lower voltage without a word: it goes back
// to 5 V and stays, or the machine takes as many watts there and did not ask for less.
func (p Picture) Slips(d *draw.Result) string {
	n := p.Facts.Negotiation
	if n == nil || n.BeginsInside || len(n.Contracts) == 0 || n.Contracts[len(n.Contracts)-1].EndS != nil || len(d.Levels) < 2 {
		return ""
	}
	nominal, _ := p.soleContract()
	before, after := d.Levels[len(d.Levels)-2], d.Levels[len(d.Levels)-1]
	watts, still := before.VoltageV*before.MeanA, after.VoltageV*after.MeanA
	if nominal > 0 && before.VoltageV >= sagTo*nominal && after.NominalV == 5 && before.MaxA <= 2*standbyA && after.EndS-after.StartS >= backToFiveS {
		return fmt.Sprintf("at %.2f s VBUS goes from %.4g V to 5 V without a message, while next to nothing is drawn", after.StartS, before.VoltageV)
	}
	switch {
	case nominal == 0 || before.VoltageV < sagTo*nominal || after.VoltageV > sagFrom*nominal || after.VoltageV < rules.LowestContractV:
		return ""
	case before.EndS-before.StartS < minLevelS || after.EndS-after.StartS < minLevelS || before.MeanA < standbyA:
		return ""
	case still < (1-sameWatts)*watts || still > (1+sameWatts)*watts:
		return ""
	}
	return fmt.Sprintf("at %.2f s VBUS goes from %.4g V to %.4g V without a message, and the machine takes %.2g W on", after.StartS, before.VoltageV, after.VoltageV, still)
}

// resetS is how long a source may take to bring VBUS down for a Hard Reset: it feeds a part
// of that time.
func resetS() float64 { return pd.TSafe0V.Limits(pd.Revision32).MaxSI() }

// sag is a stretch of neighbouring rows.
type sag struct {
	rows           int
	charge, lastsS float64 // C and s
	fromS          float64
	lowestV, mostA float64
}

func (s *sag) add(q draw.Plateau, intervalS float64) {
	if s.rows == 0 {
		s.fromS, s.lowestV = q.StartS, *q.VoltageV
	}
	s.rows += q.N
	s.lastsS += q.EndS - q.StartS + intervalS
	s.charge += *q.CurrentA * (q.EndS - q.StartS + intervalS)
	s.lowestV, s.mostA = min(s.lowestV, *q.VoltageV), max(s.mostA, *q.CurrentA)
}

// join takes a stretch that is long enough.
func (s *sag) join(o sag) {
	switch {
	case o.rows < sagRows:
	case s.rows == 0:
		*s = o
	default:
		s.rows, s.charge = s.rows+o.rows, s.charge+o.charge
		s.lowestV, s.mostA = min(s.lowestV, o.lowestV), max(s.mostA, o.mostA)
	}
}

// soleContract is the voltage above 5 V that every contract names, with the least current
// that one promises; 0 where they differ.
func (p Picture) soleContract() (volts, amps float64) {
	if p.Facts.Negotiation == nil {
		return 0, 0
	}
	for _, c := range p.Facts.Negotiation.Contracts {
		v := float64(millivolts(c)) / 1000
		switch {
		case c.Kind != pd.KindFixed.String() || c.CurrentMA == nil || volts > 0 && v != volts && v >= contractV:
			return 0, 0
		case v < contractV:
		case volts == 0:
			volts, amps = v, float64(*c.CurrentMA)/1000
		default:
			amps = min(amps, float64(*c.CurrentMA)/1000)
		}
	}
	return volts, amps
}
