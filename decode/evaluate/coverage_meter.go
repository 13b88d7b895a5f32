package evaluate

import (
	"math"
	"math/rand/v2"
	"time"

	"portside/captures"
	"portside/decode/draw"
)

// signal is what truly happens on VBUS: volts and amperes at a time.
type signal func(t float64) (volts, amps float64)

// coverMeter is a meter as the trade has them: gain within 1 % and slightly
// bent, a zero within one digit, noise, digits, samples that are instants or means (common
// practice).
type coverMeter struct {
	interval       float64
	average        bool
	gainV, gainA   float64
	zeroV, zeroA   float64
	bendV, bendA   float64 // of the gain, from where its range is used
	rangeV, rangeA float64
	noiseV, noiseA float64
	digitV, digitA float64
	clock          float64 // runs so much too fast

	// where a pulse is shorter than a sample
	fineFrom, fineTo float64
	chance           *rand.Rand
}

// A mean sample is made of so many instants, and of one in finestS where a pulse
// is shorter than it.
const (
	meanParts = 32
	finestS   = 4e-6
)

// resonator is how far a meter's clock may be off: common practice.
const resonator = 100e-6

// drawMeter takes a meter whose interval is one of those given.
func drawMeter(chance *rand.Rand, intervals ...float64) *coverMeter {
	digits := [...]float64{0.0001, 0.001, 0.01}
	kind := chance.IntN(len(digits))
	m := &coverMeter{
		interval: intervals[chance.IntN(len(intervals))], average: chance.IntN(2) == 0, clock: between(chance, -resonator, resonator), chance: chance,
		gainV: between(chance, 0.99, 1.01), gainA: between(chance, 0.99, 1.01),
		digitV: digits[kind], digitA: digits[min(kind, chance.IntN(len(digits)))],
	}
	m.noiseV = m.digitV * between(chance, 0.2, 2)
	m.noiseA = m.digitA * between(chance, 0.2, 2)
	m.zeroV, m.zeroA = m.digitV*between(chance, -1, 1), m.digitA*between(chance, -1, 1)
	m.bendV, m.bendA = between(chance, -bend, bend), between(chance, -bend, bend)
	m.rangeV, m.rangeA = logBetween(chance, 5, 25), logBetween(chance, 0.05, 5)
	return m
}

// bend is how far a meter's readings depart from one gain: common practice.
const bend = 0.001

func between(chance *rand.Rand, low, high float64) float64 { return low + (high-low)*chance.Float64() }

// logBetween is even on a logarithmic scale.
func logBetween(chance *rand.Rand, low, high float64) float64 {
	return math.Exp(between(chance, math.Log(low), math.Log(high)))
}

func pick[T any](chance *rand.Rand, from ...T) T { return from[chance.IntN(len(from))] }

// reads has the meter record a signal from a time to another.
func (m *coverMeter) reads(s signal, from, to float64) *draw.Result {
	an := draw.New(draw.Options{})
	phase := m.interval * m.chance.Float64()
	for t := from + phase; t <= to; t += m.interval {
		volts, amps := s(t)
		if m.average {
			volts, amps = 0, 0
			n := meanParts
			if t > m.fineFrom && t < m.fineTo {
				n = int(m.interval / finestS)
			}
			parts := float64(n)
			for k := range n {
				v, a := s(t - m.interval*(float64(k)+0.5)/parts)
				volts, amps = volts+v/parts, amps+a/parts
			}
		}
		an.Add(&captures.Sample{
			At:    time.Duration(math.Round(t * (1 + m.clock) * 1e9)),
			Volts: shown(m.gainV*volts*(1+m.bendV*min(1, volts/m.rangeV))+m.zeroV+m.noiseV*m.chance.NormFloat64(), m.digitV),
			Amps:  shown(m.gainA*amps*(1+m.bendA*min(1, amps/m.rangeA))+m.zeroA+m.noiseA*m.chance.NormFloat64(), m.digitA),
		})
	}
	return an.Result()
}

// shown is a value in whole digits.
func shown(x, digit float64) float64 { return math.Round(x/digit) * digit }

// estimate takes what was measured beside the truth.
func estimate(q *draw.Quantity, truth float64) Estimate {
	e := Estimate{Truth: truth}
	if q != nil && q.Uncertainty != nil {
		e.Value, e.Uncertainty, e.Given = q.Value, *q.Uncertainty, true
	}
	return e
}
