package line

import (
	"math"
	"time"

	"portside/pd"
)

// describe makes a frame of a reading.
func (r *receiver) describe(l lock, a *reading) *Frame {
	p := a.parser
	f := &Frame{
		Signal: r.signal, Good: a.reason == Whole, Reason: a.reason,
		Set: p.set, SetMatches: p.matches, PreambleBits: p.preamble(), Bits: len(p.bits),
	}
	f.Bytes, f.CRC, f.HasCRC = splitCRC(p.data, a.reason)
	if p.set.IsReset() || p.set == 0 {
		f.Bytes, f.HasCRC = nil, false
	}
	even := evenClock(r.edges, a.steps, 0, math.MaxInt)
	f.Measured = r.measure(a, even)
	f.Start = time.Duration(r.edges[l.edge])
	if p.setAt >= 0 {
		f.Start = even.timeOf(2 * float64(p.setAt-pd.PreambleBits))
	}
	last := min(a.end, len(r.edges)-1)
	f.End = time.Duration(r.edges[last])
	if f.Good {
		f.End = even.timeOf(2 * float64(len(p.bits)))
	}
	if r.pictures {
		f.Picture = r.picture(a)
	}
	return f
}

// picture keeps the bits of a frame. A bit whose edge was lost begins where
// the bits around it put it.
func (r *receiver) picture(a *reading) *Picture {
	p := a.parser
	first := a.steps[0].edge
	out := &Picture{Bits: append([]byte(nil), p.bits...), SetAt: p.setAt, High: r.rises == (first%2 == 0)}
	out.Starts = make([]time.Duration, 0, len(p.bits))
	halves, before := 0, a.steps[0]
	for _, s := range a.steps {
		was := halves
		halves += int(s.halves)
		for next := 2 * len(out.Starts); next <= halves && len(out.Starts) < len(p.bits); next = 2 * len(out.Starts) {
			from, to := r.edges[before.edge], r.edges[s.edge]
			at := to
			if halves > was {
				at = from + (to-from)*int64(next-was)/int64(halves-was)
			}
			out.Starts = append(out.Starts, time.Duration(at))
		}
		before = s
	}
	return out
}

// splitCRC parts the bytes of a packet whose EOP was read from its CRC.
func splitCRC(data []byte, reason Reason) (body []byte, crc [crcBytes]byte, ok bool) {
	n := len(data)
	if reason != Whole && reason != CRCWrong || n < crcBytes {
		return append([]byte(nil), data...), crc, false
	}
	copy(crc[:], data[n-crcBytes:])
	return append([]byte(nil), data[:n-crcBytes]...), crc, true
}

// straight is an even clock put through edges by least squares: half n of a
// bit since the lock lies at start + n*half.
type straight struct {
	start, half float64 // ns
	n           int     // edges
}

func (s straight) timeOf(half float64) time.Duration {
	return time.Duration(math.Round(s.start + half*s.half))
}

// evenClock fits the steps whose halves since the lock lie in [from, to].
func evenClock(edges []int64, steps []step, from, to int) straight {
	if len(steps) == 0 {
		return straight{start: math.NaN(), half: math.NaN()}
	}
	var n, sx, sy, sxx, sxy float64
	origin := edges[steps[0].edge]
	halves := 0
	for i := range steps {
		s := &steps[i]
		halves += int(s.halves)
		if halves < from {
			continue
		}
		if halves > to {
			break
		}
		x, y := float64(halves), float64(edges[s.edge]-origin)
		n++
		sx += x
		sy += y
		sxx += x * x
		sxy += x * y
	}
	half := (n*sxy - sx*sy) / (n*sxx - sx*sx)
	return straight{start: float64(origin) + (sy-half*sx)/n, half: half, n: int(n)}
}

// measure says how the edges of a frame lay.
func (r *receiver) measure(a *reading, even straight) Measured {
	m := Measured{
		BitRateHz:    1e9 / (2 * even.half),
		DriftPercent: r.drift(a),
		JitterUS:     jitterOf(a.steps),
		// In a preamble a pulse lasts 4/3 of half a bit on average.
		DutyPercent: 50 - 100*a.clock.skew/(edgeSpacing*a.clock.half),
		RestV:       r.rest.before(r.edges[a.steps[0].edge]),
	}
	m.DriftU = driftUncertainty(m.JitterUS, even.half)
	m.LowV, m.HighV = r.levels(a)
	return m
}

// driftUncertainty is that of a rate between two blocks of edges that scatter
// by jitter, in percent.
func driftUncertainty(jitterUS, half float64) float64 {
	const edges = 2 * blockBits / edgeSpacing
	return 100 * jitterUS * 1e3 * math.Sqrt(2/edges) / (2 * rateBits * half)
}

// jitterOf is the standard deviation of the edges about the tracked clock, in
// microseconds; the clock is settled after the preamble's lock.
func jitterOf(steps []step) float64 {
	var n, squares float64
	for i := min(len(steps), 2*lockEdges); i < len(steps); i++ {
		e := float64(steps[i].err)
		n++
		squares += e * e
	}
	if n == 0 {
		return math.NaN()
	}
	return math.Sqrt(squares/n) / 1e3
}

const (
	// rateBits is the window of the sliding mean rate, and the part of the
	// preamble it is compared with (pBitRate: USB PD R3.2 V1.1, table 5.18).
	rateBits = 32
	// blockBits are averaged at each end of the window, which takes most of the
	// sampling grid out of it.
	blockBits = 8
)

// drift is the largest deviation of the mean rate of 32 bits from that of the
// last 32 bits of preamble, in percent; NaN where there were too few bits.
func (r *receiver) drift(a *reading) float64 {
	p := a.parser
	if p.setAt < rateBits || len(p.bits) < p.setAt+2*blockBits {
		return math.NaN()
	}
	from := 2 * (p.setAt - rateBits)
	reference := evenClock(r.edges, a.steps, from, 2*p.setAt)
	var means [rateBits/blockBits + 1]float64 // of the edges' lateness, by block, the last ones
	var sum, n, worst float64
	blocks, halves := 0, 0
	for i := range a.steps {
		s := &a.steps[i]
		halves += int(s.halves)
		if halves < from {
			continue
		}
		for halves >= from+2*blockBits*(blocks+1) {
			if n == 0 {
				return math.NaN()
			}
			means[blocks%len(means)] = sum / n
			if blocks >= rateBits/blockBits {
				moved := means[blocks%len(means)] - means[(blocks+1)%len(means)]
				worst = max(worst, math.Abs(moved)/(2*rateBits*reference.half))
			}
			sum, n = 0, 0
			blocks++
		}
		sum += float64(r.edges[s.edge]) - reference.start - float64(halves)*reference.half
		n++
	}
	return 100 * worst
}

// levels are the mean plateaus of the frame in volts, from whole bits without an
// edge; NaN without voltages.
func (r *receiver) levels(a *reading) (low, high float64) {
	var sums, counts [2]float64
	for _, s := range a.steps[min(1, len(a.steps)):] {
		v := float64(r.plateaus[s.edge].volts)
		if s.halves != 2 || math.IsNaN(v) {
			continue
		}
		was := 0 // the plateau before an edge that falls was high
		if r.rises != (s.edge%2 == 0) {
			was = 1
		}
		sums[was] += v
		counts[was]++
	}
	return sums[0] / counts[0], sums[1] / counts[1]
}
