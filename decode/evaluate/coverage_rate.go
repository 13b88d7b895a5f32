package evaluate

import (
	"math/rand/v2"

	"portside/decode/clocks"
	"portside/decode/negotiation"
)

// drawRate has two recorders see one session of half an hour to an hour and a half,
// whose clocks run apart by 20 to 200 ppm: two crystals of a bench, or a resonator.
func drawRate(chance *rand.Rand) Estimate {
	a, clock, _ := drawLong(chance)
	truth := 1e6 * (1/(1+clock) - 1)
	return Estimate{Truth: truth, Value: a.RatePPM, Uncertainty: a.RateU, Given: a.Determined && a.RateU > 0}
}

// drawLong aligns one such session: how much too fast the meter runs, and what was added to
// its times.
func drawLong(chance *rand.Rand) (a clocks.Alignment, clock, offset float64) {
	p := longSession(chance)
	m := drawMeter(chance, 0.05, 0.1, 0.2, 0.5)
	m.clock = pick(chance, -1.0, 1) * logBetween(chance, 20e-6, 200e-6)
	offset = between(chance, -500, 500)
	return p.seenBy(m, offset, offset), m.clock, offset
}

// CoverLongOffsets is the coverage of the offset of those sessions, in their middle.
func CoverLongOffsets(cases int, seed uint64) Coverage {
	chance := rand.New(rand.NewPCG(seed, 0))
	all := make([]Estimate, cases)
	for k := range all {
		a, clock, offset := drawLong(chance)
		all[k] = Estimate{Truth: a.MiddleS/(1+clock) - a.MiddleS - offset, Value: a.OffsetS, Uncertainty: a.Uncertainty, Given: a.Determined}
	}
	return cover("clock offset, long", true, all)
}

// longSession has contracts every few minutes and now and then a Hard Reset.
func longSession(chance *rand.Rand) *plugIn {
	p := &plugIn{chance: chance, now: 2}
	p.corners = []corner{{0, 0}}
	p.attach()
	for ends := between(chance, 1800, 5400); p.now < ends; p.wait(20, 400) {
		if chance.IntN(8) == 0 {
			p.reset()
		}
		p.contract(1 + chance.IntN(len(fourSupplies)))
	}
	return p
}

// seenBy aligns what a meter sees of the session, from a time of its own clock on, with
// the messages.
func (p *plugIn) seenBy(m *coverMeter, offset, from float64) clocks.Alignment {
	hint := 0
	r := m.reads(func(t float64) (float64, float64) {
		v := p.volts(&hint, t-offset)
		if v < 4 {
			return v, 0
		}
		return v, 0.2
	}, from, offset+p.now+3)
	tracker := negotiation.New(negotiation.Options{})
	for i := range p.messages {
		tracker.Add(&p.messages[i])
	}
	return clocks.Of(r, tracker.Result())
}
