package draw

import (
	"math"

	"portside/pd"
)

const (
	peakSure    = 2.0 // standard uncertainties that each bound leaves on its side
	fromSupplyV = 4.0 // VBUS that stood at 5 V or more before: the source's slope is not limited at attach
)

// peak bounds the largest current of the largest inrush. A row shows no more than
// the largest current, whether it is a mean or an instant. No more can flow, at a
// contract's step, than what fills the capacitance where VBUS rises at its steepest.
func peak(r *Result, n noise) *Peak {
	var rise *Rise
	for i := range r.Rises {
		if rise == nil || r.Rises[i].ChargeC > rise.ChargeC {
			rise = &r.Rises[i]
		}
	}
	if rise == nil {
		return nil
	}
	off := peakSure*math.Hypot(n.a, n.qa*rectangular) + accuracyShare*rise.PeakA
	p := &Peak{TimeS: rise.TimeS, LeastA: max(0, rise.PeakA-off)}
	if most, ok := rise.bySlope(n); ok && rise.whole(r.Sampling.Averaging) {
		p.MostA = &most
	}
	if a := r.Sampling.Averaging; a != nil {
		words := "instants"
		if *a {
			words = "means"
		}
		p.Samples = &words
	}
	return p
}

// chargeRows of instants hold a charge: fewer may miss what flows between them.
const chargeRows = 5

// whole reports a charge that the rows hold. They are read as means unless the
// recording shows otherwise, as a charge does that still flows where VBUS has arrived: an
// instant of its end.
func (x *Rise) whole(averaging *bool) bool {
	if x.Rows >= chargeRows {
		return true
	}
	if averaging == nil {
		return !x.late
	}
	return *averaging
}

// bySlope is the current that fills the capacitance at the steepest slope that a
// source may have, above the draw.
func (x *Rise) bySlope(n noise) (most float64, ok bool) {
	up := x.ToV - x.FromV - peakSure*n.v
	if x.FromV < fromSupplyV || up <= 0 {
		return 0, false
	}
	farad := (x.ChargeC + peakSure*x.ChargeU) / up
	return farad*pd.VSrcSlewPos.Limits(pd.Revision32).MaxSI() + (1+accuracyShare)*x.BaseA + peakSure*n.a, true
}
