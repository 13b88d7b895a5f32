package draw

import (
	"math"
)

const (
	// floorA and floorV are the least noise any logging meter has: its class
	// shows 1 mA and 1 mV at best, common practice. Cuts below it are noise.
	floorA = 0.001
	floorV = 0.001

	localNoise    = 5.0 // the noise of the last stretch may raise that of the log this far
	madToSigma    = 1.4826022185056018
	mantissaBits  = 5
	bucketLog     = -30 // the first bucket is 2^-30, below any meter's step
	bucketMin     = 1.0 / (1 << -bucketLog)
	bucketBase    = (1023 + bucketLog) << mantissaBits // its bits as a float64
	bucketOctaves = 48
	buckets       = bucketOctaves << mantissaBits
)

// histogram counts magnitudes on a logarithmic scale, 32 buckets an octave
// from 2^-30 up, with the mean of each bucket, so that regular values come out
// exactly.
type histogram struct {
	count [buckets]uint32
	sum   [buckets]float64
	zero  int
	n     int
}

func (h *histogram) add(x float64) {
	h.n++
	if !(x >= bucketMin) {
		h.zero++
		return
	}
	i := int(math.Float64bits(x)>>(52-mantissaBits)) - bucketBase
	if i >= buckets {
		i = buckets - 1
	}
	h.count[i]++
	h.sum[i] += x
}

// median is the mean of the bucket that holds the middle.
func (h *histogram) median() float64 {
	left := h.n / 2
	if left < h.zero || h.n == 0 {
		return 0
	}
	left -= h.zero
	for i, c := range h.count {
		if left < int(c) {
			return h.sum[i] / float64(c)
		}
		left -= int(c)
	}
	return 0
}

// spread is the median absolute deviation from m.
func (h *histogram) spread(m float64) float64 {
	var d histogram
	d.zero, d.n = 0, h.n
	d.addMany(m, h.zero)
	for i, c := range h.count {
		if c > 0 {
			d.addMany(math.Abs(h.sum[i]/float64(c)-m), int(c))
		}
	}
	return d.median()
}

func (h *histogram) addMany(x float64, n int) {
	if x < bucketMin {
		h.zero += n
		return
	}
	i := min(int(math.Float64bits(x)>>(52-mantissaBits))-bucketBase, buckets-1)
	h.count[i] += uint32(n)
	h.sum[i] += x * float64(n)
}

// least is the smallest magnitude seen more than by accident.
func (h *histogram) least() float64 {
	need := uint32(max(1, min(3, (h.n-h.zero)/20)))
	for i, c := range h.count {
		if c >= need {
			return h.sum[i] / float64(c)
		}
	}
	return 0
}

// statistics is what is known of the log as a whole.
type statistics struct {
	n, withV, withA        int
	startS, endS           float64
	maxV, minV, maxA, minA float64
	lastV, lastA           float64
	interval, stepV, stepA histogram
	nearA                  histogram // of the last stretch only
}

func (s *statistics) add(p point) {
	if s.n == 0 {
		s.startS = p.t
	} else {
		s.interval.add(p.t - s.endS)
	}
	s.n++
	s.endS = p.t
	if p.v == p.v {
		if s.withV == 0 {
			s.maxV, s.minV = p.v, p.v
		} else {
			d := math.Abs(p.v - s.lastV)
			s.stepV.add(d)
		}
		s.maxV, s.minV = max(s.maxV, p.v), min(s.minV, p.v)
		s.lastV = p.v
		s.withV++
	}
	if p.a == p.a {
		if s.withA == 0 {
			s.maxA, s.minA = p.a, p.a
		} else {
			d := math.Abs(p.a - s.lastA)
			s.stepA.add(d)
			s.nearA.add(d)
		}
		s.maxA, s.minA = max(s.maxA, p.a), min(s.minA, p.a)
		s.lastA = p.a
		s.withA++
	}
}

// forget begins a new stretch of local noise.
func (s *statistics) forget() { s.nearA = histogram{} }

// sigma is the noise from first differences: 1.4826 times their median
// magnitude over the root of two (Rice 1984; Donoho & Johnstone 1994), never
// below what the resolution q leaves, q over the root of twelve (GUM).
func sigma(median, q, floor float64) float64 {
	return max(madToSigma*median/math.Sqrt2, q/math.Sqrt(12), floor)
}

func (s *statistics) noise() noise {
	q := s.stepA.least()
	all := sigma(s.stepA.median(), q, floorA)
	near := min(sigma(s.nearA.median(), q, floorA), localNoise*all)
	return noise{
		v:         sigma(s.stepV.median(), s.stepV.least(), floorV),
		a:         max(all, near),
		qa:        q,
		intervalS: s.interval.median(),
		count:     s.n,
	}
}

func (s *statistics) sampling(turned bool) Sampling {
	nan := math.NaN()
	out := Sampling{
		N: s.n, StartS: s.startS, EndS: s.endS, WithVoltage: s.withV, WithCurrent: s.withA,
		MaxV: nan, MinV: nan, MaxA: nan, MinA: nan,
	}
	if s.n > 1 {
		out.IntervalS = s.interval.median()
		out.JitterS = s.interval.spread(out.IntervalS)
	}
	if s.withV > 0 {
		out.MaxV, out.MinV = s.maxV, s.minV
		out.ResolutionV = s.stepV.least()
		out.NoiseV = sigma(s.stepV.median(), out.ResolutionV, 0)
	}
	if s.withA > 0 {
		out.MaxA, out.MinA = s.maxA, s.minA
		if turned {
			out.MaxA, out.MinA = -s.minA, -s.maxA
		}
		out.ResolutionA = s.stepA.least()
		out.NoiseA = sigma(s.stepA.median(), out.ResolutionA, 0)
	}
	return out
}
