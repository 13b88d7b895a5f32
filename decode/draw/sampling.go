package draw

import (
	"math"

	"portside/decode/series"
)

const (
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
	return h.quantile(0.5)
}

// quantile is the mean of the bucket that holds that part of all.
func (h *histogram) quantile(q float64) float64 {
	left := int(q * float64(h.n))
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

// statistics is what is known of the log as a whole.
type statistics struct {
	n, withV, withA        int
	startS, endS           float64
	maxV, minV, maxA, minA float64
	interval               histogram
}

func (s *statistics) add(p *point) {
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
		}
		s.maxV, s.minV = max(s.maxV, p.v), min(s.minV, p.v)
		s.withV++
	}
	if p.a == p.a {
		if s.withA == 0 {
			s.maxA, s.minA = p.a, p.a
		}
		s.maxA, s.minA = max(s.maxA, p.a), min(s.minA, p.a)
		s.withA++
	}
}

func (s *statistics) sampling(volts, amps *noiseMeter, turned bool) Sampling {
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
		out.ResolutionV = volts.step
		out.NoiseV = series.Floored(volts.blocks.median(), volts.step, 0)
	}
	if s.withA > 0 {
		out.MaxA, out.MinA = s.maxA, s.minA
		if turned {
			out.MaxA, out.MinA = -s.minA, -s.maxA
		}
		out.ResolutionA = amps.step
		out.NoiseA = series.Floored(amps.blocks.median(), amps.step, 0)
	}
	return out
}
