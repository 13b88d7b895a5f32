package signs

import (
	"math"

	"portside/decode/draw"
)

// Bands of the draw at 5 V before the contract, in amperes: a controller of 10
// to 100 mW takes up to 20 mA, a leak of 10 ohm to 1 kohm 5 mA to 0.5 A; the
// sink's standby limit of 2.5 W is 0.5 A. Common practice.
const (
	earlyNoneA   = 0.015
	earlyLittleA = 0.050
	earlySomeA   = 0.250
)

// beforeContractS and beforeContractN are what 5 V must last and hold to be
// read before the contract.
const (
	beforeContractS = 0.08
	beforeContractN = 3
)

// BeforeContract is the draw at 5 V before the first contract.
func (p Picture) BeforeContract(d *draw.Result) (amps float64, ok bool) {
	if !p.Contract || d.Sampling.WithCurrent == 0 {
		return 0, false
	}
	if _, above := lastLevel(d, true); !above {
		return 0, false // 5 V is the contract
	}
	for _, l := range d.Levels {
		switch {
		case l.VoltageV >= contractV:
			return 0, false
		case l.NominalV == 5 && l.N >= beforeContractN && l.EndS-l.StartS >= beforeContractS && !math.IsNaN(l.MeanA):
			return restOf(d, l), true
		}
	}
	return 0, false
}

// restOf is the draw of a level without the surge that fills capacitors in it: of its plateaus
// the longest.
func restOf(d *draw.Result, l draw.Level) float64 {
	rest, longest := l.MeanA, 0.0
	for _, q := range d.Plateaus {
		if s := min(q.EndS, l.EndS) - max(q.StartS, l.StartS); q.CurrentA != nil && s > longest && s >= beforeContractS {
			rest, longest = min(l.MeanA, *q.CurrentA), s
		}
	}
	return rest
}

// Early is the band of what flows before a contract, in amperes.
func Early(amps float64) string {
	switch {
	case amps < earlyNoneA:
		return EarlyNone
	case amps < earlyLittleA:
		return EarlyLittle
	case amps < earlySomeA:
		return EarlySome
	}
	return EarlyMuch
}
