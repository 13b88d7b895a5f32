package bench

import (
	"math"
	"time"

	"portside/captures"
)

// meter is the inline meter: it looks at one end of the cable at its own rate
// and writes what its converter, its calibration and its file let through.
type meter struct {
	b                  *bench
	next               float64 // when the next row is due
	count              int
	sinceS             float64 // length of the running average
	sumVolts, sumAmps  float64
	lastVolts, lastAmp float64
	lastAt             time.Duration
	rows               []captures.Sample
}

func newMeter(b *bench) *meter { return &meter{b: b, next: b.uniform(0, 1) / b.p.MeterHz} }

// add carries one stage of a step into the running average.
func (m *meter) add(y *state, f *flows, w float64) {
	volts := y[nodePort]
	if m.b.p.Meter == AtSource || m.b.c.parted && m.b.p.ContactAtPort { // nothing flows then, and nothing is lost in the cable
		volts = y[nodeSource]
	}
	m.lastVolts, m.lastAmp = volts, f.cable
	m.sumVolts += w * volts
	m.sumAmps += w * f.cable
	m.sinceS += w
}

// read writes a row when one is due.
func (m *meter) read() {
	if m.b.now < m.next {
		return
	}
	p := &m.b.p
	volts, amps := m.lastVolts, m.lastAmp
	if p.MeterAverages && m.sinceS > 0 {
		volts, amps = m.sumVolts/m.sinceS, m.sumAmps/m.sinceS
	}
	m.sumVolts, m.sumAmps, m.sinceS = 0, 0, 0
	m.count++
	m.next += 1 / p.MeterHz

	volts = quantised(volts*p.MeterGainV+p.MeterOffsetV+m.b.random.NormFloat64()*p.MeterNoiseV, p.MeterStepV)
	amps = quantised(amps*p.MeterGainA+p.MeterOffsetA+m.b.random.NormFloat64()*p.MeterNoiseA, p.MeterStepA)
	at := milliseconds(m.b.now + p.MeterStartS + m.b.random.NormFloat64()*p.MeterJitterS)
	if dropped := m.b.random.Float64() < p.MeterDropped; dropped || m.b.now < p.MeterFromS {
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

// milliseconds rounds to what the log is written with: 0.1 ms.
func milliseconds(s float64) time.Duration {
	return time.Duration(s * float64(time.Second)).Round(100 * time.Microsecond)
}
