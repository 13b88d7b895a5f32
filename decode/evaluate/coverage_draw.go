package evaluate

import (
	"math"
	"math/rand/v2"
)

// volts of the contracts that the generator draws from.
var contractVolts = [...]float64{9, 15, 20}

// settleS is how fast a load's state follows: below what most meters see.
const settleS = 0.003

// drawResistance is a source, a cable and contacts of one resistance under a
// load in steps, with a source that warms up and drifts.
func drawResistance(chance *rand.Rand) Estimate {
	m := drawMeter(chance, 0.01, 0.02, 0.1, 0.5, 1)
	ohm := logBetween(chance, 0.05, 0.6)
	open := pick(chance, contractVolts[:]...) * between(chance, 1.0, 1.03)
	drift := between(chance, -0.015, 0.015)
	steps := 4 + chance.IntN(12)
	var levels []float64
	for range steps {
		levels = append(levels, between(chance, 0.1, 3))
	}
	dwell := max(3*m.interval, between(chance, 0.3, 3))
	end := float64(steps) * dwell
	return estimate(m.reads(func(t float64) (float64, float64) {
		amps := stepped(levels, dwell, t)
		return open + drift*(1-math.Exp(-t/end)) - ohm*amps, amps
	}, 0, end).Measured.SeriesResistanceOhm, ohm)
}

// stepped holds each level for so long, and goes to the next within settleS.
func stepped(levels []float64, dwell, t float64) float64 {
	i := min(max(int(t/dwell), 0), len(levels)-1)
	if i == 0 {
		return levels[0]
	}
	return levels[i] + (levels[i-1]-levels[i])*math.Exp(-(t-float64(i)*dwell)/settleS)
}

// ladder is a load in one state at 5 V and one to three contracts.
func ladder(chance *rand.Rand, m *coverMeter, contracts int, load func(volts float64) float64) (signal, float64) {
	levels := []float64{5 * between(chance, 0.99, 1.03)}
	for _, v := range contractVolts[len(contractVolts)-contracts:] {
		levels = append(levels, v*between(chance, 0.99, 1.03))
	}
	dwell := max(6*m.interval, between(chance, 1, 4))
	return func(t float64) (float64, float64) {
		v := stepped(levels, dwell, t)
		return v, load(v)
	}, dwell * float64(len(levels))
}

func drawLeak(chance *rand.Rand) Estimate {
	m := drawMeter(chance, 0.01, 0.02, 0.1, 0.5, 1)
	ohm := logBetween(chance, 10, 300)
	contracts, power := 1+chance.IntN(3), 0.0
	if contracts > 1 {
		power = between(chance, 0, 1) // what a sound board takes beside it: see load below
	}
	s, end := ladder(chance, m, contracts, func(v float64) float64 { return v/ohm + power/v })
	return estimate(m.reads(s, 0, end).Measured.LeakResistanceOhm, ohm)
}

func drawExponent(chance *rand.Rand) Estimate {
	m := drawMeter(chance, 0.01, 0.02, 0.1, 0.5, 1)
	n, at5 := between(chance, -1, 1), logBetween(chance, 0.08, 1)
	s, end := ladder(chance, m, 1+chance.IntN(3), func(v float64) float64 { return at5 * math.Pow(v/5, n) })
	return estimate(m.reads(s, 0, end).Measured.LoadExponent, n)
}

// drawCharge is a capacitor that is filled when VBUS comes up or goes to a
// contract, as a current that dies away, above the draw of the contract.
func drawCharge(chance *rand.Rand) Estimate {
	m := drawMeter(chance, 0.001, 0.002, 0.01, 0.02)
	m.average = true // instants of a pulse shorter than their distance hold no charge
	m.fineFrom, m.fineTo = 0.9, 1.1
	from, to := 0.0, 5.0
	if chance.IntN(2) == 0 {
		from, to = 5, pick(chance, contractVolts[:]...)
	}
	before, after := 0.0, between(chance, 0, 0.3)
	farad := logBetween(chance, 50e-6, 2000e-6)
	charge, tau := farad*(to-from), between(chance, 0.3, 3)*0.001
	const at = 1.0
	starts := at + pick(chance, 0, between(chance, 0, 0.03), between(chance, 0.1, 0.5))
	return estimate(m.reads(func(t float64) (float64, float64) {
		if t < at {
			return from, before
		}
		gone := math.Exp(-(t - at) / tau)
		amps := charge / tau * gone
		if t >= starts {
			amps += after
		}
		return to - (to-from)*gone, amps
	}, 0, 3).Measured.InrushChargeC, charge)
}

func drawTau(chance *rand.Rand) Estimate {
	m := drawMeter(chance, 0.5, 1, 2, 5)
	tau := logBetween(chance, 600, 3600)
	rest, top := pick(chance, 0, between(chance, 0.01, 0.1)), between(chance, 0.5, 3)
	held, fall := between(chance, 60, 600), between(chance, 1.2, 3.5)*tau
	return estimate(m.reads(func(t float64) (float64, float64) {
		switch {
		case t < held:
			return 20, top
		case t < held+fall:
			return 20, rest + (top-rest)*math.Exp(-(t-held)/tau)
		}
		return 20, rest
	}, 0, held+fall+600).Measured.TaperTauS, tau)
}

// drawPeriod is a retry whose timer wanders a little from try to try.
func drawPeriod(chance *rand.Rand) Estimate {
	m := drawMeter(chance, 0.001, 0.002, 0.01, 0.02, 0.1)
	period := logBetween(chance, max(0.1, 4*m.interval), 2.5)
	on := max(between(chance, 0.005, 0.2)*period, 0.6*m.interval)
	peak := between(chance, 0.2, 2)
	jitter := between(chance, 0, 0.01) * period
	var starts []float64
	for n, t := 4+chance.IntN(20), 2.0; len(starts) < n; t += period + jitter*chance.NormFloat64() {
		starts = append(starts, t)
	}
	next := 0
	return estimate(m.reads(func(t float64) (float64, float64) {
		for next+1 < len(starts) && t >= starts[next+1] {
			next++
		}
		for next > 0 && t < starts[next] {
			next--
		}
		if t >= starts[next] && t < starts[next]+on {
			return 20 - 0.1*peak, peak
		}
		return 20, 0.005
	}, 0, starts[len(starts)-1]+4).Measured.RetryPeriodS, period)
}
