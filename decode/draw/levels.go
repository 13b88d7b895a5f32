package draw

import (
	"math"
	"slices"
)

const (
	nominalBand = 0.08 // of the nominal: supply tolerance and a cable's drop
	sagBand     = 0.12 // a level once reached is held this far down: a bad cable sags, it does not change the contract
	rampShare   = 0.03 // deviation of VBUS that stands; a ramp through the band of a level has 0.16 over the root of 12
	edgeS       = 0.05 // of an edge within the band of one odd level: sources turn on and off in some ms to tens of ms. Common practice
	oddStep     = 0.1  // levels that fit no nominal are told apart in such steps
	oddBand     = 0.03
	oddSigmas   = 6.0  // of noise count as one,
	oddNoise    = 0.08 // unless they are more: such rows are on their way
)

// FiveFrom is VBUS of 5 V behind a worn cable: common practice.
const FiveFrom = 4.4

// FiveTo is above any 5 V source's window, where a cable alone takes as much: USB PD R3.2 V1.1 table 7.25
// ends at 5.5 V.
const FiveTo = 5.9

// Fixed reports a level at the voltage of a fixed contract.
func (l Level) Fixed() bool { return slices.Contains(nominals[:], l.NominalV) }

// FixedNear is the fixed voltage that lies within such a share of a voltage, 0 where none does.
func FixedNear(volts, within float64) float64 {
	for _, n := range nominals {
		if math.Abs(volts-n) <= within*n {
			return n
		}
	}
	return 0
}

// nominals are the voltages of fixed contracts, AVS included.
var nominals = [...]float64{5, 9, 12, 15, 20, 28, 36, 48}

// nominal is the level a voltage stands at: 0 for off, the nearest fixed
// voltage within 8 %, else the voltage in steps of 0.1 V.
func nominal(v float64) float64 {
	if v <= offVolts {
		return 0
	}
	best, off := 0.0, nominalBand
	for _, n := range nominals {
		if d := math.Abs(v-n) / n; d <= off {
			best, off = n, d
		}
	}
	if best > 0 {
		return best
	}
	return math.Round(v/oddStep) * oddStep
}

// band is the extent of voltages that belong to a level once it is reached, on a meter of such noise.
func band(n, noiseV float64) (low, high float64) {
	switch {
	case n == 0:
		return math.Inf(-1), offVolts
	case slices.Contains(nominals[:], n):
		return max(offVolts, min(n*(1-sagBand), n*0.95-cableDrop)), n * (1 + nominalBand)
	}
	d := max(1.5*oddStep, n*oddBand)
	if noise := oddSigmas * noiseV; noise <= n*oddNoise {
		d = max(d, noise)
	}
	return max(offVolts, n-d), n + d
}

// leveller cuts the log into runs of one VBUS level.
type leveller struct {
	open      Level
	low, high float64
	sumV      float64
	sumVV     float64
	sumA      float64
	nA        int
	lastT     float64
	firstV    float64
	lastV     float64
	topV      float64 // the highest so far, the last row left out
	has       bool
	ended     []Level // up to two levels whose neighbours are not known yet
	out       keep[Level]
}

func (l *leveller) init() {
	l.out.size = func(v Level) float64 { return v.EndS - v.StartS }
}

func (l *leveller) clone() leveller {
	c := *l
	c.ended = slices.Clone(l.ended)
	c.out = l.out.clone()
	return c
}

func (l *leveller) add(p point, n noise) {
	if !l.has || p.v < l.low || p.v > l.high {
		l.begin(p, n)
	}
	v := &l.open
	dt := 0.0
	if v.N > 0 {
		dt = p.t - l.lastT
		l.falls(l.lastV)
		l.topV = max(l.topV, l.lastV)
	} else {
		l.firstV, l.topV = p.v, p.v
	}
	l.lastV = p.v
	v.N++
	v.EndS = p.t
	l.sumV += p.v
	l.sumVV += p.v * p.v
	v.MinV, v.MaxV = min(v.MinV, p.v), max(v.MaxV, p.v)
	if p.a == p.a {
		l.sumA += p.a
		l.nA++
		v.MaxA = max(v.MaxA, p.a)
		if dt <= max(minGapS, gapFactor*n.intervalS) {
			v.ChargeC += p.a * dt
		}
	}
	l.lastT = p.t
}

