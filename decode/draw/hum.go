package draw

import "math"

// Hum is VBUS that swings at twice the frequency of the mains while a load draws: a
// source's bulk capacitor carries it from crest to crest no longer. No load and no contact
// knows the mains.
type Hum struct {
	StartS, EndS float64 // first and last window with it
	Hz           float64 // 100 or 120
	AmpV         float64 // largest amplitude of a window
	AtA          float64 // mean current there
	Windows      int     // of humS each
}

// Common practice, but for the frequencies of mains, 50 and 60 Hz.
const (
	humS      = 0.2    // a window: whole periods of both
	humRoundS = 1e-4   // clocks round
	humRowS   = 0.0025 // rows must lie as near to show three of a period
	humShare  = 0.025  // of VBUS: a sound source keeps within a few tenths of that
	humPower  = 0.5    // of all that VBUS moves by: a saw tooth has 0.6 in its fundamental
	humOhm    = 1.2    // less than that is what a swinging load takes from twice the leads' resistance
)

var humHz = [2]float64{100, 120}

// tone is a sum of a window at one frequency.
type tone struct{ re, im float64 }

func (t *tone) amplitude(n float64) float64 { return 2 * math.Hypot(t.re, t.im) / n }

// against is the part of a draw that is largest where VBUS is lowest: what a load does to it.
func (t *tone) against(volts tone, n float64) float64 {
	return max(0, -2*(t.re*volts.re+t.im*volts.im)/math.Hypot(volts.re, volts.im)/n)
}

// humFinder looks at one window after the other.
type humFinder struct {
	first        point // what stands is taken off: it leaks into both tones where a window is no whole period
	last         float64
	n            float64
	v, vv, a     float64
	volts, drawn [2]tone
	out          Hum
	valleys      valleys
}

func (f *humFinder) clone() finder {
	c := *f
	return &c
}

// add takes a sample with both quantities.
func (f *humFinder) add(p point, n *noise) {
	f.valleys.add(p, n)
	switch {
	case f.n > 0 && p.t-f.last > humRowS:
		f.n = 0
	case f.n > 0 && p.t-f.first.t >= humS-humRoundS:
		f.judge()
		f.n = 0
	}
	if f.n == 0 {
		*f = humFinder{first: p, out: f.out, valleys: f.valleys}
	}
	f.last = p.t
	f.n++
	f.v += p.v
	f.vv += p.v * p.v
	f.a += p.a
	if f.n == 1 {
		return
	}
	for i, hz := range humHz {
		sin, cos := math.Sincos(2 * math.Pi * hz * (p.t - f.first.t))
		v, a := p.v-f.first.v, p.a-f.first.a
		f.volts[i].re += v * cos
		f.volts[i].im += v * sin
		f.drawn[i].re += a * cos
		f.drawn[i].im += a * sin
	}
}

// judge ends a window.
func (f *humFinder) judge() {
	mean := f.v / f.n
	moves := f.vv/f.n - mean*mean
	for i, hz := range humHz {
		amp := f.volts[i].amplitude(f.n)
		if mean < onVolts || amp < humShare*mean || amp*amp/2 < humPower*moves || amp < humOhm*f.drawn[i].against(f.volts[i], f.n) {
			continue
		}
		if f.out.Windows == 0 || f.out.Hz != hz {
			f.out = Hum{StartS: f.first.t, Hz: hz}
		}
		f.out.Windows++
		f.out.EndS = f.last
		if amp > f.out.AmpV {
			f.out.AmpV, f.out.AtA = amp, f.a/f.n
		}
	}
}

// addChunk passes over VBUS that stands.
func (f *humFinder) addChunk(c *chunk, n *noise) {
	far := c.t1-c.t0 > humRowS*float64(c.n)
	if still := !far && f.valleys.still(c, n); far || still && c.maxV-c.minV < humShare*c.maxV {
		f.n = 0
		return
	}
	for _, p := range c.samples {
		f.add(p, n)
	}
}

// result leaves nil where VBUS never swung so.
func (f *humFinder) result(r *Result, _ *int) {
	r.Hum = f.valleys.hum()
	if f.out.Windows > 0 && (r.Hum == nil || f.out.Windows > r.Hum.Windows) {
		out := f.out
		r.Hum = &out
	}
}
