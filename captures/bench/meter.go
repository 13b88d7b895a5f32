package bench

import (
	"math"
	"math/rand/v2"
	"time"

	"portside/captures"
)

// endsStepsHz is up to which rate a row ends a step of the solver. Rows of
// faster meters are read off within the steps, which would else be as many as
// the rows, and most of them where nothing changes.
const endsStepsHz = 200

// meter is the inline meter: it looks at one end of the cable at its own rate
// and writes what its converter, its calibration and its file let through.
type meter struct {
	b         *bench
	random    *rand.Rand
	endsSteps bool
	next      float64 // when the next row is due
	sinceS    float64 // length of the running average
	sum       view    // its integral
	last      view
	lastAt    time.Duration
	rows      []captures.Sample
}

// view is what the meter's converters see.
type view struct{ volts, amps float64 }

func newMeter(b *bench) *meter {
	m := &meter{
		b: b, random: b.random, endsSteps: b.p.MeterHz <= endsStepsHz, next: b.uniform(0, 1) / b.p.MeterHz,
		rows: make([]captures.Sample, 0, min(rowsAtFirst, int(b.p.DurationS*b.p.MeterHz)+1)),
	}
	if !m.endsSteps { // the policies must not draw otherwise when a row comes a step later
		m.random = rand.New(rand.NewPCG(b.random.Uint64(), meterStream))
	}
	return m
}

const meterStream = 0x6d65746572

// rowsAtFirst limits what is set aside for a log before it is there.
const rowsAtFirst = 1 << 18

func (m *meter) view(y *state, f *flows) view {
	v := view{y[nodePort], f.cable}
	if m.b.p.Meter == AtSource || m.b.c.parted && m.b.p.ContactAtPort { // nothing flows then, and nothing is lost in the cable
		v.volts = y[nodeSource]
	}
	return v
}

// add carries one stage of a step into the running average.
func (m *meter) add(y *state, f *flows, w float64) {
	m.last = m.view(y, f)
	m.carry(m.last, w)
}

func (m *meter) carry(v view, w float64) {
	m.sum.volts += w * v.volts
	m.sum.amps += w * v.amps
	m.sinceS += w
}

// read writes a row when one is due at the end of a step.
func (m *meter) read() {
	if m.endsSteps && m.b.now >= m.next {
		m.write(m.b.now)
	}
}

// chord is a step as straight lines from its start through its first stage to
// its end. What they leave out is of the order of the solver's tolerance.
type chord struct {
	at, h float64
	v     [3]view
}

// value is the view at a share of the step.
func (c *chord) value(x float64) view {
	a, b, part := c.v[0], c.v[1], x/sdirkGamma
	if x > sdirkGamma {
		a, b, part = c.v[1], c.v[2], (x-sdirkGamma)/(1-sdirkGamma)
	}
	return view{a.volts + (b.volts-a.volts)*part, a.amps + (b.amps-a.amps)*part}
}

// during reads the rows that fall into a step.
func (m *meter) during(c *chord) {
	from := 0.0
	for m.next <= c.at+c.h {
		x := min(1, max(from, (m.next-c.at)/c.h))
		m.average(c, from, x)
		m.last, from = c.value(x), x
		m.write(m.next)
	}
	m.average(c, from, 1)
}

// average carries a part of a step into the running average, whole lines at a
// time: their mean is that of their ends.
func (m *meter) average(c *chord, from, to float64) {
	if from < sdirkGamma && to > sdirkGamma {
		m.average(c, from, sdirkGamma)
		from = sdirkGamma
	}
	a, b := c.value(from), c.value(to)
	m.carry(view{(a.volts + b.volts) / 2, (a.amps + b.amps) / 2}, (to-from)*c.h)
}

// write writes the row that is due.
func (m *meter) write(now float64) {
	p := &m.b.p
	v := m.last
	if p.MeterAverages && m.sinceS > 0 {
		v = view{m.sum.volts / m.sinceS, m.sum.amps / m.sinceS}
	}
	m.sum, m.sinceS = view{}, 0
	m.next += 1 / p.MeterHz

	volts := quantised(v.volts*p.MeterGainV+p.MeterOffsetV+m.random.NormFloat64()*p.MeterNoiseV, p.MeterStepV)
	amps := quantised(v.amps*p.MeterGainA+p.MeterOffsetA+m.random.NormFloat64()*p.MeterNoiseA, p.MeterStepA)
	at := p.stamp(now + now*p.MeterClockPPM*1e-6 + p.MeterStartS + m.random.NormFloat64()*p.MeterJitterS)
	if dropped := m.random.Float64() < p.MeterDropped; dropped || now < p.MeterFromS {
		return
	}
	at = max(at, m.lastAt) // a logger stamps in order, however late
	m.lastAt = at
	m.rows = append(m.rows, captures.Sample{
		At: at, Volts: max(0, volts), Amps: amps,
		CC: [2]float64{math.NaN(), math.NaN()}, Line: len(m.rows) + 2,
	})
}

func quantised(x, q float64) float64 {
	return math.Round(x/q)*q + 0 // never a negative zero
}

// stamp rounds to what the log is written with: 0.1 ms, and the microsecond
// where rows come faster than 0.1 ms tells apart.
func (p *Parameters) stamp(s float64) time.Duration {
	return time.Duration(s * float64(time.Second)).Round(time.Duration(math.Pow10(9 - p.timeDigits())))
}

// timeDigits are the decimals of a time in seconds.
func (p *Parameters) timeDigits() int {
	if p.MeterHz > 1000 {
		return 6
	}
	return 4
}
