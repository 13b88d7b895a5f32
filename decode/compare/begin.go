package compare

import (
	"math"
	"slices"

	"portside/decode/draw"
)

const (
	// A draw that rests is under restingShare of the steady one; one that differs from it
	// by movedShare is another.
	restingShare = 0.5
	movedShare   = 0.15
	restRows     = 3    // fewer may be a moment of a step
	climbRows    = 2    // fewer between two draws are a step
	climbS       = 0.05 // a converter's soft start takes 3 to 7 ms (data sheet SLVSEG3E), up to 30 ms (common practice); a charge and a boot climb for longer
	leakRatio    = 0.5  // of the current that a resistor takes at 5 V, the controller's own draw allowed for
)

// takeBegin looks at how the draw came to be the steady one.
func (p *phases) takeBegin(r *draw.Result, level *draw.Level, steady *draw.Plateau) {
	if first := slices.IndexFunc(r.Levels, func(l draw.Level) bool { return l.StartS == level.StartS }); first <= 0 {
		p.climb = moved(r, level, steady)
		return
	}
	begun := level.StartS
	for i := range r.Plateaus {
		x := &r.Plateaus[i]
		if !stands(x, level) || x.StartS >= steady.StartS || *x.CurrentA > restingShare**steady.CurrentA {
			continue
		}
		if begun == level.StartS && x.N >= restRows && looksLikeLeak(r, level, *x.CurrentA) {
			p.rest = &value{x: *x.CurrentA}
		}
		begun = x.EndS
	}
	if took := steady.StartS - begun; took > climbS && took > (climbRows+0.5)*r.Sampling.IntervalS {
		yes := true
		p.climb = &yes
		return
	}
	if p.climb = moved(r, level, steady); p.climb == nil {
		p.climb = new(bool)
	}
}

// looksLikeLeak reports a draw at rest that a resistor would take: at 5 V before the
// contract it took its part too, as far as that was recorded.
func looksLikeLeak(r *draw.Result, level *draw.Level, amps float64) bool {
	for i := range r.Levels {
		l := &r.Levels[i]
		if l.NominalV == 5 && l.EndS <= level.StartS && l.N >= restRows {
			return l.MeanA >= leakRatio*amps*l.VoltageV/level.VoltageV
		}
	}
	return true
}

// moved reports a draw that is another one at some time; nil where it is not.
func moved(r *draw.Result, level *draw.Level, steady *draw.Plateau) *bool {
	yes := len(r.Tapers) > 0
	for i := range r.Plateaus {
		x := &r.Plateaus[i]
		if stands(x, level) && *x.CurrentA > restingShare**steady.CurrentA && math.Abs(*x.CurrentA-*steady.CurrentA) > movedShare**steady.CurrentA {
			yes = true
		}
	}
	if !yes {
		return nil
	}
	return &yes
}