// addChunk takes a chunk at once where all of it lies on the open level.
func (l *leveller) addChunk(c *chunk, n noise) {
	if !l.has || c.minV < l.low || c.maxV > l.high || c.t0-l.lastT > gapFactor*n.intervalS {
		for _, p := range c.samples {
			l.add(p, n)
		}
		return
	}
	v := &l.open
	l.topV = max(l.topV, l.lastV)
	l.falls(c.minV)
	l.topV = max(l.topV, c.maxV)
	v.N += c.n
	v.EndS = c.t1
	v.MinV, v.MaxV, v.MaxA = min(v.MinV, c.minV), max(v.MaxV, c.maxV), max(v.MaxA, c.maxA)
	v.ChargeC += c.chargeC
	l.sumV += c.sV
	l.sumVV += c.sVV
	l.sumA += c.sA
	l.nA += c.n
	l.lastT = c.t1
	l.lastV = c.samples[len(c.samples)-1].v
}

// falls takes a row, or the lowest of several, against the highest before it.
func (l *leveller) falls(v float64) { l.open.FallsV = max(l.open.FallsV, l.topV-v) }

func (l *leveller) begin(p point, n noise) {
	if l.has {
		l.close()
	}
	nom := nominal(p.v)
	l.low, l.high = band(nom, n.v)
	l.open = Level{StartS: p.t, NominalV: nom, MinV: p.v, MaxV: p.v, MaxA: math.Inf(-1)}
	l.sumV, l.sumVV, l.sumA, l.nA, l.has = 0, 0, 0, 0, true
}

func (l *leveller) closed() Level {
	v := l.open
	v.VoltageV = l.sumV / float64(v.N)
	v.SpreadV = l.spread()
	v.MeanA = math.NaN()
	if l.nA > 0 {
		v.MeanA = l.sumA / float64(l.nA)
	} else {
		v.MaxA = math.NaN()
	}
	return v
}

// spread leaves out the first row and the last, in part of which VBUS was on its way.
func (l *leveller) spread() float64 {
	if l.open.N < 4 {
		return deviation(l.open.N, l.sumV, l.sumVV)
	}
	return deviation(l.open.N-2, l.sumV-l.firstV-l.lastV, l.sumVV-l.firstV*l.firstV-l.lastV*l.lastV)
}

func (l *leveller) close() { l.settle(l.closed()) }

// settle takes a finished level. The one before it is dropped when it was only
// passed through, and joined when it is the same again.
func (l *leveller) settle(v Level) {
	l.ended = append(l.ended, v)
	for len(l.ended) >= 3 && passing(l.ended[len(l.ended)-3], l.ended[len(l.ended)-2], v) {
		l.ended = append(l.ended[:len(l.ended)-2], v)
	}
	if n := len(l.ended); n >= 2 && l.ended[n-2].NominalV == v.NominalV {
		l.ended = append(l.ended[:n-2], joined(l.ended[n-2], v))
	}
	if len(l.ended) > 3 {
		l.out.add(l.ended[0])
		l.ended = append(l.ended[:0], l.ended[1:]...)
	}
}

// passing reports a level in the middle that VBUS only moved through: one
// sample, a stretch that is not flat, or one as short as an edge at no fixed voltage,
// between its neighbours.
func passing(a, b, c Level) bool {
	between := (a.VoltageV < b.VoltageV && b.VoltageV < c.VoltageV) || (a.VoltageV > b.VoltageV && b.VoltageV > c.VoltageV)
	if !between {
		return false
	}
	flat := b.SpreadV <= rampShare*b.VoltageV
	edge := b.NominalV != 0 && !b.Fixed() && b.EndS-b.StartS < edgeS
	return b.N == 1 || edge || (!flat && b.EndS-b.StartS < passingS)
}

func joined(a, b Level) Level {
	n := float64(a.N + b.N)
	a.VoltageV = (a.VoltageV*float64(a.N) + b.VoltageV*float64(b.N)) / n
	a.MeanA = (a.MeanA*float64(a.N) + b.MeanA*float64(b.N)) / n
	a.EndS, a.N = b.EndS, a.N+b.N
	a.FallsV = max(a.FallsV, b.FallsV, a.MaxV-b.MinV)
	a.MinV, a.MaxV, a.MaxA = min(a.MinV, b.MinV), max(a.MaxV, b.MaxV), max(a.MaxA, b.MaxA)
	a.ChargeC += b.ChargeC
	return a
}

func (l *leveller) finish(left *int) []Level {
	if l.has {
		l.close()
	}
	for _, v := range l.ended {
		l.out.add(v)
	}
	l.ended = nil
	return l.out.take(left)
}
