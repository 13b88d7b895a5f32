package signs

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// Whether the draw keeps one resistance from contract to contract.
const (
	NotOhmic    = "not"
	OhmicTwice  = "at-two-voltages"
	OhmicThrice = "at-three"
	OhmicFirst  = "from-the-first-volt"
	OhmicBehind = "behind-the-switches"
	OhmicLate   = "at-two-behind-the-switches"
)

const (
	ohmicShare = 0.02 // between the conductances: a meter's gain is the same at each voltage. Common practice
	ohmicStep  = 1.15 // between voltages that tell: common practice
	ohmicS     = 0.5  // that a draw has to stand at each: common practice
	ohmicFar   = 0.4  // of that resistor's current: less is no part of it
	ohmicRows  = 4    // or as many rows: what stands before a contract stands for a moment
	ohmicWide  = 1.5  // from the lowest voltage to the highest: two so far apart tell like three where the draw keeps to the resistor
	ohmicAll   = 0.9  // that it keeps to it, of its time above 5 V
	ohmicAllS  = 5.0  // which lasts so long
	ohmicWayS  = 0.5  // of a ramp: a resistor is there, or it is not
	ohmicFlat  = 0.02 // that it may stray: a machine's draw wanders by more
)

// keepsTo reports a draw that is a resistor's, or none, and nothing else.
func keepsTo(d *draw.Result, ohms float64) bool {
	all, kept, way, rows, ramp := 0.0, 0.0, 0.0, 0, false // way: between nothing and the resistor's
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < contractV {
			continue
		}
		if part := *q.CurrentA * ohms / *q.VoltageV; part > 1-ohmicAll && part < ohmicAll {
			way, rows = way+q.EndS-q.StartS+d.Sampling.IntervalS, rows+q.N
			ramp = ramp || way >= ohmicWayS && rows >= ohmicRows
		} else {
			way, rows = 0, 0
		}
		if *q.CurrentA < ohmicFar**q.VoltageV/ohms {
			continue // before the switches close
		}
		all += q.EndS - q.StartS
		if math.Abs(*q.CurrentA*ohms / *q.VoltageV - 1) <= ohmicFlat + 2*max(d.Sampling.ResolutionA, meterZeroA) / *q.CurrentA {
			kept += q.EndS - q.StartS
		}
	}
	return all >= ohmicAllS && kept >= ohmicAll*all && !ramp
}

// conductances are the least and the most of these draws, with the mean of what they resist.
func conductances(stood []draw.Plateau) (ohms, least, most float64) {
	least = math.Inf(1)
	for _, q := range stood {
		g := amps(q) / volts(q)
		least, most = min(least, g), max(most, g)
		ohms += 1 / g / float64(len(stood))
	}
	return ohms, least, most
}

// resistor is what the draw stands for at each voltage that it stood at; none where it is
// another at each.
func resistor(d *draw.Result) (ohms float64, stood []draw.Plateau, fell bool) {
	stood, fell = draws(d)
	if len(stood) < 2 {
		return 0, nil, fell
	}
	ohms, least, most := conductances(stood)
	zero := 2 * max(d.Sampling.ResolutionA, meterZeroA) / *stood[0].CurrentA
	beside, ok := besideLittle(stood)
	switch {
	case most <= least*(1+ohmicShare+zero) && (!fell || keepsTo(d, ohms)): // a machine does something else by then
		return ohms, stood, fell
	case ok && !fell:
		return beside, stood, fell
	}
	return 0, nil, fell
}

// A programmable supply that is moved in steps too fine to tell two voltages apart tells a law by
// many of them. Common practice.
const (
	steeredFrom = 3
	steeredStep = 1.01  // from one to the next
	steeredAll  = 1.08  // from the lowest to the highest
	steeredKept = 0.01  // between the conductances,
	steeredFew  = 0.006 // or of three
)

// steeredResistor is what the draw stands for at each of the steps; none where it is another at
// each, as of a machine that takes its power, or its current.
func steeredResistor(d *draw.Result) (ohms float64, stood []draw.Plateau) {
	stood, _ = drawsApart(d, steeredStep)
	last := len(stood) - 1
	if last < steeredFrom-1 || volts(stood[last]) < steeredAll*volts(stood[0]) {
		return 0, nil
	}
	ohms, least, most := conductances(stood)
	kept := steeredKept
	if len(stood) == steeredFrom {
		kept = steeredFew
	}
	zero := 2 * max(d.Sampling.ResolutionA, meterZeroA) / amps(stood[0])
	if most > least*(1+kept+zero*(1-volts(stood[0])/volts(stood[last]))) || !keepsTo(d, ohms) {
		return 0, nil
	}
	return ohms, stood
}

// OnlyResists reports a draw that is a resistor's throughout: that it comes and stays says
// nothing of the machine.
func OnlyResists(d *draw.Result) bool {
	if d == nil {
		return false
	}
	ohms, stood, fell := resistor(d)
	return len(stood) > 1 && (fell || *stood[len(stood)-1].VoltageV >= ohmicWide**stood[0].VoltageV) && keepsTo(d, ohms)
}

