package draw

const (
	phaseS          = 30.0 // a phase of a charge lasts longer than a boot's steps: common practice
	prechargeMost   = 0.5  // of the charge that follows; a pack takes up to a tenth in precharge, the machine draws too
	prechargeLeastA = 0.05 // less is a board at rest: 60 mA at 19 V are suspicious, common practice
	chargingA       = 0.2  // a constant current below this is a machine at rest: common practice
	phaseGapS       = 5.0  // a ramp between two phases
)

// profile tells the phases of a battery's charge. A phase is named only where
// what follows it proves it: constant current by the taper after it, precharge
// by the step up after it, full by the taper before it.
func profile(r *Result) []Profile {
	out := []Profile{}
	for _, t := range r.Tapers {
		if before, ok := steadyBefore(r.Plateaus, t.StartS, phaseS); ok && *before.CurrentA >= chargingA && *before.CurrentA >= 0.9*t.FromA {
			if low, ok := steadyBefore(r.Plateaus, before.StartS, phaseS); ok && isPrecharge(&low, &before) {
				out = append(out, Profile{Phase: "precharge", StartS: low.StartS, EndS: low.EndS})
			}
			out = append(out, Profile{Phase: "constant-current", StartS: before.StartS, EndS: before.EndS})
		}
		out = append(out, Profile{Phase: "constant-voltage", StartS: t.StartS, EndS: t.EndS})
		for _, p := range r.Plateaus {
			if p.StartS >= t.EndS && p.CurrentA != nil && p.EndS-p.StartS >= phaseS {
				if p.StartS-t.EndS <= phaseGapS && *p.CurrentA < t.ToA {
					out = append(out, Profile{Phase: "full", StartS: p.StartS, EndS: p.EndS})
				}
				break
			}
		}
	}
	if len(r.Tapers) == 0 {
		out = append(out, stepUp(r.Plateaus)...)
	}
	return out
}

// isPrecharge reports a low draw before a charge that a pack at rest would take.
func isPrecharge(low, charge *Plateau) bool {
	return *low.CurrentA >= prechargeLeastA && *low.CurrentA <= prechargeMost**charge.CurrentA
}

// steadyBefore is the draw that ends where another begins, a row of both aside.
func steadyBefore(plateaus []Plateau, at, least float64) (Plateau, bool) {
	for i := len(plateaus) - 1; i >= 0; i-- {
		p := plateaus[i]
		if p.StartS >= at || p.CurrentA == nil || p.N < pieceSamples && at-p.StartS <= phaseGapS {
			continue
		}
		return p, at-p.EndS <= phaseGapS && p.EndS-p.StartS >= least
	}
	return Plateau{}, false
}

// stepUp finds a long, low, steady draw that steps up once to a far larger one
// which stays: precharge, then constant current.
func stepUp(plateaus []Plateau) []Profile {
	var low *Plateau
	for i := range plateaus {
		p := &plateaus[i]
		if p.CurrentA == nil {
			return nil
		}
		switch {
		case low == nil || p.StartS-low.EndS > phaseGapS:
			low = nil
			if p.EndS-p.StartS >= phaseS && *p.CurrentA >= prechargeLeastA {
				low = p
			}
		case *p.CurrentA >= chargingA && isPrecharge(low, p) && p.EndS-p.StartS >= phaseGapS:
			last := plateaus[len(plateaus)-1]
			if last.CurrentA == nil || *last.CurrentA < 0.8**p.CurrentA {
				return nil
			}
			return []Profile{
				{Phase: "precharge", StartS: low.StartS, EndS: low.EndS},
				{Phase: "constant-current", StartS: p.StartS, EndS: last.EndS},
			}
		}
	}
	return nil
}
