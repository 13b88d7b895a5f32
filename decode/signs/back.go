package signs

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// Whether the machine feeds VBUS.
const (
	Takes     = "takes"
	FeedsBack = "feeds-back"
)

const (
	backA = 0.003 // beyond a meter's zero: common practice
	backS = 1.0   // s that it flows: a transient is shorter. Common practice
)

// feeds tells current that flows out of the machine while VBUS stands, on a meter that also
// saw it flow in, so that its direction is known.
func (p Picture) feeds(d *draw.Result) string {
	if d == nil {
		return ""
	}
	if n := p.Facts.Negotiation; n != nil && slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool { return c.EndedBy == "role-swap" }) {
		return ""
	}
	if text := p.standsUnplugged(d); text != "" {
		return text
	}
	least := max(backA, 3*d.Sampling.NoiseA, 2*d.Sampling.ResolutionA)
	in := slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && *q.CurrentA >= standbyA && q.EndS-q.StartS >= backS
	})
	zero, known := zeroOf(d)
	if !known || math.Abs(zero) > 2*meterZeroA {
		zero, least = 0, max(least, 2*meterZeroA)
	}
	i := slices.IndexFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.CurrentA != nil && q.VoltageV != nil && *q.VoltageV >= rules.LowestContractV && *q.CurrentA <= zero-least && q.EndS-q.StartS >= backS
	})
	if !in || i < 0 {
		return ""
	}
	q := d.Plateaus[i]
	return fmt.Sprintf("from %.2f s %.0f mA flow out of the machine at %.4g V", q.StartS, 1000*(zero-*q.CurrentA), *q.VoltageV)
}

// batteryHighV is four cells in a row, full (4.35 V each): common practice.
const batteryHighV = 17.4

// standsUnplugged tells VBUS at a battery's voltage from the first row on while no pull-up is
// seen on CC: nothing is plugged in that could feed it.
func (p Picture) standsUnplugged(d *draw.Result) string {
	if cc := d.CC.On; cc.Low < ccRowsLeast || d.CC.Off.N > 0 || d.Sampling.MaxA > quietA || len(d.Levels) != 1 {
		return ""
	}
	if n := p.Facts.Negotiation; n != nil && n.Messages > 0 {
		return ""
	}
	l := d.Levels[0]
	if l.VoltageV < contractV || l.VoltageV > batteryHighV {
		return ""
	}
	return fmt.Sprintf("from the first row on VBUS stands at %.4g V, while both CC pins are at 0 V and nothing flows", l.VoltageV)
}

// ccRowsLeast are rows that show CC at 0 V for more than a message. Common practice.
const ccRowsLeast = 5