// Ohmic tells a draw that has one resistance at each voltage that it stood at.
func (p Picture) Ohmic(d *draw.Result) (Seen, string) {
	if z := d.FromZero; z.Count > 0 {
		return Exactly(OhmicFirst), fmt.Sprintf("at %.2f s the draw is that of %.3g ohm from the first volt on, before any switch can close", z.FirstS, z.Ohm)
	}
	ohms, stood := steeredResistor(d)
	steered := len(stood) > 0
	if !steered {
		ohms, stood, _ = resistor(d)
	}
	if len(stood) < 2 {
		return p.follows(d)
	}
	last := len(stood) - 1
	thrice := steered || last > 1 || OnlyResists(d)
	if !thrice && len(d.Follows) > 0 { // in the step itself tells more
		return p.follows(d)
	}
	text := fmt.Sprintf("from %.2f s on the draw is that of %.3g ohm at %d voltages from %.4g to %.4g V",
		min(stood[0].StartS, stood[last].StartS), ohms, len(stood), *stood[0].VoltageV, *stood[last].VoltageV)
	switch {
	case thrice && closesLate(d, ohms):
		return Exactly(OhmicBehind), text + ", and at first nothing flows there"
	case thrice:
		return Exactly(OhmicThrice), text
	case closesLate(d, ohms):
		return Exactly(OhmicLate), text + ", and at first nothing flows there"
	}
	return Exactly(OhmicTwice), text
}

// atOnceElse is how often a machine takes up its load as VBUS arrives, by chance as much as a
// resistor would. Common practice.
const atOnceElse = 0.02

// follows tells a draw that rises with VBUS in one step, a resistor beside what the machine
// takes.
func (p Picture) follows(d *draw.Result) (Seen, string) {
	if len(d.Follows) == 0 {
		return nil, ""
	}
	f := d.Follows[0]
	if i := slices.IndexFunc(d.Follows, func(x draw.Follow) bool { return !x.AtOnce }); i >= 0 {
		f = d.Follows[i]
	}
	text := fmt.Sprintf("at %.2f s the draw rises with VBUS, from %.2g A at %.4g V to %.2g A at %.4g V, in the step itself", f.TimeS, f.FromA, f.FromV, f.ToA, f.ToV)
	amps, early := p.BeforeContract(d)
	ohms := (f.ToV - f.FromV) / (f.ToA - f.FromA)
	var s Seen
	switch {
	case f.FromV >= contractV && early && amps < ohmicFar*draw.FiveFrom/ohms, closesLate(d, ohms):
		s, text = Exactly(OhmicBehind), text+", and nothing like it flows before the switches close"
	case f.FromV < contractV:
		s = Exactly(OhmicThrice)
	default:
		s = Seen{OhmicThrice: 1, OhmicBehind: 1}
	}
	if f.AtOnce && len(d.Follows) < glimpses {
		s[NotOhmic] = atOnceElse
	}
	return s, text
}

// What a machine in standby takes beside a resistor, and how much of all at the lowest
// voltage: less where three voltages tell the two apart than where more do. Common practice.
const (
	littleW     = 1.2
	besideThree = 0.35
	besideMore  = 0.6
)

// besideLittle is the resistor that draws beside a small converter at three voltages or more:
// I V = V^2/R + P, told by the first and the last and kept by those between.
func besideLittle(stood []draw.Plateau) (ohms float64, ok bool) {
	n := len(stood) - 1
	if n < 2 {
		return 0, false
	}
	at := func(q draw.Plateau) (square, watts float64) {
		return *q.VoltageV * *q.VoltageV, *q.VoltageV * *q.CurrentA
	}
	s0, w0 := at(stood[0])
	s1, w1 := at(stood[n])
	slope := (w1 - w0) / (s1 - s0)
	little := w0 - slope*s0
	share := besideThree
	if n > 2 {
		share = besideMore
	}
	if slope <= 0 || little < 0 || little > min(littleW, share*w0) {
		return 0, false
	}
	for _, q := range stood[1:n] {
		if s, w := at(q); math.Abs(w-little-slope*s) > ohmicShare*w {
			return 0, false
		}
	}
	return 1 / slope, true
}

// meterZeroA is half of what a meter's zero may be off at most (quietA): common practice.
const meterZeroA = 0.005

// draws is the draw that stood longest at each voltage, lowest first; fell says that VBUS
// came down in between.
func draws(d *draw.Result) (out []draw.Plateau, fell bool) { return drawsApart(d, ohmicStep) }

// drawsApart tells voltages apart that differ by such a factor.
func drawsApart(d *draw.Result, step float64) (out []draw.Plateau, fell bool) {
	last := 0.0
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || *q.CurrentA < standbyA || *q.VoltageV < draw.FiveFrom || q.EndS-q.StartS < ohmicS && q.N < ohmicRows {
			continue
		}
		fell = fell || *q.VoltageV*step < last
		last = *q.VoltageV
		same := slices.IndexFunc(out, func(x draw.Plateau) bool {
			return *q.VoltageV < step**x.VoltageV && *x.VoltageV < step**q.VoltageV
		})
		switch {
		case same < 0:
			out = append(out, q)
		case q.EndS-q.StartS > out[same].EndS-out[same].StartS:
			out[same] = q
		}
	}
	slices.SortFunc(out, func(x, y draw.Plateau) int { return cmp.Compare(*x.VoltageV, *y.VoltageV) })
	out = slices.CompactFunc(out, func(x, before draw.Plateau) bool { return *x.VoltageV < step**before.VoltageV })
	return out, fell
}

// closesLate reports VBUS at which next to none of a resistor's current flowed before it
// did. It does so in each row, the mean of a row too: a resistor is a straight line.
func closesLate(d *draw.Result, ohms float64) bool {
	rows, seconds := 0, 0.0
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < draw.FiveFrom {
			continue
		}
		if *q.CurrentA >= ohmicFar**q.VoltageV/ohms {
			break
		}
		rows += q.N
		seconds += q.EndS - q.StartS + d.Sampling.IntervalS
	}
	return rows >= ohmicRows || rows > 0 && seconds >= beganS
}
