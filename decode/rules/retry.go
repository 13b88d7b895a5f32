package rules

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
)

// retryTiming is a published time from one try to the next.
type retryTiming struct {
	periodS float64
	onS     float64 // of a try; 0 where the document says none
	off     bool    // VBUS is off between the tries
	text    string
	source  string
}

// retryTimings are those of the documents. Where a part stands for many, its
// figures do so too.
var retryTimings = [...]retryTiming{
	{0.032, 0, false, "a 5 V boost converter after overcurrent", "data sheet SLUSBP6D"},
	{0.108, 0.002, false, "a port protector or a load switch", "data sheet JAJSJF0D"},
	{0.123, 0.005, false, "a 5 V regulator", "data sheet SLVSEG3E"},
	{0.265, 0.002, false, "a 5 V regulator or a load switch", "data sheet SLVSEG3E"},
	{0.510, 0.010, false, "a charger circuit in hiccup", "data sheet SLUSDU3"},
	{0.620, 0, false, "an electronic fuse", "data sheet SLVSGF4B"},
	{0.985, 0, true, "a source that trips and turns on again", "data sheet SLVSDJ5D"},
	{1.395, 0, true, "a source that trips and turns on again", "data sheet SLVSDJ5D"},
	{2.0, 0.030, false, "a charger circuit that tests for a poor source", "data sheet SLUSDL3A"},
	{2.0, 0, true, "a Hard Reset with a new negotiation", "USB PD R3.2 V1.1 tables 6.68 and 7.23"},
}

const (
	timerSpread  = 0.10 // standard deviation of the logarithm: a part's own oscillator and capacitor, common practice
	resetSpread  = 0.25 // of a Hard Reset's time, which the source and the machine share
	onSpread     = 0.7  // tries are as long as the fault lets them: common practice
	otherDensity = 0.2  // a period of no such part: even over the decades of 20 ms to 3 s, 1 / ln(150)
	likelyFamily = 0.5
	openFamily   = 0.15
	standsShare  = 0.5 // of VBUS: no row shows it gone. Common practice
)

// retryShare is how likely a train of pulses is of one family.
type retryShare struct {
	text  string
	share float64
}

// retryShares weighs the published timings against the period that was measured
// and, where it was, against how long a try lasts. What they do not add up to 1 is
// something else. A source that trips and a Hard Reset take VBUS away.
func retryShares(p draw.Pulses) []retryShare {
	if p.PeriodS == nil || *p.PeriodS <= 0 {
		return nil
	}
	var out []retryShare
	total := otherDensity
	stands := !p.WithVBUS && p.MinV > standsShare*p.VoltageV
	for _, t := range retryTimings {
		if t.off && stands {
			continue
		}
		l := t.likelihood(p)
		total += l
		if i := slices.IndexFunc(out, func(s retryShare) bool { return s.text == t.text }); i >= 0 {
			out[i].share += l
			continue
		}
		out = append(out, retryShare{t.text, l})
	}
	for i := range out {
		out[i].share /= total
	}
	slices.SortStableFunc(out, func(a, b retryShare) int {
		if a.share > b.share {
			return -1
		}
		return 1
	})
	return out
}

func (t retryTiming) likelihood(p draw.Pulses) float64 {
	spread := timerSpread
	if t.periodS == 2.0 && t.onS == 0 {
		spread = resetSpread
	}
	if p.PeriodU != nil {
		spread = math.Hypot(spread, *p.PeriodU / *p.PeriodS)
	}
	l := normal(math.Log(*p.PeriodS/t.periodS), spread)
	if t.onS > 0 && p.OnS != nil && *p.OnS > 0 {
		// against a length that is as likely anywhere within two decades
		const anyLength = 1 / 4.6
		l *= normal(math.Log(*p.OnS/t.onS), onSpread) / anyLength
	}
	return l
}

// normal is the density of a normal distribution.
func normal(x, sigma float64) float64 {
	z := x / sigma
	return math.Exp(-z*z/2) / (sigma * math.Sqrt(2*math.Pi))
}

// retryWords names the families that are likely; "" where none is.
func retryWords(p draw.Pulses) string {
	shares := retryShares(p)
	if len(shares) == 0 || shares[0].share < openFamily {
		return ""
	}
	s := fmt.Sprintf(", as %s (%.0f %%)", shares[0].text, 100*shares[0].share)
	if shares[0].share < likelyFamily {
		s = fmt.Sprintf(", perhaps %s (%.0f %%)", shares[0].text, 100*shares[0].share)
	}
	if len(shares) > 1 && shares[1].share >= openFamily {
		s += fmt.Sprintf(" or %s (%.0f %%)", shares[1].text, 100*shares[1].share)
	}
	return s
}
